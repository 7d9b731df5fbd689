"""What the editions in force bring in for one opening, before any layer amends it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from rules.drafts import INSTALLED, Case, Draft
from rules.editions import Segment, Timeline, governing, held_since, of_a_kind, timelines
from rules.layers import Layer, Library
from rules.library import alias, same_in
from rules.model import LineageStep, Requirement
from rules.vocabulary import Adoption, Basis, Change, Doors, ExistingDoors


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
            return segment is self.now and of_age(
                requirement.doors, self._begun(requirement, segment), case
            )
        if case.built is None:
            ever = len(self.timeline) == 1 and segment.since is None
            return True if ever else None
        return segment is self.then

    def _begun(self, requirement: Requirement, segment: Segment) -> date | None:
        """The day that parts new doors from existing ones.

        A door that was built new under an earlier edition with the same pair of rules does not
        become an existing one when the next edition carries them on.
        """
        if requirement.doors is not Doors.EXISTING or _retroactive(self.now):
            return segment.since
        return held_since(_alike(self.timeline, segment), segment, requirement)


def _alike(timeline: Timeline, segment: Segment) -> Timeline:
    """The reigns that rest on a recorded adoption, or those by mere reference, as this one."""
    adopted = segment.amendment is not None
    return tuple(part for part in timeline if (part.amendment is not None) == adopted)


def from_editions(library: Library, chain: tuple[Layer, ...], case: Case) -> Iterator[Draft]:
    """A draft of every requirement that an edition in force brings in.

    What only an edition for openings of a kind has is listed with the fact that would tell.
    """
    asked = [(amendment, amendment.where.ask(case.facts)) for amendment in of_a_kind(chain)]
    bound = tuple(amendment for amendment, answer in asked if answer.holds)
    drafts = list(_reigning(library, timelines(library, chain, bound), case))
    yield from drafts
    known = {draft.alias for draft in drafts}
    for amendment, answer in asked:
        if answer.holds is None:
            alone = [
                timeline
                for timeline in timelines(library, chain, (amendment,))
                if timeline[0].amendment is amendment
            ]
            for draft in _reigning(library, alone, case):
                if draft.alias not in known:
                    draft.missing.update(answer.missing)
                    yield draft


def _reigning(library: Library, reigns: Iterable[Timeline], case: Case) -> Iterator[Draft]:
    for timeline in reigns:
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
