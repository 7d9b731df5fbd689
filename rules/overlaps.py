"""Statements of one place about one thing: whether their days overlap, and which ends which.

The last day of a statement, its `until`, is inside. Two statements about the same target and the
same doors may not stand on the same day, in one document or in two; a later document says
`supersedes` where it means to end the earlier one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache

from rules.errors import Problem
from rules.layers import Amendment, Layer, Library
from rules.vocabulary import Change

_DAY = timedelta(days=1)


def within(layer: Layer, library: Library) -> Iterator[Problem]:
    """The statements of one document that overlap with an earlier one in it."""
    for number, amendment in enumerate(layer.amendments):
        for earlier in layer.amendments[:number]:
            if _same(earlier, amendment, library) and _meet(earlier, amendment):
                named = f"{earlier.pointer}, {_days(earlier)}"
                yield _overlap(amendment, named, _way_out(amendment, earlier))


def beside(layer: Layer, others: Sequence[Layer], library: Library) -> Iterator[Problem]:
    """The statements that overlap with those of earlier documents of the same place."""
    for amendment in layer.amendments:
        for other in others:
            for earlier in other.amendments:
                if _same(earlier, amendment, library) and _meet(earlier, amendment):
                    yield from _beside_one(amendment, earlier, other)


def _beside_one(amendment: Amendment, earlier: Amendment, other: Layer) -> Iterator[Problem]:
    named = f"{earlier.pointer} in {other.document!r}, {_days(earlier)}"
    if not amendment.supersedes:
        way_out = "other days, or supersedes = true to end that one on the day before"
        yield _overlap(amendment, named, way_out)
    elif not _ends(amendment, earlier):
        yield _overlap(amendment, named, "a first day after that one's, to supersede it")


def superseding_nothing(
    layer: Layer, others: Sequence[Layer], library: Library
) -> Iterator[Problem]:
    """The statements that supersede, where no earlier document of the place says such a thing."""
    earlier = [amendment for other in others for amendment in other.amendments]
    for amendment in layer.amendments:
        if amendment.supersedes and not any(_same(one, amendment, library) for one in earlier):
            why = f"no earlier document of {layer.code} speaks of {amendment.target} for such doors"
            yield Problem(f"{amendment.pointer}/supersedes", "unknown_target", why)


@lru_cache(maxsize=512)
def settled(layers: tuple[Layer, ...], library: Library) -> tuple[Layer, ...]:
    """The layers with every superseded statement ended on the day before its successor begins."""
    if not any(amendment.supersedes for layer in layers for amendment in layer.amendments):
        return layers
    return tuple(
        _ended(layer, [one for one in layers[number + 1 :] if one.code == layer.code], library)
        for number, layer in enumerate(layers)
    )


def _ended(layer: Layer, later: Sequence[Layer], library: Library) -> Layer:
    successors = [a for other in later for a in other.amendments if a.supersedes]
    kept = []
    for amendment in layer.amendments:
        last = [
            one.since - _DAY
            for one in successors
            if one.since and _same(amendment, one, library) and _ends(one, amendment)
        ]
        until = min([*last, amendment.until or date.max])
        kept.append(replace(amendment, until=until) if last else amendment)
    return replace(layer, amendments=tuple(kept))


def _ends(later: Amendment, earlier: Amendment) -> bool:
    return (earlier.since or date.min) < (later.since or date.min)


def _same(one: Amendment, other: Amendment, library: Library) -> bool:
    """Whether two statements speak of the same thing for the same doors."""
    alike = _subject(one, library) == _subject(other, library)
    return alike and one.where == other.where


def _subject(amendment: Amendment, library: Library) -> tuple[str, str]:
    if amendment.whole:
        publication = library.publications.get(amendment.target)
        return "edition", publication.series if publication else amendment.target
    word = "adopt" if amendment.change is Change.ADOPT else "change"
    return word, amendment.target


def _meet(one: Amendment, other: Amendment) -> bool:
    starts = max(one.since or date.min, other.since or date.min)
    return starts <= min(one.until or date.max, other.until or date.max)


def _overlap(amendment: Amendment, named: str, way_out: str) -> Problem:
    why = f"its days overlap with those of {named}; {way_out}"
    return Problem(f"{amendment.pointer}/from", "overlap", why)


def _way_out(amendment: Amendment, earlier: Amendment) -> str:
    if amendment.since is None or not _ends(amendment, earlier):
        return "give one of them other days"
    last = amendment.since - _DAY
    return f"give that one until = {last}, its last day, or one of them other days"


def _days(amendment: Amendment) -> str:
    first = f"from {amendment.since}" if amendment.since else "from ever"
    return f"{first} to {amendment.until} inclusive" if amendment.until else f"{first} without end"
