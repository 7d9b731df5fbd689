"""What a key may do: a scope for each noun and direction, a capability for some deeds.

Which rows it may see is not decided here: that is the wall's business, and the answer is 404.
"""

from __future__ import annotations

from typing import ClassVar, Protocol, cast

from rest_framework.exceptions import NotAuthenticated
from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request

from doors.api.problems import ProblemError
from doors.selectors.keys import KeyFound


class Guarded(Protocol):
    """What this asks of a view; the framework imports this module before it has views."""

    scope: ClassVar[str]
    capabilities: ClassVar[frozenset[str] | None]


def needed_scope(view: Guarded, method: str) -> str:
    """Return the scope that `method` needs on this view: `<noun>:read` or `<noun>:write`."""
    return f"{view.scope}:{'read' if method in SAFE_METHODS else 'write'}"


class AnyKey(BasePermission):
    """A valid key, whatever it may do."""

    def has_permission(  # type: ignore[override]  # it guards these views alone
        self, request: Request, view: Guarded
    ) -> bool:
        """Return True, or refuse whoever has none."""
        if request.auth is None:
            raise NotAuthenticated
        return True


class KeyMayAct(BasePermission):
    """A valid key, with the view's scope, of an organization that does such work."""

    def has_permission(  # type: ignore[override]  # it guards these views alone
        self, request: Request, view: Guarded
    ) -> bool:
        """Return True, or raise the refusal that says what is missing."""
        key = cast("KeyFound | None", request.auth)
        if key is None:
            raise NotAuthenticated
        scope = needed_scope(view, str(request.method))
        if scope not in key.scopes:
            raise ProblemError(
                "scope_missing", f"The key lacks the scope {scope}.", headers=_insufficient(scope)
            )
        needed = view.capabilities
        if request.method in SAFE_METHODS or not needed or needed & key.capabilities:
            return True
        among = " or ".join(sorted(needed))
        raise ProblemError("capability_missing", f"Only an organization that is {among} does this.")


def _insufficient(scope: str) -> dict[str, str]:
    """Tell a client of OAuth which scope it lacks (RFC 6750, section 3.1)."""
    told = f'Bearer realm="doors", error="insufficient_scope", scope="{scope}"'
    return {"WWW-Authenticate": told}
