"""What the rules library answered, as a packet holds it.

It is taken as it is: a later library may say more, so keys this print has no place for are let
through here, and only here.
"""

from __future__ import annotations

from typing import Any

import msgspec

from rules.vocabulary import VerdictWord


class Frozen(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A part of the packet that the service wrote: an unknown key is refused, not left out."""


class Told(msgspec.Struct, frozen=True):
    """A part that the rules library wrote; keys this print has no place for may stand in it."""


class Amount(Told, frozen=True):
    """A value with its unit."""

    value: str
    unit: str


class Citation(Told, frozen=True):
    """Where a requirement is written."""

    publication: str
    edition: str
    clause: str = ""
    note: str = ""


class Limit(Told, frozen=True):
    """The bounds in the published unit, and the SI value as printed beside it."""

    comparator: str
    unit: str | None = None
    low: str | None = None
    high: str | None = None
    printed_si: str | None = None
    measurement_point: str | None = None
    method: str | None = None
    worked_out: str | None = None


class Note(Told, frozen=True):
    """A remark on a verdict."""

    code: str
    message: str


class TimedVerdict(Told, frozen=True):
    """A timed limit within a sequence."""

    quantity: str
    verdict: VerdictWord
    message: str = ""


class Governing(Told, frozen=True):
    """The strictest of several requirements on one quantity."""

    quantity: str
    requirement: str


class Verdict(Told, frozen=True):
    """One requirement judged on one visit."""

    requirement: str
    title: str
    kind: str
    verdict: VerdictWord
    citation: Citation
    standing: str
    layer: str
    adoption: str = "recorded"
    applied_edition: str | None = None
    quantity: str | None = None
    check: str | None = None
    sequence: str | None = None
    band: str | None = None
    margin: Amount | None = None
    probability_of_conformity: str | None = None
    limit: Limit | None = None
    reading: dict[str, Any] | None = None
    times: list[TimedVerdict] = []
    required: bool = True
    reason: str | None = None
    message: str = ""
    notes: list[Note] = []


class Unread(Told, frozen=True):
    """What of a governing edition was not read for such an opening: it may ask more."""

    requirement: str
    edition: str
    title: str


class Summary(Told, frozen=True):
    """The verdict over the binding requirements, in the words of the rules library."""

    verdict: VerdictWord
    says: str
    complete: bool
    counts: dict[str, int] = {}
    conditional: int = 0
    untested: list[str] = []
    governing: list[Governing] = []
    missing_facts: list[str] = []
    not_read: list[Unread] = []
