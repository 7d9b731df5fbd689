"""Access tokens by OAuth 2.0 client credentials (RFC 6749, section 4.4), where switched on.

A client is a key. The answers here, and theirs alone, are not problem documents where RFC 6749,
section 5.2, says what they are; what it does not speak of (405, 413, 429, 500) is one, as anywhere.
"""

from __future__ import annotations

import binascii
from base64 import b64decode
from collections.abc import Set as AbstractSet
from typing import Any
from urllib.parse import unquote_plus

from django.conf import settings
from django.http import Http404, QueryDict
from django.utils.module_loading import import_string
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import PublicView
from doors.api.problems import ProblemError
from doors.models import EVERY_SCOPE
from doors.selectors.keys import KeyFound
from doors.selectors.tokens import Token, key_of_client, token_for

FORM = "application/x-www-form-urlencoded"
GRANT = "client_credentials"
KEPT_NOWHERE = {"Cache-Control": "no-store", "Pragma": "no-cache"}  # section 5.1
CHALLENGE = {"WWW-Authenticate": 'Basic realm="doors", charset="UTF-8"'}


class TokenRefusedError(Exception):
    """A request for a token that is refused, with the word of RFC 6749 for the reason."""

    def __init__(self, error: str, why: str) -> None:
        super().__init__(error, why)
        self.error, self.why = error, why


class OptionalView(PublicView):
    """An address that exists only where tokens are switched on."""

    throttle_classes = ()  # counted by client and address instead, before a secret is looked at

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Answer as if nothing were here where nothing is."""
        if not settings.OAUTH_TOKENS:
            raise Http404
        super().initial(request, *args, **kwargs)


class TokenView(OptionalView):
    """Where a key is exchanged for a token."""

    @extend_schema(exclude=True)
    def post(self, request: Request) -> Response:
        """Exchange a key for a token that lives some minutes; nothing is stored."""
        try:
            token = _granted(request)
        except TokenRefusedError as refused:
            return _refused(refused)
        told = {
            "access_token": token.text,
            "token_type": "Bearer",
            "expires_in": token.seconds,
            "scope": " ".join(sorted(token.scopes)),
        }
        return Response(told, headers=KEPT_NOWHERE)


class TokenServerView(OptionalView):
    """What the token address can do (RFC 8414)."""

    @extend_schema(exclude=True)
    def get(self, request: Request) -> Response:
        """Say where tokens are had, and how."""
        told = {
            "issuer": settings.PUBLIC_URL,
            "token_endpoint": f"{settings.PUBLIC_URL}/oauth/token",
            "token_endpoint_auth_methods_supported": ["client_secret_basic", "client_secret_post"],
            "grant_types_supported": [GRANT],
            "response_types_supported": [],
            "scopes_supported": sorted(EVERY_SCOPE),
            "service_documentation": f"{settings.PUBLIC_URL}/docs/guide",
        }
        return Response(told, headers={"Cache-Control": "public, max-age=3600"})


def _granted(request: Request) -> Token:
    form = _form(request)
    client_id, secret = _client(request, form)
    _count(request, client_id)
    key = key_of_client(client_id, secret)
    if key is None:
        raise TokenRefusedError("invalid_client", "There is no such client and secret.")
    return token_for(key, _scopes(form, key))


def _form(request: Request) -> QueryDict:
    """Return what was sent, of which nothing may stand twice; an empty value counts as absent."""
    asked = request._request  # noqa: SLF001 (the framework's own limits hold)
    if asked.content_type != FORM:
        raise TokenRefusedError("invalid_request", f"Send the parameters as {FORM}.")
    form = asked.POST
    if any(len(values) > 1 for _, values in form.lists()):
        raise TokenRefusedError("invalid_request", "No parameter may be given twice.")
    grant = form.get("grant_type", "")
    if not grant:
        raise TokenRefusedError("invalid_request", "The parameter grant_type is missing.")
    if grant != GRANT:
        raise TokenRefusedError("unsupported_grant_type", f"Here there is {GRANT} alone.")
    return form


def _client(request: Request, form: QueryDict) -> tuple[str, str]:
    """Return the client's name and secret, from the header or from the form, never from both."""
    header = request.headers.get("Authorization")
    named, secret = form.get("client_id", ""), form.get("client_secret", "")
    if header is None:
        if not (named and secret):
            raise TokenRefusedError("invalid_client", "Say which client you are, and its secret.")
        return named, secret
    client_id, in_header = _basic(header)
    if secret or (named and named != client_id):
        raise TokenRefusedError("invalid_request", "Say which client you are in one place only.")
    return client_id, in_header


def _basic(header: str) -> tuple[str, str]:
    scheme, _, credentials = header.partition(" ")
    try:
        text = b64decode(credentials.strip(), validate=True).decode()
    except (binascii.Error, ValueError):
        text = ""
    client_id, colon, secret = text.partition(":")
    if scheme.lower() != "basic" or not (client_id and colon):
        raise TokenRefusedError("invalid_client", "The header Authorization is not readable Basic.")
    return unquote_plus(client_id), unquote_plus(secret)


def _count(request: Request, client_id: str) -> None:
    seconds: int | None = import_string(settings.COUNT_ATTEMPT)(
        request._request,  # noqa: SLF001 - what it stands in counts as well
        client_id,
    )
    if seconds is not None:
        headers = {"Retry-After": str(seconds)}
        raise ProblemError("too_many_requests", "Wait before you ask again.", headers=headers)


def _scopes(form: QueryDict, key: KeyFound) -> AbstractSet[str] | None:
    wanted = frozenset(form.get("scope", "").split(" ")) - {""}
    if wanted - key.scopes:
        raise TokenRefusedError("invalid_scope", "The key behind this client does not reach that.")
    return wanted or None


def _refused(refused: TokenRefusedError) -> Response:
    unknown = refused.error == "invalid_client"
    return Response(
        {"error": refused.error, "error_description": refused.why},
        status=401 if unknown else 400,
        headers=KEPT_NOWHERE | (CHALLENGE if unknown else {}),
    )
