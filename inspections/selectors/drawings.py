"""A trace as a packet draws it: the samples as sent, with what the computation saw marked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rules.quantities import Dimension, quantity, rounded, unit

_COLUMN = {"travel": "position", "force": "force", "battery": "volts"}
_SECONDS = unit("s")


def drawn_trace(
    sent: dict[str, Any], measured: dict[str, Any], verdicts: list[dict[str, Any]]
) -> dict[str, Any] | None:
    """A sampled trace as `inspections.plots` draws it; None for a kind without samples.

    Times become seconds; values stay in the unit and to the letter as sent. The limits drawn are
    those that the readings of this trace were judged by.
    """
    column = _COLUMN.get(sent["kind"])
    if column is None:
        return None
    units = sent["units"]
    pairs = [sample for sample in sent["samples"] if sample[1] is not None]
    return {
        "kind": sent["kind"],
        "unit": units[column],
        "t": [_seconds(sample[0], units["t"]) for sample in pairs],
        "values": [str(sample[1]) for sample in pairs],
        "marks": list(_marks(measured)),
        "limits": list(_limits(measured, verdicts, units[column])),
        "measured": {r["quantity"]: f"{r['value']} {r['unit']}" for r in measured["readings"]},
    }


def _seconds(time: object, symbol: str) -> str:
    return rounded(quantity(str(time), symbol).in_unit(_SECONDS), 4)


def _marks(measured: dict[str, Any]) -> Iterator[dict[str, str]]:
    for pause in measured.get("pauses", []):
        words = f"stands still for {pause['value']} s, then {pause['then']}"
        yield {"t": pause["at"], "words": words}


def _limits(
    measured: dict[str, Any], verdicts: list[dict[str, Any]], symbol: str
) -> Iterator[dict[str, str]]:
    drawable = {unit(symbol).dimension}
    if unit(symbol).dimension is Dimension.LENGTH:
        drawable.add(Dimension.SPEED)
    quantities = {reading["quantity"] for reading in measured["readings"]}
    for verdict in verdicts:
        limit = verdict.get("limit") or {}
        if verdict.get("quantity") not in quantities or not limit.get("unit"):
            continue
        if unit(limit["unit"]).dimension in drawable:
            for side, words in (("low", "at least"), ("high", "at most")):
                if limit.get(side):
                    said = f"{words} {limit[side]} {limit['unit']}"
                    yield {"words": said, "value": limit[side], "unit": limit["unit"]}
