"""JSON as the API writes it: UTF-8, decimals as text, server times in UTC with a Z."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import orjson
from rest_framework.renderers import BaseRenderer

OPTIONS = orjson.OPT_UTC_Z


class JSONRenderer(BaseRenderer):
    """Renders with orjson; a NaN, a lone surrogate or an unknown type is an error, never a guess.

    orjson writes null for a NaN, so a float is refused altogether: values are decimal text.
    """

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


def _decimal_text(value: object) -> str:
    if isinstance(value, Decimal):
        return str(value)
    raise TypeError(f"{type(value).__name__} is not a type that the API writes")
