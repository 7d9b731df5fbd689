"""The frozen packet document, typed: what a packet holds and nothing else.

Every value is text, a whole number, a truth value or null, so that it can be canonical JSON;
decimals are text as sent, dates and times ISO 8601.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import msgspec

from inspections.pdf.document.judged import Citation, Frozen
from inspections.pdf.document.openings import InterimMeasure, Opening
from inspections.pdf.document.visits import Instrument, Person


class PacketError(ValueError):
    """A document that is no packet; the message leads to the key and says why."""


class Library(Frozen, frozen=True):
    """Which rules library judged."""

    version: str


class Packet(Frozen, frozen=True):
    """The packet itself: `id` and `version` name it; `supersedes` names the packet it replaces."""

    id: str
    version: int
    assembled_at: str
    assembled_by: str
    library: Library
    language: Literal["en"] = "en"
    supersedes: str | None = None
    demonstration: bool = False


class Place(Frozen, frozen=True):
    """A jurisdiction."""

    code: str
    name: str


class Authority(Frozen, frozen=True):
    """To whom the packet is addressed."""

    name: str
    jurisdiction: Place


class Owner(Frozen, frozen=True):
    """Who answers for the site."""

    name: str


class Site(Frozen, frozen=True):
    """The building."""

    name: str
    address: list[str]
    time_zone: str
    ref: str = ""


class Organization(Frozen, frozen=True):
    """A party that acted on the openings, with the address a record must name."""

    name: str
    capability: str
    address: list[str] = []
    telephone: str = ""


class NotIncluded(Frozen, frozen=True):
    """An opening of the site that is not in the packet, and why."""

    opening: str
    reason: str


class Coverage(Frozen, frozen=True):
    """How much of the site is in the packet; `says` is its first line."""

    openings: int
    included: int
    says: str
    not_included: list[NotIncluded] = []


class Counts(Frozen, frozen=True):
    """Visits that stand, by verdict."""

    conforms: int
    does_not_conform: int
    inconclusive: int
    not_tested: int


class EditionInForce(Frozen, frozen=True):
    """A publication's edition that was applied."""

    publication: str
    edition: str


class OverrideInForce(Frozen, frozen=True):
    """What a place changed, from when, and where that is written."""

    title: str
    begins_on: str
    citation: Citation


class PlaceRules(Frozen, frozen=True):
    """The editions and overrides of one place on the way from country to door."""

    place: str
    name: str
    adoption: Literal["recorded", "not_recorded"]
    editions: list[EditionInForce] = []
    overrides: list[OverrideInForce] = []


class ExceptionItem(Frozen, frozen=True):
    """One thing a reviewer wants to see first."""

    opening: str
    kind: Literal[
        "does_not_conform",
        "inconclusive",
        "not_tested",
        "deficiency_open",
        "interim_measure_without_end",
        "overdue",
        "missing_attachment",
    ]
    words: str
    since: str | None = None
    deadline: str | None = None
    interim: InterimMeasure | None = None


class Verification(Frozen, frozen=True):
    """How a reader can tell that this is what was filed."""

    url: str
    content_sha256: str
    how: list[str] = []


class Document(Frozen, frozen=True):
    """The whole packet."""

    packet: Packet
    authority: Authority
    owner: Owner
    site: Site
    coverage: Coverage
    counts: Counts
    verify: Verification
    rules: list[PlaceRules] = []
    exceptions: list[ExceptionItem] = []
    openings: list[Opening] = []
    organizations: list[Organization] = []
    people: list[Person] = []
    instruments: list[Instrument] = []
    cautions: list[str] = []


def read(content: Mapping[str, object]) -> Document:
    """The typed packet; raises PacketError leading to the first key that does not fit."""
    try:
        return msgspec.convert(content, Document)
    except msgspec.ValidationError as error:
        raise PacketError(str(error)) from error
