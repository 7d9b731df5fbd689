"""A trace as a packet draws it: the samples as sent, with what the computation saw marked."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from rules.quantities import Dimension, quantity, rounded, unit

_COLUMN = {"travel": "position", "force": "force", "battery": "volts"}
_SECONDS = unit("s")
_PLACES = 4  # decimals of a time that is drawn
_STARTS = "starts to close"
_MEAN_SPEED = "closing_speed"
_SPACES = str.maketrans("_", " ")


def drawn_trace(
    sent: dict[str, Any], measured: dict[str, Any], verdicts: list[dict[str, Any]]
) -> dict[str, Any] | None:
    """A sampled trace as `inspections.plots` draws it; None for a kind without samples.

    Times become seconds; values stay in the unit and to the letter as sent. The limits drawn are
    those that the readings of this trace were judged by, those of speed from where the door starts.
    """
    column = _COLUMN.get(sent["kind"])
    if column is None:
        return None
    units = sent["units"]
    pairs = [sample for sample in sent["samples"] if sample[1] is not None]
    moments = _moments(sent, measured)
    return {
        "kind": sent["kind"],
        "unit": units[column],
        "t": [_seconds(sample[0], units["t"]) for sample in pairs],
        "values": [str(sample[1]) for sample in pairs],
        "marks": [*_marks(moments), *_pauses(measured)],
        "limits": list(_limits(measured, verdicts, units[column], moments.get(_STARTS))),
        "seen": list(_seen(measured, units[column], moments.get(_STARTS))),
        "measured": {r["quantity"]: f"{r['value']} {r['unit']}" for r in measured["readings"]},
    }


def _seconds(time: object, symbol: str) -> str:
    return rounded(quantity(str(time), symbol).in_unit(_SECONDS), _PLACES)


def _moments(sent: dict[str, Any], measured: dict[str, Any]) -> dict[str, Fraction]:
    """When the signal came, the door started and stood closed, as far as the trace tells."""
    if sent.get("signal_at") is None:
        return {}
    lasted = {r["quantity"]: Fraction(r["value"]) for r in measured["readings"] if r["unit"] == "s"}
    moments = {"signal": quantity(str(sent["signal_at"]), sent["units"]["t"]).in_unit(_SECONDS)}
    if "start_delay" in lasted:
        moments[_STARTS] = moments["signal"] + lasted["start_delay"]
        if "closing_time" in lasted and measured.get("closed"):
            moments["closed"] = moments[_STARTS] + lasted["closing_time"]
    return moments


def _marks(moments: dict[str, Fraction]) -> Iterator[dict[str, str]]:
    for words, at in moments.items():
        yield {"t": rounded(at, _PLACES), "words": words}


def _pauses(measured: dict[str, Any]) -> Iterator[dict[str, str]]:
    for pause in measured.get("pauses", []):
        words = f"stands still for {pause['value']} s, then {pause['then']}"
        yield {"t": pause["at"], "words": words}


def _limits(
    measured: dict[str, Any], verdicts: list[dict[str, Any]], symbol: str, starts: Fraction | None
) -> Iterator[dict[str, str]]:
    """Levels in the trace's own dimension, and slopes where it is one of lengths."""
    own = unit(symbol).dimension
    quantities = {reading["quantity"] for reading in measured["readings"]}
    for verdict in verdicts:
        limit = verdict.get("limit") or {}
        if verdict.get("quantity") not in quantities or not limit.get("unit"):
            continue
        drawn = unit(limit["unit"]).dimension
        slope = own is Dimension.LENGTH and drawn is Dimension.SPEED
        if drawn is own or slope:
            since = {"from_t": rounded(starts, _PLACES)} if slope and starts is not None else {}
            yield from (line | since for line in _lines(limit))


def _seen(
    measured: dict[str, Any], symbol: str, starts: Fraction | None
) -> Iterator[dict[str, str]]:
    """What was computed that is a level of the curve; the mean speed is its slope."""
    own = unit(symbol).dimension
    levels = own in {Dimension.FORCE, Dimension.VOLTAGE}  # a length is not where the edge stood
    for reading in measured["readings"]:
        if not reading.get("value"):
            continue
        line = {name: reading[name] for name in ("value", "unit")}
        words = {"words": reading["quantity"].translate(_SPACES)}
        if levels and unit(reading["unit"]).dimension is own:
            yield words | line
        elif reading["quantity"] == _MEAN_SPEED and starts is not None:
            yield words | line | {"from_t": rounded(starts, _PLACES)}


def _lines(limit: dict[str, Any]) -> Iterator[dict[str, str]]:
    for side, words in (("low", "at least"), ("high", "at most")):
        if limit.get(side):
            said = f"{words} {limit[side]} {limit['unit']}"
            yield {"words": said, "value": limit[side], "unit": limit["unit"]}
