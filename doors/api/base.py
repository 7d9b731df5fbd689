"""The views that the API is made of: one key, one organization, one transaction each time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from typing import Any, ClassVar, TypeVar, cast

from django.db.models import Model, QuerySet
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils.cache import patch_vary_headers
from drf_spectacular.utils import OpenApiParameter
from rest_framework.generics import GenericAPIView
from rest_framework.parsers import BaseParser
from rest_framework.permissions import SAFE_METHODS
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.deprecations import Deprecation
from doors.api.etags import CONDITIONAL, Versions, expected_versions, unless_known
from doors.api.files import read_large_body
from doors.api.paging import Entry, Listed, Page, read_merged_page, read_page
from doors.api.patches import MEDIA_TYPE as MERGE_PATCH
from doors.api.patches import MergePatchParser
from doors.api.queries import check_query
from doors.api.sources import source_address
from doors.errors import NotVisibleError
from doors.selectors.keys import KeyFound
from doors.tenancy import Context, acting_for

Row = TypeVar("Row", bound=Model)
Handler = Callable[..., HttpResponseBase]


class StrictView(GenericAPIView):
    """What every address of the API does: it takes the methods and parameters it declares.

    `parameters` are the query parameters each method knows, "get" standing for HEAD too; any
    other is refused. `media_types` are what its answers may be beside JSON. `budgets` names,
    by method, a policy of `settings.RATE_LIMITS` that is drawn on in place of the usual ones;
    `deprecations` the methods that are to end.
    """

    parameters: ClassVar[Mapping[str, Sequence[OpenApiParameter]]] = {}
    media_types: ClassVar[tuple[str, ...]] = ()
    budgets: ClassVar[Mapping[str, str]] = {}
    deprecations: ClassVar[Mapping[str, Deprecation]] = {}

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Refuse, in this order: an unknown caller, method, scope, address, parameter."""
        super().initial(request, *args, **kwargs)
        if any("\x00" in str(part) for part in kwargs.values()):
            raise NotVisibleError  # no database keeps one
        method = _asked(request)
        if method in self.deprecations:
            self.deprecations[method].note_use(f"{method} {type(self).__qualname__}")
        check_query(request.query_params, self.parameters.get(method, ()))

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        """Tell on every answer of a method that is to end that it is."""
        final = super().finalize_response(request, response, *args, **kwargs)
        if (ending := self.deprecations.get(_asked(request))) is not None:
            ending.announce(final)
        return final

    def perform_authentication(self, request: Request) -> None:
        """Find out who asks, and count it: what a caller may not do costs as much as the rest."""
        super().perform_authentication(request)
        super().check_throttles(request)

    def check_throttles(self, request: Request) -> None:
        """Do nothing where the framework would count: it has been counted."""

    def check_permissions(self, request: Request) -> None:
        """Refuse a method the address does not take, before its scope is looked at."""
        known = request.auth is not None or not self.authentication_classes
        if known and _handler(self, str(request.method)) is None:
            self.http_method_not_allowed(request)
        super().check_permissions(request)

    def get_parsers(self) -> list[BaseParser]:
        """Return the readers of a body; a change may also come as what it is, a merge patch."""
        found = super().get_parsers()
        asked = getattr(self.request, "method", None)  # the document is made without a request
        return [*found, MergePatchParser()] if asked == "PATCH" else found

    def options(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        """Name the methods in `Allow`, which stands on every answer, and what a change may be."""
        kinds = f"{MERGE_PATCH}, application/json"
        return Response(
            status=204, headers={"Accept-Patch": kinds} if hasattr(self, "patch") else {}
        )


class PublicView(StrictView):
    """An address for anybody, without a key: it looks up only what is meant to be known."""

    authentication_classes = ()
    permission_classes = ()


class TenantView(StrictView):
    """Authenticates, then runs the handler for the key's organization and renders what it returns.

    Handler and rendering share one context, and one transaction where anything is written: no
    query runs after it, and an error of any kind leaves nothing behind. A subclass states its
    `scope` (a noun: the read scope for GET and HEAD, the write scope for the rest) and the
    `capabilities` of which a writer needs one. A handler of PATCH, PUT or DELETE passes
    `expected`, the versions that `If-Match` admits, to its service. With `in_pieces` a handler
    opens a transaction of its own, by `acting`, for each piece of its work. `largest_body`, in
    bytes, is for a view whose body may be larger than JSON usually is: a file, a raw trace.
    Where `conditional` is False a reader always gets the body.
    """

    scope: ClassVar[str]
    capabilities: ClassVar[frozenset[str] | None] = None
    in_pieces: ClassVar[bool] = False
    largest_body: ClassVar[int | None] = None
    conditional: ClassVar[bool] = True
    expected: Versions

    @property
    def key(self) -> KeyFound:
        """The key that asks; there always is one inside a handler."""
        return cast("KeyFound", self.request.auth)

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Answer the request; the same steps as the framework's, with the wall around them."""
        self.args, self.kwargs = args, kwargs
        self.headers = self.default_response_headers
        self.request = self.initialize_request(request, *args, **kwargs)
        response: Any
        try:
            response = self._within_walls(self.request)
        except Exception as exc:  # noqa: BLE001 (the handler re-raises what it does not know)
            response = self.handle_exception(exc)
        self.response = self.finalize_response(self.request, response, *args, **kwargs)
        return self.response

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        """Keep a tenant's answer out of shared caches."""
        final = super().finalize_response(request, response, *args, **kwargs)
        final.headers.setdefault("Cache-Control", "private, no-cache")
        patch_vary_headers(final, ["Authorization"])
        return final

    def page(
        self, rows: QuerySet[Row], *, order: tuple[str, ...], row: Callable[[Row], object]
    ) -> Response:
        """Return one page of `rows`, each as `row` gives it.

        `order` names columns that are never null, "-" before one means descending, and ends with
        a unique one. The method's `parameters` must include `paging.PARAMETERS`.
        """
        found = read_page(self.request, rows, order=order, organization_id=self.key.organization_id)
        return _paged(found, row)

    def merged_page(
        self,
        following: Callable[[list[str] | None, int], list[Entry]],
        *,
        row: Callable[[Entry], object],
    ) -> Response:
        """Return one page of a list merged from several tables; see `read_merged_page`."""
        organization_id = self.key.organization_id
        found = read_merged_page(self.request, following, organization_id=organization_id)
        return _paged(found, row)

    def acting(self) -> AbstractContextManager[Context]:
        """Act for the key's organization, in one transaction where anything is written."""
        key = self.key
        return acting_for(
            key.organization_id,
            key_id=key.key_id,
            source_address=source_address(self.request._request),  # noqa: SLF001 - the plain one
            write=self.request.method not in SAFE_METHODS,
        )

    def prepare(self, request: Request) -> None:
        """Do what need not hold a transaction open: the body is read, and its sender waited for."""
        if self.largest_body is None:
            _ = request._request.body  # noqa: SLF001 (the framework's own limit holds)
        else:
            read_large_body(request._request, self.largest_body)  # noqa: SLF001

    def render(self, response: Response) -> HttpResponse:
        """Render `response` now, inside the transaction."""
        self.finalize_response(self.request, response, *self.args, **self.kwargs)
        return response.render()

    def _within_walls(self, request: Request) -> HttpResponseBase:
        self.initial(request, *self.args, **self.kwargs)
        method = str(request.method)
        handler = cast("Handler", _handler(self, method))  # there is one: `initial` has looked
        if method in CONDITIONAL:
            self.expected = expected_versions(request)
        self.prepare(request)
        with nullcontext() if self.in_pieces else self.acting():
            response: HttpResponseBase = handler(request, *self.args, **self.kwargs)
            rendered = self.render(response) if isinstance(response, Response) else response
        return _unless_known(request, rendered) if self.conditional else rendered


def _paged(found: Page[Listed], row: Callable[[Listed], object]) -> Response:
    response = Response({"data": [row(each) for each in found.rows], "next": found.next_url})
    if found.next_url:
        response["Link"] = f'<{found.next_url}>; rel="next"'
    return response


def _asked(request: Request) -> str:
    return "get" if request.method == "HEAD" else str(request.method).lower()


def _unless_known(request: Request, rendered: HttpResponseBase) -> HttpResponseBase:
    """Spare a reader the body it has; what is read in pieces has no tag."""
    reads = request.method in SAFE_METHODS and rendered.status_code == 200  # noqa: PLR2004
    return (
        unless_known(request, rendered)
        if reads and isinstance(rendered, HttpResponse)
        else rendered
    )


def _handler(view: StrictView, method: str) -> Handler | None:
    known = method.lower() in view.http_method_names
    return getattr(view, method.lower(), None) if known else None
