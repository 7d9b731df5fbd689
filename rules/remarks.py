"""What the author of a layer may not have meant, though nothing is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator

from rules.errors import Problem
from rules.inheritance import Ground
from rules.layers import Amendment, Layer, LayerKind, Library
from rules.library import load
from rules.model import Requirement
from rules.vocabulary import Basis, Change, Doors


def remarks(layer: Layer, library: Library | None = None) -> list[Problem]:
    """A remark, with its pointer, on each statement that reaches new doors alone and does not say
    so: what a door must be like is governed by the day it was built, unless the statement says
    that existing doors follow.
    """
    if layer.kind is not LayerKind.PLACE:
        return []
    known = library or load()
    ground = Ground(known, layer, (), tuple(known.places.values()))
    return list(_new_doors_only(layer, ground))


def _new_doors_only(layer: Layer, ground: Ground) -> Iterator[Problem]:
    for amendment in layer.amendments:
        silent = amendment.existing_doors is None
        if silent and any(map(_of_construction, _spoken_of(amendment, ground))):
            message = (
                "this reaches only doors permitted, installed or altered "
                f"{_when(amendment)}; doors that already stand keep what they were built to. To "
                'reach those as well, write existing_doors = "this_edition" here; to say that '
                'they are meant to keep it, existing_doors = "as_built"'
            )
            yield Problem(amendment.pointer, "new_doors_only", message)


def _when(amendment: Amendment) -> str:
    return f"from {amendment.since} {f'to {amendment.until}' if amendment.until else 'on'}"


def _spoken_of(amendment: Amendment, ground: Ground) -> list[Requirement]:
    if amendment.whole:
        publication = ground.library.publications.get(amendment.target)
        return list(publication.every) if publication else []
    if amendment.change is Change.ADD and amendment.requirement is not None:
        return [amendment.requirement]
    return ground.targets(amendment.target)


def _of_construction(requirement: Requirement) -> bool:
    return requirement.basis is Basis.CONSTRUCTION and requirement.doors is not Doors.EXISTING
