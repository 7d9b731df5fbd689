"""What a statement of a layer stands on: what it inherits on its day, and how that stands there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from rules.amending import move
from rules.editions import of_a_kind, timelines
from rules.layers import Amendment, Layer, LayerKind, Library
from rules.library import alias, chain, named_in
from rules.model import Requirement
from rules.overlaps import settled
from rules.predicates import ALWAYS
from rules.vocabulary import Change

_MOVES = frozenset((Change.TIGHTEN, Change.RELAX, Change.REPLACE))


@dataclass(frozen=True, slots=True)
class Ground:
    """The layers that `layer` inherits, from the country down, and all others."""

    library: Library
    layer: Layer
    walked: tuple[Layer, ...]
    others: tuple[Layer, ...]

    @classmethod
    def of(
        cls, layer: Layer, library: Library, above: Sequence[Layer], places: Mapping[str, Layer]
    ) -> Ground:
        """The ground of a layer whose parents hang together in `places`."""
        walked: tuple[Layer, ...] = ()
        if layer.kind is LayerKind.PLACE:
            start = layer.code if layer.code in places else layer.parent
            found = tuple(_documents(library, above, places, start)) if start else ()
            walked = settled(found, library)
        codes = {place.code for place in walked}
        others = tuple(place for place in places.values() if place.code not in codes)
        return cls(library, layer, walked, others)

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
        bound = tuple(of_a_kind(layers))
        reigns = {*timelines(self.library, layers), *timelines(self.library, layers, bound)}
        held = {
            requirement.id
            for timeline in reigns
            for segment in timeline
            for requirement in segment.publication.every
            if not requirement.adoption_only
        }
        for amendment in (a for layer in layers for a in layer.amendments if not a.whole):
            if amendment.change in {Change.ADD, Change.ADOPT}:
                held.update(self._names(amendment.target))
        return held

    def withdrawn(self, day: date) -> set[str]:
        """The names of what a layer above took away for every opening by that day."""
        gone: set[str] = set()
        for amendment in self._for_all(day):
            if amendment.change is Change.WITHDRAW:
                gone |= self._names(amendment.target)
        return gone

    def as_it_stands(self, requirement: Requirement, amendment: Amendment) -> Requirement:
        """The requirement as the layers above have made it for every opening, on the day on which
        the amendment begins.
        """
        names = {requirement.id}
        if requirement.id in self.library.requirements:
            names.add(alias(self.library, requirement))
        for earlier in self._for_all(amendment.since or date.max, own_before=True):
            if earlier.change in _MOVES and earlier.target in names:
                requirement = _amended(requirement, earlier)
        return requirement

    def _names(self, target: str) -> set[str]:
        return {target, *(r.id for r in named_in(self.library, target))}

    def _for_all(self, day: date, *, own_before: bool = False) -> Iterator[Amendment]:
        """What the layers above say of every opening on a day; of earlier documents of the same
        place, where `own_before`, what began before that day alone.
        """
        for layer in self.walked:
            for amendment in sorted(layer.amendments, key=lambda a: a.since or date.min):
                own = layer.code == self.layer.code and amendment.since == day
                for_all = amendment.where == ALWAYS and amendment.stands_on(day)
                if for_all and not (own_before and own):
                    yield amendment


def _documents(
    library: Library, above: Sequence[Layer], places: Mapping[str, Layer], start: str
) -> Iterator[Layer]:
    """Every document of the places on the way down: the packaged one, then the further ones."""
    for place in chain(places, start):
        if place.code in library.places:
            yield library.places[place.code]
        yield from (layer for layer in above if layer.code == place.code)


def _amended(requirement: Requirement, amendment: Amendment) -> Requirement:
    if amendment.requirement is not None:
        return replace(amendment.requirement, id=requirement.id)
    moved = move(requirement, amendment)
    if moved.requirement is None or moved.change is not amendment.change:
        return requirement
    return moved.requirement
