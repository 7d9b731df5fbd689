"""Every kind of problem the API answers with: one table, of which the errors, the documentation
page and the OpenAPI document are made.

A body of the API that is an error is a problem document by RFC 9457. `code` is stable; `errors`
names each bad field by JSON Pointer, or each bad query parameter by name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import islice

from django.urls import reverse

MEDIA_TYPE = "application/problem+json"
MOST_ERRORS = 100


@dataclass(frozen=True, slots=True)
class ProblemType:
    """One kind of problem: what HTTP says, what it is called, and what a caller does about it."""

    code: str
    status: int
    title: str
    explanation: str


@dataclass(frozen=True, slots=True)
class At:
    """One mistake in a request: a `pointer` into the body, or the name of a query `parameter`."""

    code: str
    detail: str
    pointer: str | None = None
    parameter: str | None = None

    def as_json(self) -> dict[str, str]:
        """Return the members that stand in the document; the place comes first."""
        place = (
            {"pointer": self.pointer or ""}
            if self.parameter is None
            else {"parameter": self.parameter}
        )
        return {**place, "code": self.code, "detail": self.detail}


class ProblemError(Exception):
    """An error in the manners of a request, found before or beside the work itself."""

    def __init__(
        self,
        code: str,
        detail: str,
        *,
        errors: Iterable[At] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        """Refuse with the problem type called `code`, which stands in the table below."""
        self.problem = PROBLEMS[code]
        self.detail = detail
        self.errors = tuple(errors)
        self.headers = dict(headers or {})
        super().__init__(detail)

    @classmethod
    def in_fields(cls, code: str, errors: Iterable[At]) -> ProblemError:
        """Refuse a request because of the fields named in `errors`, at least one."""
        found = tuple(islice(errors, MOST_ERRORS))  # more would answer a small body with a big one
        return cls(code, said_of(found), errors=found)


def said_of(errors: tuple[At, ...]) -> str:
    """Return the sentence that stands for all of `errors`."""
    first = errors[0]
    place = first.parameter if first.pointer is None else first.pointer or "the body"
    if len(errors) == 1:
        return f"{place}: {first.detail}"
    return f"{len(errors)} places cannot be accepted, the first is {place}: {first.detail}"


def document(
    problem: ProblemType, detail: str, *, instance: str, errors: Iterable[At] = ()
) -> dict[str, object]:
    """Return the body of a problem document; `instance` is the id of the request."""
    return {
        "type": f"{reverse('docs-problems')}#{problem.code}",
        "title": problem.title,
        "status": problem.status,
        "detail": detail,
        "instance": instance,
        "code": problem.code,
        "errors": [error.as_json() for error in errors],
    }


_TABLE = (
    # 400: cannot be read, or has the wrong shape
    ("malformed_request", 400, "The request cannot be read", (
        "Something before the body is wrong: a header, the host or the address.")),
    ("malformed_json", 400, "The body is not strict JSON", (
        "The body must be one JSON object in UTF-8, without repeated names, NaN or Infinity, NUL "
        "or unpaired surrogates, and at most 32 levels deep. `errors` points at the place where "
        "it can be named. Nothing was stored.")),
    ("invalid_body", 400, "The body has the wrong shape", (
        "A field is missing, unknown, or not of its kind. `errors` names each one with a JSON "
        "Pointer. Nothing was stored.")),
    ("unknown_parameter", 400, "Unknown query parameter", (
        "The operation does not know a parameter of the query. It is refused rather than ignored,"
        " so that a misspelt filter never returns too much.")),
    ("invalid_parameter", 400, "A query parameter cannot be accepted", (
        "The value of a parameter is not of its kind or is out of range; it is never clamped. A "
        "page holds 1 to 200 rows.")),
    ("cursor_invalid", 400, "This cursor does not belong here", (
        "A cursor is good for the list, filters and order it was given for, and for the "
        "organization that got it. Follow `next` as it is, or begin again without a cursor.")),
    ("idempotency_key_missing", 400, "An Idempotency-Key is required", (
        "This operation must be safe to repeat. Send the header `Idempotency-Key` with a value of"
        " your own, new for each thing recorded and the same for each repetition.")),
    ("idempotency_key_invalid", 400, "The Idempotency-Key cannot be used", (
        "The value is a quoted string or a bare word of 1 to 255 printable ASCII characters.")),
    # who is asking
    ("unauthenticated", 401, "A valid key is required", (
        "Send `Authorization: Bearer` and your key. Unknown, expired and revoked keys are "
        "answered alike.")),
    ("scope_missing", 403, "The key does not reach this far", (
        "The key is valid and lacks the scope that `detail` names. Ask your administrator for a "
        "key that has it.")),
    ("capability_missing", 403, "Not a deed of this kind of organization", (
        "Only organizations with the capability that `detail` names may do this.")),
    ("not_allowed", 403, "Not allowed here", (
        "You see the thing, but your organization may not do this to it: for instance, no grant "
        "of the owner covers the action today.")),
    # what is asked for
    ("not_found", 404, "Nothing here", (
        "There is nothing by this address, or nothing that your organization may see; the two are"
        " never told apart. Addresses have no slash at the end.")),
    ("method_not_allowed", 405, "This address does not take that method", (
        "The header `Allow` lists what it takes.")),
    ("not_acceptable", 406, "No such representation", (
        "The API answers in application/json. Send no `Accept`, or one that admits it.")),
    # a clash with what stands
    ("already_exists", 409, "It stands already", (
        "Something of this name or reference exists; references of your own are unique for ever.")),
    ("wrong_state", 409, "Not in this state", (
        "The thing is not in a state in which this can be done. Read it again and look at its "
        "state.")),
    ("last_administrator", 409, "The last one who can let others in", (
        "Without this key or member nobody could ever be let in again. Make another administrator,"
        " or another key with `keys:write`, first.")),
    ("request_in_progress", 409, "The same request is under way", (
        "A request with this Idempotency-Key is being worked on. Repeat it after the time that "
        "`Retry-After` gives.")),
    # whoever changes a thing says which version they saw
    ("precondition_failed", 412, "It has changed since you read it", (
        "`If-Match` names another version than the one that stands. Read the thing again, look at "
        "what changed, and send your change with its new ETag. Nothing was stored.")),
    ("precondition_required", 428, "Say which version you change", (
        "A change needs the header `If-Match` with the ETag of the version you have read, so that "
        "nobody overwrites what they have not seen.")),
    # how it was sent
    ("too_large", 413, "The body is too large", (
        "A JSON body holds at most 1 MB, one that may hold raw traces 5 MB; `detail` gives the "
        "limit in bytes. Send more records in several requests.")),
    ("unsupported_media_type", 415, "Not a kind of body that is read here", (
        "Send `Content-Type: application/json`, uncompressed; a change by PATCH may also be sent "
        "as `application/merge-patch+json`.")),
    # understood, and refused by a rule
    ("not_acceptable_by_rules", 422, "Refused by the rules library", (
        "The body has the right shape, and says something that cannot be judged. `errors` names "
        "each place and the reason. Nothing was stored.")),
    ("refused", 422, "Refused", (
        "The request was understood, and a rule of the work forbids it; `detail` says which. "
        "Nothing was stored.")),
    ("invitation_invalid", 422, "This invitation cannot be used", (
        "It is unknown, used, expired, withdrawn, or not for you; which of these is never told. "
        "Ask whoever invited you for a new one.")),
    ("in_the_future", 422, "Said to have happened in the future", (
        "A visit, a reading or a repair cannot have happened after now. Look at the clock and the"
        " offset of the device. Nothing was stored.")),
    ("idempotency_key_reused", 422, "This Idempotency-Key was used for another body", (
        "The first request with this key was another one, and its answer stands. Give a new thing"
        " a new key.")),
    # not now
    ("too_many_requests", 429, "Too many requests", (
        "Wait for the time that `Retry-After` gives.")),
    ("head_too_large", 431, "Address and headers are too large", (
        "The address and the headers of a request together hold at most 16 kB.")),
    ("internal_error", 500, "Something failed on our side", (
        "Nothing was stored. The failure is in our log under the id that `instance` holds; "
        "repeating the request with the same Idempotency-Key is safe.")),
    ("unavailable", 503, "Not just now", (
        "The service, or its database, cannot do this at the moment. Nothing was stored; repeat "
        "it after the time that `Retry-After` gives.")),
)  # fmt: skip

PROBLEMS: Mapping[str, ProblemType] = {row[0]: ProblemType(*row) for row in _TABLE}
