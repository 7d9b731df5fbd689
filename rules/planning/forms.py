"""The parts of a form: what to look at, what to measure, which sequences to run and in which order.

Two publishers may ask for one thing: it is looked at, measured or run once, for both.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from rules.measurands import MEASURANDS, units_of
from rules.model import CheckSpec, LimitSpec, Resolved, SequenceSpec, Step
from rules.planning.items import Asked, firmest, limit_json, source
from rules.planning.order import order
from rules.vocabulary import Activity

FIRST_GROUPS = ("before operating", "looked at")  # seen before anything moves


class Item(NamedTuple):
    """A requirement that the form asks for."""

    resolved: Resolved
    asked: Asked
    activity: Activity

    @property
    def source(self) -> dict[str, Any]:
        """Which requirement it is, and where that is written."""
        return source(self.resolved, self.asked, self.activity)


def looked_at(items: Iterable[Item]) -> list[dict[str, Any]]:
    """The checks by group, what is looked at before what is seen in operation."""
    groups: dict[str, dict[str, list[tuple[CheckSpec, Item]]]] = {}
    for item in items:
        if isinstance(spec := item.resolved.requirement.spec, CheckSpec):
            group = groups.setdefault(spec.group or FIRST_GROUPS[1], {})
            group.setdefault(spec.check, []).append((spec, item))
    return [
        {"group": group, "checks": [_check(groups[group][name]) for name in groups[group]]}
        for group in sorted(groups, key=_group_order)
    ]


def _group_order(group: str) -> tuple[int, str]:
    known = group in FIRST_GROUPS
    return (FIRST_GROUPS.index(group) if known else len(FIRST_GROUPS)), group


def _check(found: list[tuple[CheckSpec, Item]]) -> dict[str, Any]:
    spec = found[0][0]
    return {
        "check": spec.check,
        "asks": list(dict.fromkeys(one.asks for one, _ in found)),
        "asked": firmest([item.asked for _, item in found]).value,
        "requirements": [item.source for _, item in found],
    }


def measured(items: Sequence[Item]) -> list[dict[str, Any]]:
    """The quantities, each once with every limit that is held against it."""
    by_quantity: dict[str, list[tuple[LimitSpec, Item]]] = {}
    run: set[str] = set()
    for item in items:
        if isinstance(spec := item.resolved.requirement.spec, LimitSpec):
            by_quantity.setdefault(spec.quantity, []).append((spec, item))
        elif isinstance(spec, SequenceSpec):
            run.add(spec.sequence)
    names = list(MEASURANDS)
    return [_quantity(by_quantity[name], run) for name in sorted(by_quantity, key=names.index)]


def _quantity(found: list[tuple[LimitSpec, Item]], run: set[str]) -> dict[str, Any]:
    name = found[0][0].quantity
    bounds = [b for spec, _ in found for b in (spec.low, spec.high, spec.nominal) if b]
    return {
        "quantity": name,
        "meaning": MEASURANDS[name].meaning,
        "unit": bounds[0].unit.symbol if bounds else None,
        "units": units_of(name),
        "repeats": max(spec.repeats for spec, _ in found),
        "asked": firmest([item.asked for _, item in found]).value,
        "during": next((one for one in order().during.get(name, ()) if one in run), None),
        "limits": [{**item.source, "limit": limit_json(spec)} for spec, item in found],
    }


def observed(items: Iterable[Item]) -> list[dict[str, Any]]:
    """The sequences in the order in which they are run, each once with every step it needs."""
    by_name: dict[str, list[tuple[SequenceSpec, Item]]] = {}
    for item in items:
        if isinstance(spec := item.resolved.requirement.spec, SequenceSpec):
            by_name.setdefault(spec.sequence, []).append((spec, item))
    places = {name: order().place(name) for name in by_name}
    ordered = sorted(by_name, key=lambda name: (places[name].rank, name))
    return [
        {"order": number, "because": places[name].because, **_sequence(by_name[name])}
        for number, name in enumerate(ordered, 1)
    ]


def _sequence(found: Sequence[tuple[SequenceSpec, Item]]) -> dict[str, Any]:
    first = found[0][0]
    steps = {step.step: step for spec, _ in found for step in spec.steps}
    times = [(time, item) for spec, item in found for time in spec.times]
    return {
        "sequence": first.sequence,
        "asked": firmest([item.asked for _, item in found]).value,
        "do": list(dict.fromkeys(spec.do for spec, _ in found)),
        "cautions": list(dict.fromkeys(spec.caution for spec, _ in found if spec.caution)),
        "steps": [_step(number, step) for number, step in enumerate(steps.values(), 1)],
        "times": [
            {
                "quantity": time.quantity,
                "meaning": MEASURANDS[time.quantity].meaning,
                "units": units_of(time.quantity),
                "requirement": item.resolved.requirement.id,
                "limit": limit_json(time),
            }
            for time, item in times
        ],
        "after_parts": sorted({part for spec, _ in found for part in spec.after_parts}),
        "requirements": [item.source for _, item in found],
    }


def _step(number: int, step: Step) -> dict[str, Any]:
    return {
        "number": number,
        "step": step.step,
        "do": step.do or None,
        "expect": step.expect,
        "in_order": not step.order,
        "may_be_not_provided": bool(step.may_be),
    }
