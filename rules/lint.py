"""Every mistake of a layer, judged against what it inherits.

The loader judges the shape of a document; here it is asked whether parents and targets exist, are
inherited on the day, move the right way, and do not overlap. What can be read of a document is
judged even where its shape is wrong elsewhere, so that one run names every mistake.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from functools import lru_cache
from typing import Any

from rules import overlaps
from rules.amending import move
from rules.errors import DataError, Problem
from rules.inheritance import Ground
from rules.layers import Amendment, Layer, LayerKind, Library
from rules.library import chain, load, read_toml
from rules.loading.layers import read_layer, readable_layer
from rules.loading.publications import read_publication
from rules.model import IntervalSpec, LimitSpec, Requirement, RetentionSpec
from rules.remarks import remarks
from rules.vocabulary import Change
from rules.wording import in_words

_MOST_STEPS = 2  # of a pointer to a statement: /tighten/0
# What is wrong with a statement as such, however its numbers are written.
_OF_THE_STATEMENT = frozenset(("unknown_target", "not_inherited", "not_an_edition", "overlap"))
_MOVED_BY = {LimitSpec: ("low", "high"), IntervalSpec: ("every",), RetentionSpec: ("keep",)}


def parse_layer(
    document: str | Mapping[str, Any],
    *,
    name: str = "override",
    above: Sequence[Layer] = (),
    library: Library | None = None,
) -> Layer:
    """The layer that a TOML text, or the same as a mapping, writes.

    `above` are layers between the packaged places and this one, and earlier documents of the same
    place, as `requirements` takes them. Raises DataError with every mistake, each with its
    pointer.
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
    layer, problems = readable_layer(document, file=name)
    if layer is not None:
        problems += _beyond(problems, check_layer(layer, library, above))
    if problems or layer is None:
        raise DataError(name, problems)
    return layer


@lru_cache(maxsize=512)
def published_layer(text: str, name: str) -> Layer:
    """The layer of a document that was judged when it was published: whether it fits is not asked
    again, so that nothing published becomes unreadable by what came after it.
    """
    return read_layer(read_toml(text, name), file=name)


def lint(text: str, *, name: str, above: Sequence[Layer] = ()) -> list[Problem]:
    """Every mistake in the TOML text of a layer, or of a publication; an empty list where there
    is none.
    """
    try:
        document = read_toml(text, name)
        if "publication" in document:
            read_publication(document, file=name)
        else:
            _read(document, name, tuple(above), load())
    except DataError as refused:
        return list(refused.problems)
    return []


def lint_remarks(text: str, *, name: str) -> list[Problem]:
    """The remarks on a text that has no mistake; none on a publication's."""
    document = read_toml(text, name)
    if "publication" in document:
        return []
    return remarks(read_layer(document, file=name))


def _beyond(shape: Sequence[Problem], found: Iterator[Problem]) -> list[Problem]:
    """What does not follow from the mistakes of shape in the same statement."""
    broken = {_statement(problem.pointer) for problem in shape}
    known = {problem.pointer for problem in shape}
    scope = re.compile(r"(/\w+/\d+)/(?:from|until|where)\b")
    for at in filter(None, map(scope.match, tuple(known))):
        known |= {f"{at[1]}/from", f"{at[1]}/target"}  # by its days alone it may stand rightly
    return [
        problem
        for problem in found
        if problem.pointer not in known
        and (problem.code in _OF_THE_STATEMENT or _statement(problem.pointer) not in broken)
    ]


def _statement(pointer: str) -> tuple[str, ...]:
    return tuple(pointer.split("/")[1 : 1 + _MOST_STEPS])


def check_layer(layer: Layer, library: Library, above: Sequence[Layer] = ()) -> Iterator[Problem]:
    """What is wrong with a well-formed layer where it stands."""
    places = {place.code: place for place in above if place.kind is LayerKind.PLACE}
    places = {**library.places, **places}
    unfit = list(_check_parent(layer, places))
    yield from unfit
    homeless = Ground(library, layer, (), tuple(places.values()))
    ground = homeless if unfit else Ground.of(layer, library, above, places)
    own = [other for other in ground.walked if other.code == layer.code]
    published = own[1:] if layer.code in library.places else own  # the packaged one comes first
    yield from overlaps.within(layer, library)
    yield from overlaps.beside(layer, published, library)
    yield from overlaps.superseding_nothing(layer, own, library)
    for amendment in layer.amendments:
        yield from _check_amendment(amendment, ground)


def _check_parent(layer: Layer, places: Mapping[str, Layer]) -> Iterator[Problem]:
    pointer = "/jurisdiction/parent"
    known = places.get(layer.code)
    if layer.kind is not LayerKind.PLACE or not layer.code:
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


def _check_amendment(amendment: Amendment, ground: Ground) -> Iterator[Problem]:
    if amendment.change is Change.ADD or not amendment.target:
        return
    if amendment.whole:
        yield from _check_edition(amendment, ground.library)
        return
    key = "requirement" if amendment.change is Change.ADOPT else "target"
    targets = ground.targets(amendment.target)
    if not targets:
        why = f"no requirement is named {amendment.target}"
        yield Problem(f"{amendment.pointer}/{key}", "unknown_target", why)
        return
    if amendment.change is not Change.ADOPT and ground.walked:
        yield from _check_inherited(amendment, ground, targets)
    if amendment.change is Change.REPLACE:
        yield from _check_kind(amendment, targets)
    if amendment.change in {Change.TIGHTEN, Change.RELAX}:
        yield from _check_move(amendment, [ground.as_it_stands(t, amendment) for t in targets])


def _check_edition(amendment: Amendment, library: Library) -> Iterator[Problem]:
    pointer = f"{amendment.pointer}/publication"
    publication = library.publications.get(amendment.target)
    if publication is None:
        yield Problem(pointer, "unknown_target", f"no publication has the id {amendment.target}")
    elif not publication.series:
        why = f"{amendment.target} is no edition of a series; adopt its requirements by name"
        yield Problem(pointer, "not_an_edition", why)


def _check_inherited(
    amendment: Amendment, ground: Ground, targets: Sequence[Requirement]
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
    """`targets` are the requirements as they stand above."""
    idle = list(_idle_numbers(amendment, targets))
    yield from idle
    moves = [move(target, amendment) for target in targets]
    refused = next((moved for moved in moves if moved.problem), None)
    if refused is not None:
        where = f"{amendment.pointer}/{refused.key or 'target'}"
        yield Problem(where, "cannot_move", refused.problem)
    elif all(moved.change is not amendment.change for moved in moves):
        yield Problem(amendment.pointer, "wrong_direction", _standing_words(amendment, targets))


def _idle_numbers(amendment: Amendment, targets: Sequence[Requirement]) -> Iterator[Problem]:
    """Numbers that no target has, beside others that one has, would be passed over in silence."""
    taken = {key for target in targets for key in _MOVED_BY.get(type(target.spec), ())}
    given = [key for key in ("low", "high", "every", "keep") if getattr(amendment, key)]
    if taken & set(given):
        for key in given:
            if key not in taken:
                why = f"{amendment.target} is a {targets[0].kind} and has no {key}"
                yield Problem(f"{amendment.pointer}/{key}", "not_allowed", why)


def _standing_words(amendment: Amendment, targets: Sequence[Requirement]) -> str:
    stands = in_words(targets[-1].spec)
    return f"this does not {amendment.change} {amendment.target}, which stands here as: {stands}"
