"""Which edition of a series governs a place, from which day to which.

Where no adoption is recorded, the newest reference edition of the series governs from the first
day of its year; a place's recorded adoption goes before that and before those of the places above.
An adoption for openings of a kind (`where`) goes before the reference and stands beside what a
place adopts for every opening: two authorities may both be right.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache

from rules.layers import EVERYWHERE, Amendment, Layer, Library, Publication
from rules.model import Requirement
from rules.predicates import ALWAYS

_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True, eq=False)
class Segment:
    """An edition's reign: `since` None is from ever, `until` None for ever, both days inside.

    `amendment` is the recorded adoption, None for a reference edition. `displaced` is the edition
    that governed until the day before, or else the one that would have governed.
    """

    publication: Publication
    layer: str
    since: date | None
    until: date | None = None
    amendment: Amendment | None = None
    displaced: Publication | None = None

    def holds_on(self, day: date) -> bool:
        """Whether it governs on that day."""
        begun = self.since is None or self.since <= day
        return begun and (self.until is None or day <= self.until)


Timeline = tuple[Segment, ...]


def governing(timeline: Timeline, day: date) -> Segment | None:
    """The segment that holds on a day, or None."""
    return next((segment for segment in timeline if segment.holds_on(day)), None)


@lru_cache(maxsize=256)
def timelines(
    library: Library, chain: tuple[Layer, ...], bound: tuple[Amendment, ...] = ()
) -> tuple[Timeline, ...]:
    """The timeline of every series that is ever in force along these layers.

    `bound` are those adoptions for openings of a kind that hold for the one that is asked about;
    each has a timeline of its own, before that of its series.
    """
    found = [
        timeline
        for name in library.series
        for timeline in _of_series(library, chain, name, bound)
        if timeline
    ]
    return tuple(found)


def of_a_kind(chain: Sequence[Layer]) -> Iterator[Amendment]:
    """The adoptions of whole editions for openings of a kind alone."""
    whole = (a for layer in chain for a in layer.amendments if a.whole)
    return (amendment for amendment in whole if amendment.where != ALWAYS)


def _of_series(
    library: Library, chain: Sequence[Layer], series: str, bound: Sequence[Amendment]
) -> list[Timeline]:
    timeline = _reference(library.series[series], [layer.code for layer in chain])
    beside: list[Timeline] = []
    for layer, amendment, adopted in _adoptions(library, chain, series):
        if amendment.where == ALWAYS:
            timeline = _overlay(timeline, layer, amendment, adopted)
    for layer, amendment, adopted in _adoptions(library, chain, series):
        if amendment in bound:
            beside.append(_overlay(timeline, layer, amendment, adopted)[-1:])
            timeline = _without_reference(timeline, amendment)
    return [*beside, tuple(sorted(timeline, key=lambda segment: segment.since or date.min))]


def _adoptions(
    library: Library, chain: Sequence[Layer], series: str
) -> Iterator[tuple[Layer, Amendment, Publication]]:
    for layer in chain:
        for amendment in layer.amendments:
            adopted = library.publications.get(amendment.target) if amendment.whole else None
            if adopted is not None and (adopted.series or adopted.id) == series:
                yield layer, amendment, adopted


def _without_reference(timeline: Timeline, amendment: Amendment) -> Timeline:
    """What is left where no edition applies by mere reference while that adoption stands."""
    since = _begun(amendment)
    return tuple(
        part
        for segment in timeline
        for part in ([segment] if segment.amendment else _outside(segment, since, amendment.until))
    )


def _reference(editions: Sequence[Publication], codes: Sequence[str]) -> Timeline:
    known = [(edition, _where(edition, codes)) for edition in editions]
    used = [(edition, place) for edition, place in known if place]
    segments = []
    for at, (edition, place) in enumerate(used):
        following = _first_day(used[at + 1][0]) if at + 1 < len(used) else None
        segments.append(
            Segment(
                edition,
                place,
                since=_first_day(edition),
                until=following - _DAY if following else None,
                displaced=used[at - 1][0] if at else None,
            )
        )
    return tuple(segments)


def _where(edition: Publication, codes: Sequence[str]) -> str:
    if EVERYWHERE in edition.reference_in:
        return codes[0]
    return next((code for code in codes if code in edition.reference_in), "")


def _first_day(edition: Publication) -> date | None:
    return date(edition.edition_year, 1, 1) if edition.edition_year else None


def _overlay(
    timeline: Timeline, layer: Layer, amendment: Amendment, adopted: Publication
) -> Timeline:
    since, until = _begun(amendment), amendment.until
    kept = [part for segment in timeline for part in _outside(segment, since, until)]
    before = governing(timeline, since - _DAY) or governing(timeline, since)
    displaced = before.publication if before else None
    return (*kept, Segment(adopted, layer.code, since, until, amendment, displaced))


def _begun(amendment: Amendment) -> date:
    assert amendment.since is not None  # noqa: S101 - the loader lets no adoption through without
    return amendment.since


def _outside(segment: Segment, since: date, until: date | None) -> list[Segment]:
    """What is left of a reign beside another: the part before it and the part after."""
    parts = []
    if segment.since is None or segment.since < since:
        end = since - _DAY if segment.until is None else min(segment.until, since - _DAY)
        parts.append(replace(segment, until=end))
    if until is not None and (segment.until is None or segment.until > until):
        start = until + _DAY if segment.since is None else max(segment.since, until + _DAY)
        parts.append(replace(segment, since=start))
    return parts


def held_since(timeline: Timeline, segment: Segment, requirement: Requirement) -> date | None:
    """The first day from which every edition in force here had this requirement.

    None where it held from ever: a publication without a year.
    """
    name = requirement.id.partition("/")[2]
    first = segment
    for earlier in reversed(timeline[: timeline.index(segment)]):
        gap = first.since is None or earlier.until != first.since - _DAY
        if gap or all(r.id.partition("/")[2] != name for r in earlier.publication.every):
            break
        first = earlier
    return first.since
