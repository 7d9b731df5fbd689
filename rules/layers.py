"""The parts that a resolution walks: publications, layers with their amendments, the library."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from rules.model import Citation, Requirement
from rules.predicates import ALWAYS, Predicate
from rules.quantities import Quantity
from rules.vocabulary import Change, ExistingDoors, Standing

EVERYWHERE = "*"
INSTRUCTIONS = "listed_instructions"


@dataclass(frozen=True, slots=True)
class Publication:
    """One edition of one publisher's text, as far as it was read.

    `series` joins the editions that replace each other; `reference_in` are the places (and what
    lies under them) where the model edition applies as reference while no adoption is recorded.
    What this edition does not repeat is `carried` from an earlier one whose later wording was not
    read, under that one's own ids and citations; `drops` names what it is known to have dropped.
    A correction of this data is a later `revision` of the same id, with its `reason`.
    """

    id: str
    title: str
    edition: str
    publisher: str
    requirements: tuple[Requirement, ...]
    series: str = ""
    edition_year: int | None = None
    reference_in: tuple[str, ...] = ()
    carries_from: str = ""
    drops: frozenset[str] = frozenset()
    revision: int = 1
    reason: str = ""
    carried: tuple[Requirement, ...] = ()

    @property
    def every(self) -> tuple[Requirement, ...]:
        """Its own requirements and the carried ones."""
        return self.requirements + self.carried


class LayerKind(StrEnum):
    """Who speaks in a layer."""

    PLACE = "jurisdiction"
    POLICY = "policy"
    VARIANCE = "variance"
    INSTRUCTIONS = "listed_instructions"


@dataclass(frozen=True, slots=True, eq=False)  # told apart by identity: kept as a cache key
class Amendment:
    """One thing a layer does to what it inherits, from a day, with its own citation.

    `target` is a publication, a requirement, or a requirement in whichever edition of a series
    governs (`nfpa-80/inspection/yearly`). Numbers that are None leave the inherited ones alone.
    `until` is the last day on which it stands. One that `supersedes` ends, on the day before it
    begins, what an earlier document of the same place says of the same target and the same doors.
    """

    change: Change
    target: str
    since: date | None
    until: date | None
    citation: Citation
    standing: Standing
    pointer: str
    where: Predicate = ALWAYS
    existing_doors: ExistingDoors | None = None
    requirement: Requirement | None = None
    low: Quantity | None = None
    high: Quantity | None = None
    every: str = ""
    keep: str = ""
    whole: bool = False
    supersedes: bool = False

    def stands_on(self, day: date) -> bool:
        """Whether it is in force on that day; the last day is inside."""
        begun = self.since is None or self.since <= day
        return begun and (self.until is None or day <= self.until)


@dataclass(frozen=True, slots=True, eq=False)  # told apart by identity: kept as a cache key
class Layer:
    """A place, an organization's policy, or a variance for one opening, and what it changes."""

    kind: LayerKind
    code: str
    parent: str
    name: str
    amendments: tuple[Amendment, ...]
    place_kind: str = ""
    authority: str = ""
    revision: int = 1
    reason: str = ""
    document: str = ""  # the name of the file or the title of the override that wrote it


@dataclass(frozen=True, slots=True, eq=False)  # told apart by identity: kept as a cache key
class Library:
    """Publications and places that fit each other, with what is looked up in them.

    `requirements` holds every publication's own ones by id; `series` the editions that replace
    each other, oldest first; a publication without a series stands alone under its own id.
    """

    publications: Mapping[str, Publication]
    places: Mapping[str, Layer]
    requirements: Mapping[str, Requirement]
    series: Mapping[str, tuple[Publication, ...]]
