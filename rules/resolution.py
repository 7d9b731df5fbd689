"""Which requirements hold for one opening on one day, and how each came to hold.

The layers are walked from the country down: editions in force by recorded adoption or as
reference, then each layer's amendments in the order of their days, then the door's variances,
then its listed instructions. Nothing drops out because a fact is missing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import lru_cache

from rules.amending import move
from rules.drafts import INSTALLED, Case, Draft, step_of
from rules.instructions import Instruction, follow
from rules.layers import Amendment, Layer, Library
from rules.library import alias, named_in
from rules.model import LimitSpec, Requirement, Resolved
from rules.reigning import from_editions, of_age
from rules.shares import share_out
from rules.supplied import share_numbers
from rules.vocabulary import Adoption, Basis, Change, Doors


def resolve(
    library: Library,
    chain: tuple[Layer, ...],
    case: Case,
    instructions: Sequence[Instruction] = (),
) -> tuple[Resolved, ...]:
    """The requirements for the case, in the order of their ids."""
    drafts = {draft.requirement.id: draft for draft in from_editions(library, chain, case)}
    for layer in chain:
        for amendment in sorted(layer.amendments, key=lambda a: a.since or date.min):
            if not amendment.whole:
                _amend(library, drafts, layer, amendment, case)
    _stand_back(drafts, case)
    follow(library, drafts, instructions, case)
    applying = [
        draft for draft in drafts.values() if _applies(draft, case) and share_out(draft, case)
    ]
    share_numbers(applying)
    return tuple(draft.resolved() for draft in sorted(applying, key=lambda d: d.requirement.id))


def _stand_back(drafts: Mapping[str, Draft], case: Case) -> None:
    """Where a place has its own rule for existing doors, what an edition says of the same quantity
    by mere reference is shown beside it and binds nobody.
    """
    own = {
        draft.requirement.spec.quantity
        for draft in drafts.values()
        if isinstance(draft.requirement.spec, LimitSpec)
        and draft.requirement.doors is Doors.EXISTING
        and draft.adoption is Adoption.RECORDED
        and not (draft.advisory or draft.missing)
        and draft.requirement.applies.ask(case.facts).holds
    }
    for draft in drafts.values():
        requirement = draft.requirement
        referred = draft.adoption is Adoption.NOT_RECORDED
        built = requirement.basis is Basis.CONSTRUCTION
        if referred and built and isinstance(requirement.spec, LimitSpec):
            draft.advisory = draft.advisory or requirement.spec.quantity in own


def _applies(draft: Draft, case: Case) -> bool:
    answer = draft.requirement.applies.ask(case.facts)
    draft.missing.update(answer.missing if answer.holds is None else ())
    return answer.holds is not False


# --- amendments ------------------------------------------------------------------------------


def _amend(
    library: Library, drafts: dict[str, Draft], layer: Layer, amendment: Amendment, case: Case
) -> None:
    if amendment.change is Change.ADD:
        _add(drafts, layer, amendment, case)
        return
    target = amendment.target
    named = [d for d in drafts.values() if d.alias == target]
    if target in drafts:
        named = [drafts[target]]
    if not named and amendment.change is Change.ADOPT:
        _adopt_unreferenced(library, drafts, layer, amendment, case)
    for draft in named:
        _change(drafts, draft, layer, amendment, case)


def _change(
    drafts: dict[str, Draft], draft: Draft, layer: Layer, amendment: Amendment, case: Case
) -> None:
    requirement = draft.requirement
    day, known = case.deciding_day(
        layer, requirement.basis, requirement.doors, amendment.existing_doors
    )
    answer = amendment.where.ask(case.facts)
    if not amendment.stands_on(day) or answer.holds is False:
        return
    if answer.holds is None or not known:
        draft.missing.update(answer.missing if answer.holds is None else (INSTALLED,))
        return
    if amendment.change is Change.WITHDRAW:
        del drafts[requirement.id]
        return
    changed = _changed(requirement, amendment)
    if changed is not None:
        draft.record(layer, amendment, changed)


@lru_cache(maxsize=4096)
def _changed(requirement: Requirement, amendment: Amendment) -> Requirement | None:
    if amendment.change is Change.ADOPT:
        return requirement
    if amendment.change is Change.REPLACE:
        assert amendment.requirement is not None  # noqa: S101 - the loader sees to it
        return replace(amendment.requirement, id=requirement.id)
    moved = move(requirement, amendment)
    if moved.requirement is None or moved.change is not amendment.change:
        return None  # an edition whose own number is stricter already keeps it
    return replace(moved.requirement, citation=amendment.citation, standing=amendment.standing)


def _add(drafts: dict[str, Draft], layer: Layer, amendment: Amendment, case: Case) -> None:
    requirement = amendment.requirement
    assert requirement is not None  # noqa: S101 - the loader sees to it
    draft = _introduced(layer, amendment, requirement, requirement.id, case)
    if draft is not None:
        drafts[requirement.id] = draft


def _adopt_unreferenced(
    library: Library, drafts: dict[str, Draft], layer: Layer, amendment: Amendment, case: Case
) -> None:
    for requirement in named_in(library, amendment.target)[-1:]:
        name = alias(library, requirement)
        draft = _introduced(layer, amendment, requirement, name, case)
        if draft is not None:
            drafts[requirement.id] = draft


def _introduced(
    layer: Layer, amendment: Amendment, requirement: Requirement, its_alias: str, case: Case
) -> Draft | None:
    day, known = case.deciding_day(
        layer, requirement.basis, requirement.doors, amendment.existing_doors
    )
    aged = of_age(requirement.doors, amendment.since, case)
    answer = amendment.where.ask(case.facts)
    if not amendment.stands_on(day) or aged is False or answer.holds is False:
        return None
    draft = Draft(
        requirement=requirement,
        alias=its_alias,
        layer=layer.code,
        adoption=Adoption.RECORDED,
        advisory=amendment.change is Change.ADD and requirement.standing.advisory,
        since=amendment.since,
        lineage=[step_of(layer.code, amendment, None)],
    )
    draft.missing.update(answer.missing if answer.holds is None else ())
    if aged is None or not known:
        draft.missing.add(INSTALLED)
    return draft
