"""Every mistake of a layer, judged against what it inherits.

The loader judges the shape of a document; here it is asked whether parents and targets exist, are
inherited on the day, move the right way, and do not overlap.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from rules.amending import move
from rules.editions import timelines
from rules.errors import DataError, Problem
from rules.layers import Amendment, Layer, LayerKind, Library
from rules.library import chain, load, named_in, read_toml
from rules.loading.layers import read_layer
from rules.model import Requirement
from rules.vocabulary import Change

_NEED_A_TARGET = {Change.REPLACE, Change.TIGHTEN, Change.RELAX, Change.WITHDRAW}


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
    data = read_toml(document, name) if isinstance(document, str) else document
    layer = read_layer(data, file=name)
    problems = list(check_layer(layer, library or load(), above))
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


def check_layer(layer: Layer, library: Library, above: Sequence[Layer]) -> Iterator[Problem]:
    """What is wrong with a well-formed layer where it stands."""
    places = dict(library.places)
    places.update({place.code: place for place in above if place.kind is LayerKind.PLACE})
    yield from _check_parent(layer, places)
    yield from _overlaps(layer, library)
    try:
        walked = _inherited_layers(layer, places, above)
    except DataError:
        return  # already reported with the parent
    for amendment in layer.amendments:
        yield from _check_amendment(amendment, layer, library, walked)


def _inherited_layers(
    layer: Layer, places: Mapping[str, Layer], above: Sequence[Layer]
) -> tuple[Layer, ...]:
    if layer.kind is not LayerKind.PLACE:
        return tuple(above)
    known = {code: place for code, place in places.items() if code != layer.code}
    return chain(known, layer.parent) if layer.parent else ()


def _check_parent(layer: Layer, places: Mapping[str, Layer]) -> Iterator[Problem]:
    if layer.kind is not LayerKind.PLACE or not layer.parent:
        return
    pointer = "/jurisdiction/parent"
    if layer.parent == layer.code:
        yield Problem(pointer, "cycle", f"{layer.code} is named as its own parent")
        return
    if layer.parent not in places:
        yield Problem(pointer, "unknown_place", f"no place has the code {layer.parent}")
        return
    try:
        chain({**places, layer.code: layer}, layer.code)
    except DataError as refused:
        yield Problem(pointer, "cycle", refused.problems[0].message)


# --- one amendment ---------------------------------------------------------------------------


def _check_amendment(
    amendment: Amendment, layer: Layer, library: Library, walked: tuple[Layer, ...]
) -> Iterator[Problem]:
    key = "target"
    if amendment.change is Change.ADOPT:
        key = "publication" if amendment.whole else "requirement"
    pointer = f"{amendment.pointer}/{key}"
    if amendment.change is Change.ADD:
        return
    if amendment.whole:
        yield from _check_edition(amendment, library, pointer)
        return
    targets = _targets(amendment, layer, library, walked)
    if not targets:
        yield Problem(pointer, "unknown_target", f"no requirement is named {amendment.target}")
    elif amendment.change in _NEED_A_TARGET and walked:
        yield from _check_inherited(amendment, layer, library, walked, targets)
    yield from _check_move(amendment, targets, pointer)


def _check_edition(amendment: Amendment, library: Library, pointer: str) -> Iterator[Problem]:
    publication = library.publications.get(amendment.target)
    if publication is None:
        yield Problem(pointer, "unknown_target", f"no publication has the id {amendment.target}")
    elif not publication.series:
        why = f"{amendment.target} is no edition of a series; adopt its requirements by name"
        yield Problem(pointer, "not_an_edition", why)


def _targets(
    amendment: Amendment, layer: Layer, library: Library, walked: Sequence[Layer]
) -> list[Requirement]:
    found = list(named_in(library, amendment.target))
    found += [
        other.requirement
        for place in (*walked, layer)
        for other in place.amendments
        if other.change is Change.ADD
        and other.requirement is not None
        and other.requirement.id == amendment.target
    ]
    return found


def _check_inherited(
    amendment: Amendment,
    layer: Layer,
    library: Library,
    walked: tuple[Layer, ...],
    targets: Sequence[Requirement],
) -> Iterator[Problem]:
    """A thing that nobody above set, or that somebody withdrew, cannot be changed."""
    day = amendment.since or date.max
    names = {requirement.id for requirement in targets} | {amendment.target}
    held = _held(library, (*walked, layer)) - _withdrawn(walked, day)
    if not names & held:
        pointer = f"{amendment.pointer}/target"
        why = f"{amendment.target} does not stand here on {day}, so nothing can {amendment.change}"
        yield Problem(pointer, "not_inherited", f"{why} it")


def _held(library: Library, layers: tuple[Layer, ...]) -> set[str]:
    """Every requirement that any day brings into force along these layers."""
    held = {
        requirement.id
        for timeline in timelines(library, layers)
        for segment in timeline
        for requirement in segment.publication.every
        if not requirement.adoption_only
    }
    for layer in layers:
        for amendment in layer.amendments:
            if amendment.change is Change.ADD:
                held.add(amendment.target)
            if amendment.change is Change.ADOPT and not amendment.whole:
                held.update(r.id for r in named_in(library, amendment.target))
    return held


def _withdrawn(layers: Sequence[Layer], day: date) -> set[str]:
    return {
        amendment.target
        for layer in layers
        for amendment in layer.amendments
        if amendment.change is Change.WITHDRAW
        and amendment.stands_on(day)
        and not getattr(amendment.where, "parts", True)
    }


def _check_move(
    amendment: Amendment, targets: Sequence[Requirement], pointer: str
) -> Iterator[Problem]:
    if amendment.change not in {Change.TIGHTEN, Change.RELAX}:
        return
    moves = [move(target, amendment) for target in targets]
    for moved in moves:
        if moved.problem:
            where = f"{amendment.pointer}/{moved.key}" if moved.key else pointer
            yield Problem(where, "cannot_move", moved.problem)
            return
    if moves and not any(moved.change is amendment.change for moved in moves):
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
