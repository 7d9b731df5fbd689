"""Files going in and out: bytes as they are, with their digest by RFC 9530."""

from __future__ import annotations

import binascii
import hashlib
import re
from base64 import b64decode, b64encode
from collections.abc import Mapping
from typing import IO, Any

from django.http import HttpRequest, HttpResponse
from rest_framework.parsers import BaseParser, MultiPartParser
from rest_framework.request import Request

from doors.api.problems import At, ProblemError

DIGEST = "Content-Digest"
_SHA256 = re.compile(r"[0-9a-f]{64}", re.ASCII)
_DIGEST = re.compile(r"(?:^|[ ,])sha-256=:([A-Za-z0-9+/=]{44}):", re.ASCII)
MULTIPART = "multipart/form-data"
PART = "file"
_ENVELOPE = 10_000  # bytes: what multipart/form-data puts around a file


def content_digest(sha256: str) -> str:
    """The header of RFC 9530: the digest in base64 between colons."""
    return f"sha-256=:{b64encode(bytes.fromhex(sha256)).decode()}:"


def told_digest(request: Request) -> str | None:
    """Return the SHA-256, in hex, that the sender says the body has; None where they say none."""
    given = request.headers.get(DIGEST)
    if given is None:
        return None
    found = _DIGEST.search(given)
    try:
        digest = b64decode(found[1], validate=True).hex() if found else ""
    except binascii.Error:
        digest = ""
    if not _SHA256.fullmatch(digest):
        detail = f"{DIGEST} holds sha-256=:<base64>:, as RFC 9530 says."
        raise ProblemError("malformed_request", detail)
    return digest


def read_large_body(request: HttpRequest, largest: int) -> None:
    """Read a body that may be larger than JSON may; refuse one of more than `largest` bytes."""
    read = request.read(largest + _ENVELOPE + 1)
    if len(read) > largest + _ENVELOPE:
        raise ProblemError("too_large", f"A body sent here holds at most {largest} bytes.")
    request._body = read  # noqa: SLF001 (where `body` keeps it)


def file_response(content: bytes, *, media_type: str, name: str) -> HttpResponse:
    """Answer bytes for keeping, never for a browser to open as a page."""
    response = HttpResponse(content, content_type=media_type)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response[DIGEST] = content_digest(hashlib.sha256(content).hexdigest())
    return response


class FileParser(BaseParser):
    """Reads a body that is a file: the bytes themselves, or one part of multipart/form-data.

    `takes` of the view are the kinds it reads, `largest_body` how many bytes. Answers
    `{"content", "media_type"}`.
    """

    media_type = "*/*"

    def parse(
        self,
        stream: IO[bytes],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> dict[str, Any]:
        """Return the bytes and what the sender says they are."""
        context = dict(parser_context or {})
        view = context["view"]
        plain = (media_type or "").partition(";")[0].strip().lower()
        if plain == MULTIPART:
            plain, content = _only_part(stream, media_type, context)
        else:
            content = stream.read()
        if len(content) > view.largest_body:
            raise ProblemError("too_large", f"A file holds at most {view.largest_body} bytes.")
        if plain not in view.takes:
            among = ", ".join(view.takes)
            raise ProblemError("unsupported_media_type", f"Send one of {among}.")
        return {"content": content, "media_type": plain}


def _only_part(
    stream: IO[bytes], media_type: str | None, context: dict[str, Any]
) -> tuple[str, bytes]:
    read: Any = MultiPartParser().parse(stream, media_type, context)
    others = sorted({*read.data, *read.files} - {PART})
    if others or len(read.files.getlist(PART)) != 1:
        where = At("one_file", f"One file, in a part named {PART!r}, and nothing else.", "")
        raise ProblemError.in_fields("invalid_body", [where])
    part = read.files[PART]
    return str(part.content_type or "").lower(), part.read()
