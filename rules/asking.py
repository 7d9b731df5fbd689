"""The verb `requirements`: from raw facts and a place to the set that is judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache

from rules.canonical import canonical, digest
from rules.drafts import Case
from rules.errors import InputError, UnknownNameError
from rules.facts import check_facts
from rules.instructions import Instruction, read_instructions
from rules.layers import Layer, LayerKind, Library
from rules.library import chain, load
from rules.model import RequirementSet, Resolved
from rules.overlaps import settled
from rules.resolution import resolve


def requirements(
    *,
    facts: Mapping[str, object],
    jurisdiction: str,
    on: date,
    listed_instructions: Sequence[Mapping[str, object]] = (),
    layers: Sequence[Layer] = (),
    library: Library | None = None,
) -> RequirementSet:
    """Everything that applies to one opening on one day, with the way each part came there.

    `layers` are places under `jurisdiction` in walking order, then an organization's policy and
    the door's variances. Raises InputError for facts or instructions that cannot be accepted,
    UnknownNameError for a place that does not exist.
    """
    known = library or load()
    walked = _walk(known, jurisdiction, layers)
    if not isinstance(on, date) or isinstance(on, datetime):
        raise InputError.at("/on", "not_a_date", "a civil date is needed, without a time")
    checked = check_facts(facts)
    told = Told.of(listed_instructions, known)
    items, fingerprint = _resolved(known, walked, frozenset(checked.items()), on, told)
    places = [layer.code for layer in walked if layer.kind is LayerKind.PLACE]
    return RequirementSet(items, fingerprint, places[-1], on, checked)


@lru_cache(maxsize=4096)
def _resolved(
    library: Library,
    walked: tuple[Layer, ...],
    facts: frozenset[tuple[str, object]],
    on: date,
    told: Told,
) -> tuple[tuple[Resolved, ...], str]:
    """Doors of one kind at one place are many, and resolve alike."""
    items = resolve(library, walked, Case.of(dict(facts), on), told.instructions)
    return items, digest(items)


@dataclass(frozen=True, slots=True)
class Told:
    """A door's listed instructions, equal where they were written alike."""

    written: str
    instructions: tuple[Instruction, ...] = field(compare=False)

    @classmethod
    def of(cls, raw: Sequence[Mapping[str, object]], library: Library) -> Told:
        """Read and check them; raises InputError with every mistake."""
        read = read_instructions(raw, library)
        return cls(canonical(raw) if read else "", read)


def _walk(library: Library, jurisdiction: str, layers: Sequence[Layer]) -> tuple[Layer, ...]:
    start = _start(library, jurisdiction, layers)
    if start not in library.places:
        raise UnknownNameError(unknown_place(library, jurisdiction, layers))
    walked = list(chain(library.places, start))
    for number, layer in enumerate(layers):
        if layer.kind is LayerKind.PLACE and not _lies_here(layer, walked, library):
            why = f"{layer.code} lies under {layer.parent or 'nothing'}, not under {start}"
            raise InputError.at(f"/layers/{number}", "wrong_parent", why)
        walked.append(layer)
    return settled(tuple(walked), library)


def _start(library: Library, code: str, layers: Sequence[Layer]) -> str:
    """The packaged place from which the way leads down to the place asked for, which may be the
    last one laid here.
    """
    parents = _laid(layers)
    if code in library.places or code not in list(parents)[-1:]:
        return code
    for _ in parents:
        if code not in library.places:
            code = parents.get(code, code)
    return code


def _laid(layers: Sequence[Layer]) -> dict[str, str]:
    """The places among these layers in walking order, each with its parent."""
    return {layer.code: layer.parent for layer in layers if layer.kind is LayerKind.PLACE}


def unknown_place(library: Library, code: str, layers: Sequence[Layer] = ()) -> str:
    """What to say of a code that no place has."""
    known = ", ".join([*library.places, *list(_laid(layers))[-1:]])
    return f"no jurisdiction has the code {code[:60]!r}; there are: {known}"


def _lies_here(layer: Layer, walked: Sequence[Layer], library: Library) -> bool:
    """Whether a place can be on this way down. Its parent may be one that has no layer, but never
    a packaged place on another way.
    """
    codes = {place.code for place in walked}
    if layer.code in codes or layer.parent in codes:
        return True
    return bool(layer.parent) and not {layer.code, layer.parent} & library.places.keys()
