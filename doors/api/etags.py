"""Nobody overwrites what they have not seen: `ETag`, `If-Match`, `If-None-Match` (RFC 9110, 6585).

A thing that may be changed has a `version`, which rises with each change, and the strong tag
`"v<version>"`. Whoever changes it says in `If-Match` which version they changed; the service
compares in the very UPDATE that writes. What has no version bears the digest of its body.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from typing import Any, TypeAlias

from django.http import HttpResponse
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.problems import ProblemError

Versions: TypeAlias = "frozenset[int] | None"  # None: whichever stands

CONDITIONAL = frozenset({"PUT", "PATCH", "DELETE"})
_TAG = r'(?:W/)?"[!#-~\u0080-\u00ff]*"'
_LIST = re.compile(rf"[ \t]*{_TAG}[ \t]*(?:,[ \t]*(?:{_TAG})?[ \t]*)*")
_VERSION = re.compile(r'"v(0|[1-9][0-9]{0,8})"', re.ASCII)
KEPT_UNMODIFIED = ("Cache-Control", "ETag", "Vary")


def entity_tag(version: int) -> str:
    """Return the strong tag of a version."""
    return f'"v{version}"'


def expected_versions(request: Request) -> Versions:
    """Return the versions that `If-Match` admits; None where it admits whichever stands.

    Without the header the request is refused (428). A weak tag, or one that no version bears,
    admits nothing: the change is then refused as stale (412) where the thing is visible.
    """
    given = request.headers.get("If-Match")
    if given is None:
        raise ProblemError(
            "precondition_required", "Send the header If-Match with the ETag you have read."
        )
    tags = _tags(given, "If-Match")
    if tags is None:
        return None
    return frozenset(int(found[1]) for tag in tags if (found := _VERSION.fullmatch(tag)))


def tagged(row: Mapping[str, Any], *, status: int = 200, **headers: str) -> Response:
    """Answer a thing with the tag of its `version`, on which all that it says must depend."""
    return Response(row, status=status, headers={"ETag": entity_tag(row["version"]), **headers})


def unless_known(request: Request, answer: HttpResponse) -> HttpResponse:
    """Return 304 in place of an answer that the caller says it has; else the answer, tagged."""
    if "ETag" not in answer:
        answer["ETag"] = f'"{hashlib.sha256(answer.content).hexdigest()}"'
    given = request.headers.get("If-None-Match")
    if given is None:
        return answer
    tags = _tags(given, "If-None-Match")
    known = {tag.removeprefix("W/") for tag in tags or ()}
    if tags is not None and answer["ETag"].removeprefix("W/") not in known:
        return answer
    kept = {name: answer[name] for name in KEPT_UNMODIFIED if name in answer}
    return HttpResponse(status=304, headers=kept)


def _tags(given: str, header: str) -> list[str] | None:
    """Return the tags of a header as written; None for `*`."""
    if given.strip() == "*":
        return None
    if not _LIST.fullmatch(given):
        raise ProblemError(
            "malformed_request", f'{header} is * or a list of tags, each in quotes, as "v3".'
        )
    return re.findall(_TAG, given)
