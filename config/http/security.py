"""How the OpenAPI document says who may ask: with a key, or a token it was exchanged for."""

from __future__ import annotations

from typing import cast

from django.conf import settings
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema

from doors.api.base import TenantView
from doors.api.permissions import KeyMayAct, needed_scope
from doors.models import EVERY_SCOPE

KEY: dict[str, list[str]] = {"key": []}


class KeyScheme(OpenApiAuthenticationExtension):
    """How the key is described; being defined is enough to be found."""

    target_class = "doors.api.authentication.KeyAuthentication"
    name = ["key", "token"]

    def get_security_definition(self, auto_schema: AutoSchema) -> list[dict[str, object]]:
        """Return the security schemes, in the order of `name`; tokens where switched on."""
        key: dict[str, object] = {
            "type": "http",
            "scheme": "bearer",
            "description": "A key of your organization, shown once when it was made.",
        }
        return [key, _token_scheme()] if settings.OAUTH_TOKENS else [key]

    def get_security_requirement(self, auto_schema: AutoSchema) -> list[dict[str, list[str]]]:
        """Return what an operation asks for: a key, or else a token with the scope."""
        if not settings.OAUTH_TOKENS:
            return [KEY]
        view = cast("TenantView", auto_schema.view)
        guarded = any(isinstance(each, KeyMayAct) for each in view.get_permissions())
        scopes = [needed_scope(view, auto_schema.method)] if guarded else []
        return [KEY, {"token": scopes}]


def _token_scheme() -> dict[str, object]:
    scopes = {
        scope: ("Read " if scope.endswith("read") else "Write ") + scope.partition(":")[0]
        for scope in sorted(EVERY_SCOPE)
    }
    address = f"{settings.PUBLIC_URL}/oauth/token"
    return {
        "type": "oauth2",
        "description": "A key exchanged for a token of ten minutes: the client is the key.",
        "flows": {"clientCredentials": {"tokenUrl": address, "scopes": scopes}},
    }
