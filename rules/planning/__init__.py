"""The form of a visit: what to heed, to look at, to measure, to run and to write down, in order."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import rules
from rules.canonical import plain
from rules.errors import UnknownNameError
from rules.gaps import gap_json, not_read
from rules.model import (
    CheckSpec,
    LimitSpec,
    QualificationSpec,
    RecordSpec,
    RequirementSet,
    Resolved,
    RetentionSpec,
    SequenceSpec,
)
from rules.pages import CAUTION
from rules.planning.cautions import cautions
from rules.planning.forms import Item, looked_at, measured, observed
from rules.planning.items import Asked, asked_in, source
from rules.planning.names import name_of
from rules.planning.order import order
from rules.predicates import Facts
from rules.vocabulary import Activity

_OBSERVABLE = CheckSpec | LimitSpec | SequenceSpec
_NO_REASON = "the requirement allows it; say why it was left"


def visit_plan(requirements: RequirementSet, *, activity: str) -> dict[str, Any]:
    """The ordered form of one activity at the opening that the requirements were resolved for.

    Every item says whether it is `required`, `advisory`, asked `per_door` (the door's own
    instructions give its number, or are to give it: then `limit.supplied` is false) or, in a
    retest, `where_repaired`.
    Raises UnknownNameError for an activity that is none.
    """
    if activity not in set(Activity):
        known = ", ".join(Activity)
        raise UnknownNameError(f"no activity is named {activity[:60]!r}; there are: {known}")
    asked = Activity(activity)
    items = list(_items(requirements, asked))
    form = {
        "look_at": looked_at(items),
        "measure": measured(items),
        "sequences": observed(items),
    }
    return {
        "activity": asked.value,
        "jurisdiction": requirements.jurisdiction,
        "on": requirements.on.isoformat(),
        "library": {"version": rules.__version__, "requirements_digest": requirements.digest},
        "says": CAUTION,
        "cautions": list(_cautions(requirements.facts, asked, form)),
        **form,
        "record": list(_written(requirements, asked)),
        "qualifications": list(_qualified(requirements, asked)),
        "may_stay_untested": list(_may_stay(items)),
        "not_asked": _not_asked(requirements, items),
        "not_read": [gap_json(one) for one in not_read(requirements)],
        "missing_facts": sorted({fact for item in items for fact in item.resolved.missing_facts}),
    }


def _items(requirements: RequirementSet, activity: Activity) -> Iterator[Item]:
    for resolved in requirements.items:
        if isinstance(resolved.requirement.spec, _OBSERVABLE):
            asked = asked_in(resolved, activity)
            if asked is not None:
                yield Item(resolved, asked, activity)


def _cautions(facts: Facts, activity: Activity, form: dict[str, Any]) -> Iterator[dict[str, str]]:
    doing = {one["sequence"] for one in form["sequences"]}
    doing |= {one["quantity"] for one in form["measure"]}
    for one in cautions():
        if one.holds(facts, activity, doing):
            yield {
                "caution": one.caution,
                "moment": one.moment,
                "applies_when": one.applies_when,
                "words": one.words,
            }


def _written(requirements: RequirementSet, activity: Activity) -> Iterator[dict[str, Any]]:
    """What the record must contain, and how long it is kept."""
    for resolved in requirements.items:
        spec = resolved.requirement.spec
        if isinstance(spec, RecordSpec):
            told = {"contents": list(spec.contents), "retention": None}
        elif isinstance(spec, RetentionSpec):
            told = {"contents": [], "retention": plain(spec)}
        else:
            continue
        yield {**source(resolved, _firmness(resolved), activity), **told}


def _qualified(requirements: RequirementSet, activity: Activity) -> Iterator[dict[str, Any]]:
    for resolved in requirements.items:
        spec = resolved.requirement.spec
        if not isinstance(spec, QualificationSpec) or resolved.requirement.states_a_gap:
            continue
        if activity in spec.activities:
            yield {**source(resolved, _firmness(resolved), activity), "asks": spec.asks}


def _firmness(resolved: Resolved) -> Asked:
    return Asked.ADVISORY if resolved.advisory else Asked.REQUIRED


def _may_stay(items: list[Item]) -> Iterator[dict[str, str]]:
    for item in items:
        requirement = item.resolved.requirement
        if item.activity in requirement.may_stay_untested_in:
            name = name_of(item.resolved)
            why = order().untested.get(name, _NO_REASON)
            yield {"requirement": requirement.id, "name": name, "because": why}


def _not_asked(requirements: RequirementSet, items: list[Item]) -> list[str]:
    """Binding requirements that apply and that this activity does not ask for."""
    asked = {item.resolved.requirement.id for item in items}
    return [
        resolved.requirement.id
        for resolved in requirements.items
        if isinstance(resolved.requirement.spec, _OBSERVABLE)
        and not resolved.advisory
        and resolved.requirement.id not in asked
    ]
