"""The identity of a request, and the one line it leaves in the log."""

from collections.abc import Callable
from uuid import UUID, uuid4

import structlog
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django_structlog.middlewares import RequestMiddleware

from config.http.problems import answer
from doors.api.problems import ProblemError
from doors.api.sources import source_address


class RequestIdMiddleware:
    """Every request has an id, a UUID, and its answer says it in X-Request-Id.

    The caller's own is kept where it is a UUID; anything else is replaced, since it would go into
    logs and error bodies.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, with the id on the request for all further in and on the answer."""
        given = request.META.get(
            "HTTP_X_REQUEST_ID", ""
        )  # `request.headers` would keep the old one
        request_id = str(_as_uuid(given) or uuid4())
        request.META["HTTP_X_REQUEST_ID"] = request_id
        response = self.get_response(request)
        response.headers["X-Request-Id"] = request_id
        return response


class HeaderLimitMiddleware:
    """Refuses a request whose head is larger than any honest one."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, or say that the head is too large."""
        line = len(request.get_full_path())
        head = sum(len(name) + len(value) + 4 for name, value in request.headers.items())
        if line + head > settings.LONGEST_HEADERS:
            detail = f"Address and headers together hold at most {settings.LONGEST_HEADERS} bytes."
            return answer(request, ProblemError("head_too_large", detail))
        return self.get_response(request)


class RequestLogMiddleware(RequestMiddleware):
    """Logs method, route and answer of each request; never a query, a body or a secret link."""

    @classmethod
    def bind_ip(cls, request: HttpRequest) -> None:
        """Name the address that our own proxies saw; the framework's would believe the caller."""
        structlog.contextvars.bind_contextvars(ip=source_address(request))

    @staticmethod
    def format_request(request: HttpRequest) -> str:
        """Name the route with its ids; other parts of a path may be secrets and stay out."""
        match = request.resolver_match
        if match is None:
            return str(request.method)
        route = f"/{match.route}"
        for name, value in match.kwargs.items():
            if isinstance(value, UUID):
                route = route.replace(f"<uuid:{name}>", str(value))
        return f"{request.method} {route}"


def _as_uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
