"""Which requirements hold for one opening on one day, and how each came to hold.

The layers are walked from the country down: editions in force by recorded adoption or as
reference, then each layer's amendments in the order of their days, then the door's variances,
then its listed instructions. Nothing drops out because a fact is missing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

from rules.amending import move
from rules.drafts import INSTALLED, Case, Draft, step_of
from rules.editions import Segment, Timeline, governing, held_since, timelines
from rules.instructions import Instruction, follow
from rules.layers import Amendment, Layer, Library
from rules.library import alias, named_in, same_in
from rules.model import LineageStep, Requirement, Resolved
from rules.vocabulary import Adoption, Basis, Change, Doors, ExistingDoors


def resolve(
    library: Library,
    chain: tuple[Layer, ...],
    case: Case,
    instructions: Sequence[Instruction] = (),
) -> tuple[Resolved, ...]:
    """The requirements for the case, in the order of their ids."""
    drafts = {draft.requirement.id: draft for draft in _from_editions(library, chain, case)}
    for layer in chain:
        for amendment in sorted(layer.amendments, key=lambda a: a.since or date.min):
            if not amendment.whole:
                _amend(library, drafts, layer, amendment, case)
    follow(library, drafts, instructions, case)
    applying = (draft for draft in drafts.values() if _applies(draft, case))
    return tuple(draft.resolved() for draft in sorted(applying, key=lambda d: d.requirement.id))


def _applies(draft: Draft, case: Case) -> bool:
    answer = draft.requirement.applies.ask(case.facts)
    draft.missing.update(answer.missing if answer.holds is None else ())
    return answer.holds is not False


# --- editions --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Series:
    """One series for one case: the edition in force on the day, and the one of the building."""

    timeline: Timeline
    now: Segment | None
    then: Segment | None

    @classmethod
    def of(cls, timeline: Timeline, case: Case) -> _Series:
        now = governing(timeline, case.on)
        return cls(timeline, now, governing(timeline, case.built) if case.built else now)

    def holds(self, requirement: Requirement, segment: Segment, case: Case) -> bool | None:
        """Whether this segment's edition decides; None where the day of building would tell."""
        of_today = (
            requirement.basis is Basis.MAINTENANCE
            or requirement.doors is Doors.EXISTING
            or _retroactive(self.now)
        )
        if of_today:
            return segment is self.now and of_age(requirement.doors, segment.since, case)
        if case.built is None:
            ever = len(self.timeline) == 1 and segment.since is None
            return True if ever else None
        return segment is self.then


def _from_editions(library: Library, chain: tuple[Layer, ...], case: Case) -> Iterator[Draft]:
    for timeline in timelines(library, chain):
        series = _Series.of(timeline, case)
        reigning = [part for part in (series.now, series.then) if part is not None]
        for segment in dict.fromkeys(reigning):
            for entry in _entries(library, timeline, segment):
                holds = series.holds(entry.requirement, segment, case)
                if holds is not False and _in_force(entry.requirement, case):
                    draft = entry.draft()
                    draft.missing.update(() if holds else (INSTALLED,))
                    yield draft


def _retroactive(now: Segment | None) -> bool:
    adoption = now.amendment if now else None
    return adoption is not None and adoption.existing_doors is ExistingDoors.THIS_EDITION


def of_age(doors: Doors, since: date | None, case: Case) -> bool | None:
    """Whether the door is new or existing, as asked, on the day the text took effect."""
    if doors is Doors.ANY:
        return True
    if since is None:
        return doors is Doors.NEW
    if case.built is None:
        return None
    return (case.built < since) == (doors is Doors.EXISTING)


def _in_force(requirement: Requirement, case: Case) -> bool:
    if requirement.adoption_only:
        return False
    day = case.on if requirement.basis is Basis.MAINTENANCE else case.built or case.on
    begun = requirement.in_force_from is None or requirement.in_force_from <= day
    return begun and (requirement.in_force_until is None or day <= requirement.in_force_until)


@dataclass(frozen=True, slots=True)
class _Entry:
    """A requirement as an edition brings it in, the same for every opening."""

    requirement: Requirement
    alias: str
    adoption: Adoption
    since: date | None
    step: LineageStep
    edition: str

    def draft(self) -> Draft:
        """The start of its way through the amendments."""
        return Draft(
            requirement=self.requirement,
            alias=self.alias,
            layer=self.step.layer,
            adoption=self.adoption,
            advisory=self.requirement.standing.advisory,
            since=self.since,
            lineage=[self.step],
            edition=self.edition,
        )


@lru_cache(maxsize=4096)
def _entries(library: Library, timeline: Timeline, segment: Segment) -> tuple[_Entry, ...]:
    return tuple(_entry(library, timeline, segment, r) for r in segment.publication.every)


def _entry(
    library: Library, timeline: Timeline, segment: Segment, requirement: Requirement
) -> _Entry:
    adoption = segment.amendment
    step = LineageStep(
        layer=segment.layer,
        change=Change.ADOPT if adoption else Change.ADD,
        since=segment.since,
        citation=adoption.citation if adoption else requirement.citation,
        before=same_in(segment.displaced, requirement) if adoption else None,
    )
    return _Entry(
        requirement=requirement,
        alias=alias(library, requirement),
        adoption=Adoption.RECORDED if adoption else Adoption.NOT_RECORDED,
        since=held_since(timeline, segment, requirement),
        step=step,
        edition=segment.publication.edition if segment.publication.series else "",
    )


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
