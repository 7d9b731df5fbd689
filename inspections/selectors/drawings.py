"""A trace as a packet draws it: the samples as sent, with what the computation saw marked."""

from __future__ import annotations

from typing import Any


def drawn_trace(sent: dict[str, Any], measured: dict[str, Any]) -> dict[str, Any]:
    """The samples of a trace and the marks of what was computed from them."""
    return {"kind": sent["kind"], "measured": measured}
