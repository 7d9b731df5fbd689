"""Every mistake of a layer, judged against what it inherits.

The loader judges the shape of a document; here it is asked whether parents and targets exist, are
inherited on the day, move the right way, and do not overlap.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from rules.amending import move
from rules.editions import timelines
from rules.errors import DataError, Problem
from rules.layers import Amendment, Layer, LayerKind, Library
from rules.library import chain, load, named_in, read_toml
from rules.loading.layers import read_layer
from rules.model import Requirement
from rules.predicates import ALWAYS
from rules.vocabulary import Change


def parse_layer(
    document: str | Mapping[str, Any],
    *,
    name: str = "override",
    above: Sequence[Layer] = (),
    library: Library | None = None,
) -> Layer:
    """The layer that a TOML text, or the same as a mapping, writes.

    `above` are layers between the packaged places and this one, as `requirements` takes them.
    Raises DataError with every mistake, each with its pointer.
    """
    known, upper = library or load(), tuple(above)
    if isinstance(document, str):
        return _parsed(document, name, upper, known)
    if not isinstance(document, Mapping):
        raise DataError(name, [Problem("", "wrong_type", "an override is a TOML text or a table")])
    return _read(document, name, upper, known)


@lru_cache(maxsize=512)
def _parsed(text: str, name: str, above: tuple[Layer, ...], library: Library) -> Layer:
    """The same text is the same layer, so that what is resolved through it can be kept."""
    return _read(read_toml(text, name), name, above, library)


def _read(
    document: Mapping[str, Any], name: str, above: tuple[Layer, ...], library: Library
) -> Layer:
    layer = read_layer(document, file=name)
    problems = list(check_layer(layer, library, above))
    if problems:
        raise DataError(name, problems)
    return layer


def lint(text: str, *, name: str) -> list[Problem]:
    """Every mistake in the TOML text of a layer; an empty list where there is none."""
    try:
        parse_layer(text, name=name)
    except DataError as refused:
        return list(refused.problems)
    return []


def check_layer(layer: Layer, library: Library, above: Sequence[Layer] = ()) -> Iterator[Problem]:
    """What is wrong with a well-formed layer where it stands."""
    places = dict(library.places)
    places.update({place.code: place for place in above if place.kind is LayerKind.PLACE})
    unfit = list(_check_parent(layer, places))
    yield from unfit
    yield from _overlaps(layer, library)
    walked: tuple[Layer, ...] = ()
    if layer.kind is LayerKind.PLACE and not unfit:
        start = layer.code if layer.code in places else layer.parent
        walked = chain(places, start) if start else ()
    others = [place for place in places.values() if place not in walked]
    for amendment in layer.amendments:
        yield from _check_amendment(amendment, _Ground(library, layer, walked, tuple(others)))


@dataclass(frozen=True, slots=True)
class _Ground:
    """What an amendment of `layer` stands on: the layers that it inherits, and all others."""

    library: Library
    layer: Layer
    walked: tuple[Layer, ...]
    others: tuple[Layer, ...]

    def targets(self, name: str) -> list[Requirement]:
        """Every requirement of that name, wherever it is written."""
        layers = (*self.walked, *self.others, self.layer)
        own = (a for layer in layers for a in layer.amendments if a.change is Change.ADD)
        added = (amendment.requirement for amendment in own)
        found = list(named_in(self.library, name))
        return found + [r for r in added if r is not None and r.id == name and r not in found]

    def held(self) -> set[str]:
        """The names of every requirement that some day brings into force here."""
        layers = tuple(dict.fromkeys((*self.walked, self.layer)))
        held = {
            requirement.id
            for timeline in timelines(self.library, layers)
            for segment in timeline
            for requirement in segment.publication.every
            if not requirement.adoption_only
        }
        for amendment in (a for layer in layers for a in layer.amendments if not a.whole):
            if amendment.change in {Change.ADD, Change.ADOPT}:
                held.add(amendment.target)
                held.update(r.id for r in named_in(self.library, amendment.target))
        return held

    def withdrawn(self, day: date) -> set[str]:
        """The names of what a layer above took away for every opening by that day."""
        gone: set[str] = set()
        for amendment in (a for layer in self.walked for a in layer.amendments):
            everywhere = amendment.where == ALWAYS
            if amendment.change is Change.WITHDRAW and everywhere and amendment.stands_on(day):
                gone.add(amendment.target)
                gone.update(r.id for r in named_in(self.library, amendment.target))
        return gone


def _check_parent(layer: Layer, places: Mapping[str, Layer]) -> Iterator[Problem]:
    pointer = "/jurisdiction/parent"
    known = places.get(layer.code)
    if layer.kind is not LayerKind.PLACE:
        return
    if layer.parent == layer.code:
        yield Problem(pointer, "cycle", f"{layer.code} is named as its own parent")
    elif layer.parent and layer.parent not in places:
        yield Problem(pointer, "unknown_place", f"no place has the code {layer.parent}")
    elif known is not None and known.parent != layer.parent:
        try:
            chain({**places, layer.code: layer}, layer.code)
        except DataError as refused:
            yield Problem(pointer, "cycle", refused.problems[0].message)
        else:
            why = f"{layer.code} lies under {known.parent or 'nothing'}"
            yield Problem(pointer, "wrong_parent", why)


# --- one amendment ---------------------------------------------------------------------------


def _check_amendment(amendment: Amendment, ground: _Ground) -> Iterator[Problem]:
    if amendment.change is Change.ADD:
        return
    if amendment.whole:
        yield from _check_edition(amendment, ground.library)
        return
    key = "requirement" if amendment.change is Change.ADOPT else "target"
    pointer = f"{amendment.pointer}/{key}"
    targets = ground.targets(amendment.target)
    if not targets:
        yield Problem(pointer, "unknown_target", f"no requirement is named {amendment.target}")
        return
    if amendment.change is not Change.ADOPT and ground.walked:
        yield from _check_inherited(amendment, ground, targets)
    if amendment.change is Change.REPLACE:
        yield from _check_kind(amendment, targets)
    if amendment.change in {Change.TIGHTEN, Change.RELAX}:
        yield from _check_move(amendment, targets)


def _check_edition(amendment: Amendment, library: Library) -> Iterator[Problem]:
    pointer = f"{amendment.pointer}/publication"
    publication = library.publications.get(amendment.target)
    if publication is None:
        yield Problem(pointer, "unknown_target", f"no publication has the id {amendment.target}")
    elif not publication.series:
        why = f"{amendment.target} is no edition of a series; adopt its requirements by name"
        yield Problem(pointer, "not_an_edition", why)


def _check_inherited(
    amendment: Amendment, ground: _Ground, targets: Sequence[Requirement]
) -> Iterator[Problem]:
    """A thing that nobody above set, or that somebody withdrew, cannot be changed."""
    day = amendment.since or date.max
    names = {requirement.id for requirement in targets} | {amendment.target}
    if not names & (ground.held() - ground.withdrawn(day)):
        why = f"{amendment.target} does not stand here on {day}: nothing to {amendment.change}"
        yield Problem(f"{amendment.pointer}/target", "not_inherited", why)


def _check_kind(amendment: Amendment, targets: Sequence[Requirement]) -> Iterator[Problem]:
    new = amendment.requirement
    if new is not None and all(target.kind is not new.kind for target in targets):
        why = f"{amendment.target} is a {targets[0].kind}, and is replaced by the same kind"
        yield Problem(f"{amendment.pointer}/kind", "wrong_kind", why)


def _check_move(amendment: Amendment, targets: Sequence[Requirement]) -> Iterator[Problem]:
    moves = [move(target, amendment) for target in targets]
    refused = next((moved for moved in moves if moved.problem), None)
    if refused is not None:
        where = f"{amendment.pointer}/{refused.key or 'target'}"
        yield Problem(where, "cannot_move", refused.problem)
    elif all(moved.change is not amendment.change for moved in moves):
        why = f"this does not {amendment.change} {amendment.target}"
        yield Problem(amendment.pointer, "wrong_direction", why)


# --- days ------------------------------------------------------------------------------------


def _overlaps(layer: Layer, library: Library) -> Iterator[Problem]:
    seen: dict[tuple[str, str], list[Amendment]] = {}
    for amendment in layer.amendments:
        key = _subject(amendment, library)
        for earlier in seen.setdefault(key, []):
            if _meet(earlier, amendment) and earlier.where == amendment.where:
                why = f"its days overlap with those of {earlier.pointer}: give that one an until"
                yield Problem(f"{amendment.pointer}/from", "overlap", why)
        seen[key].append(amendment)


def _subject(amendment: Amendment, library: Library) -> tuple[str, str]:
    if amendment.whole:
        publication = library.publications.get(amendment.target)
        return "edition", publication.series if publication else amendment.target
    word = "adopt" if amendment.change is Change.ADOPT else "change"
    return word, amendment.target


def _meet(one: Amendment, other: Amendment) -> bool:
    starts = max(one.since or date.min, other.since or date.min)
    return starts <= min(one.until or date.max, other.until or date.max)
