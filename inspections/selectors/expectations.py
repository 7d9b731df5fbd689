"""Whether a door is expected to fail before its next duty: yes, no or unknown, in plain words.

It is never said of the door's safety: only whether one number is on its way past one limit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from inspections.models import Duty
from inspections.selectors.bounds import Bound


@dataclass(frozen=True, slots=True)
class Expectation:
    """`fails`: before the next duty; None where it cannot be told. `side` and `crosses_on` are
    those of the limit that is crossed first, where one is expected to be; `passed` says that the
    last reading lies past it already.
    """

    words: str
    fails: bool | None = None
    side: str = ""
    crosses_on: date | None = None
    passed: bool = False


def expectation_of(
    fitted: Sequence[object],
    measured: Mapping[str, Any] | None,
    bounds: Sequence[Bound],
    duty: Duty | None,
    *,
    since_break: bool,
) -> Expectation:
    """What the binding limits let one expect."""
    binding: dict[str, Bound] = {bound.side: bound for bound in bounds if not bound.advisory}
    if not binding:
        return Expectation("Unknown: no binding limit of this quantity applies to the door.")
    if measured is None:
        since = " since the last change" if since_break else ""
        words = f"Unknown: {len(fitted)} reading(s){since} are too few to show a trend."
        return Expectation(words)
    if duty is None:
        return Expectation("Unknown: nothing is due at this door from today on.")
    forecasts = [f for f in measured["forecasts"] if f["limit"] in binding]
    for forecast in forecasts:
        if forecast["passed"]:
            limit = _limit(binding[forecast["limit"]])
            words = f"The last reading lies past the limit ({limit}) already."
            return Expectation(words, fails=True, side=forecast["limit"], passed=True)
    return _ahead(measured, forecasts, binding, duty)


def _ahead(
    measured: Mapping[str, Any],
    forecasts: list[dict[str, Any]],
    binding: Mapping[str, Bound],
    duty: Duty,
) -> Expectation:
    due = f"the next duty, due on {duty.due_on.isoformat()}"
    coming = [f for f in forecasts if f["expected_before"] and f["crosses"]]
    if coming and measured["trend"]["significant"]:
        first = min(coming, key=lambda f: str(f["crosses"]))
        on = date.fromisoformat(first["crosses"])
        limit = _limit(binding[first["limit"]])
        words = f"Expected to pass the limit ({limit}) about {on.isoformat()}, before {due}."
        words += _span(first)
        return Expectation(words, fails=True, side=first["limit"], crosses_on=on)
    if coming:
        words = f"Unknown whether a limit is passed before {due}: the readings scatter too much."
        return Expectation(words)
    if any(f["possible_before"] for f in forecasts):
        words = f"Not expected to pass a limit before {due}, but within the interval of the trend."
        return Expectation(words, fails=False)
    return Expectation(f"Not expected to pass a limit before {due}.", fails=False)


def _limit(bound: Bound) -> str:
    least = "at most" if bound.side == "high" else "at least"
    return f"{least} {bound.text} {bound.unit.symbol}"


def _span(forecast: Mapping[str, Any]) -> str:
    earliest, latest = forecast["earliest"], forecast["latest"]
    if earliest and latest:
        return f" The 95 % interval of the slope reaches from {earliest} to {latest}."
    return f" It may be as early as {earliest}." if earliest else ""
