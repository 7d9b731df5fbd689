"""The same request twice has one effect and one answer: the header Idempotency-Key.

The first answer is stored in the transaction of the work itself, so either both stand or neither.
A key belongs to an organization and an address, not to the API key that sent it: a repetition
after the API key was renewed finds its answer.
"""

from __future__ import annotations

import functools
import hashlib
import json
import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any, Concatenate, Literal, ParamSpec, TypeVar

from django.db import connection
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from doors.api.problems import At, ProblemError
from doors.models import Replay
from doors.tenancy import acting_organization, current

HEADER = "Idempotency-Key"
REPLAYED = "Idempotency-Replayed"
LONGEST_KEY = 255
KEPT_HEADERS = ("Content-Type", "ETag", "Link", "Location", "Retry-After")

_QUOTED = re.compile(r'"((?:[ !#-\[\]-~]|\\["\\]){1,255})"', re.ASCII)
_BARE = re.compile(r"[!#-+\--\[\]-~]{1,255}", re.ASCII)  # printable, but no space " , or backslash
_WRITTEN = re.compile(r"[ -~]{1,255}", re.ASCII)
KEY_PATTERN = f"^(?:{_QUOTED.pattern}|{_BARE.pattern})$"

View = TypeVar("View", bound=TenantView)
Rest = ParamSpec("Rest")
Handler = Callable[Concatenate[View, Request, Rest], HttpResponseBase]
ToldApart = Callable[[Any, dict[str, Any]], tuple[str, list[At]]]


def idempotent(
    *, required: bool, told_apart: ToldApart | None = None, beside: Collection[str] = ()
) -> Callable[[Handler[View, Rest]], Handler[View, Rest]]:
    """Make a POST handler safe to repeat; with `required`, refuse a request without a key.

    Only an answer of success is kept: a refusal stored nothing, so repeating it is harmless.
    `told_apart` answers, for another body under a key and the answer kept, what to do about it
    and where the two differ. What stands `beside` the content, by these names in the body, may
    be another in a repetition.
    """

    def decorate(handler: Handler[View, Rest]) -> Handler[View, Rest]:
        @functools.wraps(handler)
        def once(
            view: View, request: Request, *args: Rest.args, **kwargs: Rest.kwargs
        ) -> HttpResponseBase:
            key = presented_key(request, required=required)
            if key is None:
                return handler(view, request, *args, **kwargs)
            return answered_once(
                view,
                Attempt(request.path, key, without(request.data, beside), told_apart),
                lambda: handler(view, request, *args, **kwargs),
            )

        once.idempotency_key = "required" if required else "optional"  # type: ignore[attr-defined]
        return once

    return decorate


@dataclass(frozen=True, slots=True)
class Attempt:
    """A request as far as another one may be its repetition: where, under which key, with what."""

    route: str
    key: str
    content: Any
    told_apart: ToldApart | None = None

    @property
    def fingerprint(self) -> str:
        """A digest of what was sent, however its JSON was written."""
        exact = {"sort_keys": True, "separators": (",", ":")}
        text = json.dumps(self.content, default=lambda value: {"": str(value)}, **exact)  # type: ignore[arg-type]
        return hashlib.sha256(text.encode()).hexdigest()


def without(content: Any, names: Collection[str]) -> Any:
    """A body without what stands beside its content; anything but an object as it is."""
    if not names or not isinstance(content, Mapping):
        return content
    return {name: value for name, value in content.items() if name not in names}


def answered_once(
    view: TenantView, attempt: Attempt, work: Callable[[], HttpResponseBase]
) -> HttpResponseBase:
    """The answer to an attempt: the first one again, or that of the work, kept where it is one of
    success. To be called within the transaction of the work.
    """
    _claim(attempt)
    kept = Replay.objects.filter(route=attempt.route, key=attempt.key).first()
    if kept is None:
        return _keep(view, work(), attempt)
    if kept.fingerprint != attempt.fingerprint:
        raise _reused(attempt, kept)
    return _again(kept)


def idempotency_of(handler: object) -> Literal["required", "optional"] | None:
    """Tell what a handler asks of the Idempotency-Key; None where it knows no such header."""
    found: Literal["required", "optional"] | None = getattr(handler, "idempotency_key", None)
    return found


def presented_key(request: Request, *, required: bool) -> str | None:
    """Return the key, freed of its quotes; None where there is none and none is required."""
    header = request.headers.get(HEADER)
    if header is None:
        if required:
            raise ProblemError("idempotency_key_missing", f"Send the header {HEADER}.")
        return None
    quoted = _QUOTED.fullmatch(header)
    key = re.sub(r"\\(.)", r"\1", quoted[1]) if quoted else header
    if not quoted and not _BARE.fullmatch(header):
        raise ProblemError(
            "idempotency_key_invalid",
            f"{HEADER} is a quoted string or a bare word of 1 to {LONGEST_KEY} characters.",
        )
    return key


def written_key(key: object) -> str:
    """A key that stands in a body, without quotes of its own."""
    if not isinstance(key, str) or not _WRITTEN.fullmatch(key):
        raise ProblemError(
            "idempotency_key_invalid",
            f"A key is a text of 1 to {LONGEST_KEY} printable ASCII characters.",
        )
    return key


def _claim(attempt: Attempt) -> None:
    """Refuse where the same request is under way; held until this transaction ends.

    SQLite needs no claim: whoever writes is alone from the first statement on.
    """
    if connection.vendor != "postgresql":
        return
    name = f"{acting_organization()}\n{attempt.route}\n{attempt.key}".encode()
    number = int.from_bytes(hashlib.sha256(name).digest()[:8], signed=True)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_xact_lock(%s)", [number])
        (claimed,) = cursor.fetchone()
    if not claimed:
        raise ProblemError(
            "request_in_progress",
            f"A request with this {HEADER} is being worked on.",
            headers={"Retry-After": "1"},
        )


def _reused(attempt: Attempt, kept: Replay) -> ProblemError:
    detail, errors = f"This {HEADER} stands for a request with another body.", list[At]()
    if attempt.told_apart is not None and isinstance(attempt.content, Mapping):
        words, errors = attempt.told_apart(attempt.content, json.loads(kept.body))
        detail = f"{detail} {words}"
    return ProblemError("idempotency_key_reused", detail, errors=errors)


def _again(kept: Replay) -> HttpResponse:
    return HttpResponse(kept.body, status=kept.status, headers={**kept.headers, REPLAYED: "true"})


def _keep(view: TenantView, response: HttpResponseBase, attempt: Attempt) -> HttpResponseBase:
    """Store an answer of success beside the work that it speaks of."""
    rendered: Any = view.render(response) if isinstance(response, Response) else response
    if 200 <= rendered.status_code < 300:  # noqa: PLR2004
        Replay.objects.create(
            organization_id=acting_organization(),
            route=attempt.route,
            key=attempt.key,
            fingerprint=attempt.fingerprint,
            status=rendered.status_code,
            headers={name: rendered[name] for name in KEPT_HEADERS if name in rendered},
            body=rendered.content.decode(),
            created_at=current().now,
        )
    return rendered
