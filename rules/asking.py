"""The verb `requirements`: from raw facts and a place to the set that is judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from rules.canonical import digest
from rules.drafts import Case
from rules.errors import InputError, UnknownNameError
from rules.facts import check_facts
from rules.instructions import read_instructions
from rules.layers import Layer, LayerKind, Library
from rules.library import chain, load
from rules.model import RequirementSet
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
    checked = check_facts(facts)
    instructions = read_instructions(listed_instructions, known)
    items = resolve(known, walked, Case.of(checked, on), instructions)
    places = [layer.code for layer in walked if layer.kind is LayerKind.PLACE]
    return RequirementSet(
        items=items,
        digest=digest(items),
        jurisdiction=places[-1],
        on=on,
        facts=checked,
    )


def _walk(library: Library, jurisdiction: str, layers: Sequence[Layer]) -> tuple[Layer, ...]:
    if jurisdiction not in library.places:
        raise UnknownNameError(f"no jurisdiction has the code {jurisdiction!r}")
    walked = list(chain(library.places, jurisdiction))
    for number, layer in enumerate(layers):
        last = walked[-1].code
        if layer.kind is LayerKind.PLACE and last not in (layer.code, layer.parent):
            why = f"{layer.code} lies under {layer.parent or 'nothing'}, not under {last}"
            raise InputError.at(f"/layers/{number}", "wrong_parent", why)
        walked.append(layer)
    return tuple(walked)
