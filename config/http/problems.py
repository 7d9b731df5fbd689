"""The one place where an error becomes an answer: application/problem+json, by RFC 9457.

DRF calls `problem_response` for what is raised in a view, Django calls the handlers for what never
reached one. What is not understood here stays an error: it is logged and answered 500, without a
word of what it was.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import orjson
from django.core.exceptions import PermissionDenied, RequestDataTooBig, SuspiciousOperation
from django.db import IntegrityError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, UnreadablePostError
from rest_framework import exceptions
from rest_framework.request import Request
from rest_framework.settings import api_settings

from config.http.budgets import failed_authentication
from doors.api.authentication import TokenFailed
from doors.api.problems import (
    MEDIA_TYPE,
    At,
    ProblemError,
    document,
)
from doors.errors import NotAllowedError, NotVisibleError, ServiceError
from rules.errors import DataError, InputError, RuleError, escaped

CHALLENGE = 'Bearer realm="doors"'
RETRY_SOON = {"Retry-After": "1"}
# What the rules library finds wrong with the shape of an input, not with what it says.
SHAPE_CODES = {
    "required",
    "not_a_number",
    "unknown_unit",
    "too_long",
    "missing",
    "unknown_key",
    "wrong_type",
}
CONFLICTS = {"23505", "23P01"}  # SQLSTATE: unique_violation, exclusion_violation


def problem_response(exc: Exception, context: Mapping[str, Any]) -> HttpResponse | None:
    """Return the answer for what was raised in a view; None leaves it to Django as a failure."""
    if isinstance(exc, exceptions.AuthenticationFailed):
        exc = _counted(context["request"], exc)
    found = as_problem(exc)
    return None if found is None else answer(context["request"], found)


def _counted(request: Request, exc: exceptions.AuthenticationFailed) -> Exception:
    """Return what a failed authentication comes to: itself, or 429 where there were too many."""
    try:
        failed_authentication(request)
    except ProblemError as refused:
        return refused
    return exc


def as_problem(exc: Exception) -> ProblemError | None:
    """Return `exc` as a problem of the table; None for what nobody foresaw."""
    match exc:
        case ProblemError():
            return exc
        case ServiceError():
            errors = [At(error.code, error.detail, error.pointer) for error in exc.errors]
            headers = RETRY_SOON if exc.kind == "unavailable" else None
            return ProblemError(exc.code, exc.detail, errors=errors, headers=headers)
        case RuleError():
            return _of_rules(exc)
        case exceptions.ValidationError():
            return ProblemError.in_fields("invalid_body", in_body(exc.detail))
        case exceptions.APIException():
            return _of_framework(exc)
        case IntegrityError():
            return _of_clash(exc)
        case OperationalError():
            return ProblemError("unavailable", "The database did not answer.", headers=RETRY_SOON)
    return _of_django(exc)


def in_body(detail: Any, pointer: str = "") -> Iterator[At]:
    """Yield each error of a serializer with the JSON Pointer of its place, however deep."""
    if isinstance(detail, Mapping):
        for key, inner in detail.items():
            same_place = key == api_settings.NON_FIELD_ERRORS_KEY
            yield from in_body(inner, pointer if same_place else f"{pointer}/{escaped(key)}")
    elif isinstance(detail, list):
        for index, inner in enumerate(detail):
            here = pointer if isinstance(inner, str) else f"{pointer}/{index}"
            yield from in_body(inner, here)
    else:
        code = getattr(detail, "code", "invalid")
        yield At("missing" if code == "required" else code, str(detail), pointer)


def _of_rules(exc: RuleError) -> ProblemError:
    if not isinstance(exc, InputError | DataError):
        return ProblemError("not_acceptable_by_rules", str(exc))
    errors = [At(problem.code, problem.message, problem.pointer) for problem in exc.problems]
    shape = all(error.code in SHAPE_CODES for error in errors)
    return ProblemError.in_fields("invalid_body" if shape else "not_acceptable_by_rules", errors)


def _of_framework(exc: exceptions.APIException) -> ProblemError | None:
    match exc:
        case exceptions.NotAuthenticated() | exceptions.AuthenticationFailed():
            ended = ', error="invalid_token"' if isinstance(exc, TokenFailed) else ""
            return ProblemError(
                "unauthenticated",
                "Send a valid key: `Authorization: Bearer <key>`.",
                headers={"WWW-Authenticate": CHALLENGE + ended},
            )
        case exceptions.Throttled():
            wait: float | None = getattr(exc, "wait", None)
            headers = {} if wait is None else {"Retry-After": f"{wait:.0f}"}
            return ProblemError("too_many_requests", "Wait before you ask again.", headers=headers)
        case exceptions.PermissionDenied():
            return ProblemError("not_allowed", NotAllowedError.detail)
        case exceptions.NotFound():
            return ProblemError("not_found", NotVisibleError.detail)
    code = _BY_STATUS.get(exc.status_code)
    return None if code is None else ProblemError(code, str(exc.detail))


_BY_STATUS = {
    400: "malformed_request",
    405: "method_not_allowed",
    406: "not_acceptable",
    415: "unsupported_media_type",
}


def _of_django(exc: Exception) -> ProblemError | None:
    match exc:
        case Http404():
            return ProblemError("not_found", NotVisibleError.detail)
        case PermissionDenied():
            return ProblemError("not_allowed", NotAllowedError.detail)
        case RequestDataTooBig():
            return ProblemError("too_large", "The body is larger than 1 MB.")
        case SuspiciousOperation() | UnreadablePostError():
            return ProblemError("malformed_request", "The request cannot be read.")
    return None


def _of_clash(exc: IntegrityError) -> ProblemError | None:
    """Return 409 where a unique or exclusion constraint refused; any other is a fault of ours."""
    cause = exc.__cause__
    sqlstate = getattr(cause, "sqlstate", None)
    sqlite_name = getattr(cause, "sqlite_errorname", "")
    if sqlstate in CONFLICTS or sqlite_name.endswith(("_UNIQUE", "_PRIMARYKEY")):
        return ProblemError("already_exists", "Something of this name or reference stands already.")
    return None


# --- as an answer ------------------------------------------------------------------------------


def answer(request: HttpRequest, error: ProblemError) -> HttpResponse:
    """Return the problem document for `error`."""
    body = document(
        error.problem,
        error.detail,
        instance=f"urn:uuid:{request.META['HTTP_X_REQUEST_ID']}",
        errors=error.errors,
    )
    return HttpResponse(
        orjson.dumps(body),
        status=error.problem.status,
        content_type=MEDIA_TYPE,
        headers={"Cache-Control": "no-store", **error.headers},
    )


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer what Django finds suspicious: a foreign host, a body that is too large."""
    found = as_problem(exception)
    return answer(
        request, found or ProblemError("malformed_request", "The request cannot be read.")
    )


def permission_denied(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer a refusal raised outside the API."""
    return answer(request, ProblemError("not_allowed", NotAllowedError.detail))


def page_not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer an address that is no route, in the words of a thing that is not visible."""
    return answer(request, ProblemError("not_found", NotVisibleError.detail))


def server_error(request: HttpRequest) -> HttpResponse:
    """Answer a failure: its id and nothing else."""
    return answer(
        request,
        ProblemError("internal_error", "The failure is logged under the id of this request."),
    )


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Answer a form that was not sent from a page of ours."""
    return answer(
        request, ProblemError("not_allowed", "Send this form from its page, with cookies allowed.")
    )
