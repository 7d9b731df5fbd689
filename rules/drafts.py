"""A requirement on its way through the layers, before it is answered as Resolved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache

from rules.layers import Amendment, Layer, LayerKind
from rules.model import Held, LineageStep, Requirement, Resolved
from rules.vocabulary import Adoption, Basis, Change, Doors, ExistingDoors

INSTALLED = "installed_on"


@lru_cache(maxsize=4096)
def step_of(code: str, amendment: Amendment, before: Requirement | None) -> LineageStep:
    """The step of a lineage that an amendment makes, one object for all doors it amends alike."""
    return LineageStep(code, amendment.change, amendment.since, amendment.citation, before)


@dataclass(slots=True)
class Draft:
    """The requirement as it stands so far; `alias` names it in whichever edition governs."""

    requirement: Requirement
    alias: str
    layer: str
    adoption: Adoption
    advisory: bool
    since: date | None
    lineage: list[LineageStep]
    edition: str = ""
    earlier: tuple[Held, ...] = ()
    missing: set[str] = field(default_factory=set)

    def record(self, layer: Layer, amendment: Amendment, now: Requirement) -> None:
        """Let a layer's amendment make it `now`, and remember how it stood before."""
        since, bound = amendment.since, Held(self.requirement, self.since)
        self.lineage.append(step_of(layer.code, amendment, self.requirement))
        self.layer = layer.code
        self.adoption = Adoption.RECORDED
        self.requirement = now
        if amendment.change is not Change.ADOPT or self.advisory:
            # What bound nobody leaves nothing owed.
            self.earlier = () if self.advisory else (*self.earlier, bound)
            self.since = since
        if amendment.change is not Change.ADOPT:
            self.edition = ""  # the layer wrote it: its citation says where
        self.advisory = amendment.change is not Change.ADOPT and amendment.standing.advisory

    def resolved(self) -> Resolved:
        """The answer, frozen."""
        return Resolved(
            requirement=self.requirement,
            layer=self.layer,
            adoption=self.adoption,
            advisory=self.advisory,
            lineage=tuple(self.lineage),
            missing_facts=tuple(sorted(self.missing)),
            since=self.since,
            applied_edition=self.edition,
            earlier=self.earlier,
        )


@dataclass(frozen=True, slots=True)
class Case:
    """The one opening and day that is asked about. `built` is the day whose edition governs its
    construction: the last alteration, else the installation, else unknown.
    """

    facts: Mapping[str, object]
    on: date
    built: date | None

    @classmethod
    def of(cls, facts: Mapping[str, object], on: date) -> Case:
        """The case of an opening with these checked facts, on a day."""
        built = facts.get("altered_on") or facts.get(INSTALLED)
        return cls(facts, on, built if isinstance(built, date) else None)

    def deciding_day(
        self, layer: Layer, basis: Basis, doors: Doors, existing: ExistingDoors | None
    ) -> tuple[date, bool]:
        """The day on which an amendment must stand, and whether that day is known.

        A variance, a policy or listed instructions speak of this very door as it stands; a place
        speaks of doors built from then on, unless it says that existing ones follow as well.
        """
        as_it_stands = (
            layer.kind is not LayerKind.PLACE
            or basis is Basis.MAINTENANCE
            or doors is Doors.EXISTING
            or existing is ExistingDoors.THIS_EDITION
        )
        if as_it_stands:
            return self.on, True
        return (self.built, True) if self.built else (self.on, False)
