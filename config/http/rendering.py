"""JSON as the API writes it: UTF-8, decimals as text, server times in UTC with a Z."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import orjson
from rest_framework.exceptions import NotAcceptable
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.utils.mediatypes import media_type_matches

OPTIONS = orjson.OPT_UTC_Z


class JSONRenderer(BaseRenderer):
    """Renders with orjson; a lone surrogate or an unknown type is an error, never a guess."""

    media_type = "application/json"
    format = "json"
    charset = None  # JSON is UTF-8, and has no charset parameter
    render_style = "binary"

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> bytes:
        """Return the bytes; nothing at all for an answer without a body."""
        return b"" if data is None else orjson.dumps(data, default=_decimal_text, option=OPTIONS)


class Negotiation(DefaultContentNegotiation):
    """Takes an `Accept` that names what the address answers beside JSON; errors stay JSON."""

    def select_renderer(
        self, request: Request, renderers: Any, format_suffix: str | None = None
    ) -> tuple[BaseRenderer, str]:
        """Return the renderer; raise where the caller admits nothing that is answered here."""
        try:
            return super().select_renderer(request, renderers, format_suffix)
        except NotAcceptable:
            view = request.parser_context["view"]
            admitted = self.get_accept_list(request)
            for offered in getattr(view, "media_types", ()):
                if any(media_type_matches(each, offered) for each in admitted):
                    return renderers[0], renderers[0].media_type
            raise


def _decimal_text(value: object) -> str:
    if isinstance(value, Decimal):
        return str(value)
    raise TypeError(f"{type(value).__name__} is not a type that the API writes")
