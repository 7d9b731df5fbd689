"""Small requirement sets made by hand, so that what judging does rests on no data file."""

from collections.abc import Mapping
from datetime import date
from itertools import count
from typing import Any

from rules.model import (
    CheckSpec,
    Citation,
    LimitSpec,
    LineageStep,
    PermissionSpec,
    Requirement,
    RequirementSet,
    Resolved,
    SequenceSpec,
    Spec,
    Step,
)
from rules.predicates import ALWAYS, OneOf
from rules.quantities import parse_quantity
from rules.vocabulary import (
    Activity,
    Adoption,
    Basis,
    Change,
    Comparator,
    Governs,
    Kind,
    Protects,
    Standing,
)

DAY = date(2026, 3, 1)
YEARLY = Activity.PERIODIC_INSPECTION
ACCORDION = {  # facts of a door
    "door_type": "accordion",
    "operation": "power",
    "fire_door": True,
    "means_of_egress": True,
    "installed_on": "2019-05-01",
}
CITED = {"publication": "instructions", "edition": "C", "clause": "4.2"}  # of such a door
_serial = count()
_KINDS = {
    LimitSpec: Kind.LIMIT,
    CheckSpec: Kind.CHECK,
    SequenceSpec: Kind.SEQUENCE,
    PermissionSpec: Kind.PERMISSION,
}


def at_most(quantity: str, high: str, **more: Any) -> LimitSpec:
    """A limit from above."""
    return _limit(quantity, Comparator.AT_MOST, None, high, more)


def at_least(quantity: str, low: str, **more: Any) -> LimitSpec:
    """A limit from below."""
    return _limit(quantity, Comparator.AT_LEAST, low, None, more)


def between(quantity: str, low: str, high: str, **more: Any) -> LimitSpec:
    """A limit on both sides."""
    return _limit(quantity, Comparator.BETWEEN, low, high, more)


def per_door(quantity: str) -> LimitSpec:
    """A limit whose number the door's listed instructions must give."""
    return _limit(quantity, Comparator.AT_MOST, None, None, {"supplied_per_door": True})


def _limit(
    quantity: str, comparator: Comparator, low: str | None, high: str | None, more: dict[str, Any]
) -> LimitSpec:
    return LimitSpec(
        quantity=quantity,
        comparator=comparator,
        low=parse_quantity(low) if low else None,
        high=parse_quantity(high) if high else None,
        **more,
    )


def repeated(spec: LimitSpec, repeats: int, governs: Governs) -> LimitSpec:
    """The same limit, measured several times."""
    return LimitSpec(
        spec.quantity, spec.comparator, spec.low, spec.high, repeats=repeats, governs=governs
    )


def check(name: str) -> CheckSpec:
    """A looked-at item."""
    return CheckSpec(name, f"Is the {name} sound?")


def sequence(name: str, *steps: str, times: tuple[LimitSpec, ...] = ()) -> SequenceSpec:
    """A course of events with these steps."""
    return SequenceSpec(
        name, "Do it.", tuple(Step(step, f"{step} happens") for step in steps), times
    )


def permission(fact: str, *values: object) -> PermissionSpec:
    """Permitted where the fact is one of the values."""
    return PermissionSpec(OneOf(fact, values), f"Only where {fact} allows it.")


def resolved(
    spec: Spec,
    name: str = "",
    *,
    required: bool = True,
    advisory: bool = False,
    missing: tuple[str, ...] = (),
    untested: bool = False,
) -> Resolved:
    """The requirement as it stands at an invented place, required in the yearly visit."""
    named = getattr(spec, "quantity", "") or getattr(spec, "check", "")
    slug = name or named or getattr(spec, "sequence", "permission")
    citation = Citation("Invented Code", "2026", "1.2.3")
    requirement = Requirement(
        id=f"invented/{slug}",
        kind=_KINDS[type(spec)],
        title=slug.replace("_", " "),
        basis=Basis.MAINTENANCE,
        protects=Protects.EGRESS,
        applies=ALWAYS,
        spec=spec,
        citation=citation,
        standing=Standing.FROM_MEMORY if advisory else Standing.SECONDARY,
        required_in=frozenset({YEARLY}) if required else frozenset(),
        may_stay_untested_in=frozenset({YEARLY}) if untested else frozenset(),
    )
    lineage = (LineageStep("invented-town", Change.ADD, DAY, citation),)
    return Resolved(
        requirement, "invented-town", Adoption.RECORDED, advisory, lineage, missing_facts=missing
    )


def the_set(*items: Resolved | Spec, **facts: object) -> RequirementSet:
    """A set of these, with a digest of its own: nothing of another set is reused for it."""
    held = tuple(i if isinstance(i, Resolved) else resolved(i) for i in items)
    return RequirementSet(held, f"by hand {next(_serial)}", "invented-town", DAY, dict(facts))


def reading(quantity: str, value: object, unit: object, **more: object) -> dict[str, object]:
    """One reading as it is sent."""
    return {"quantity": quantity, "value": value, "unit": unit, **more}


def found(*readings: Mapping[str, object], **more: Any) -> dict[str, Any]:
    """The findings of a yearly visit."""
    return {"activity": "periodic_inspection", "readings": list(readings), **more}
