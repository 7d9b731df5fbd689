"""An opening as a packet holds it: the door, what is owed on it, and what was wrong with it."""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from inspections.pdf.document.judged import Citation, Frozen
from inspections.pdf.document.visits import Visit
from inspections.plots.traces import Series
from rules.vocabulary import Activity


class InterimMeasure(Frozen, frozen=True):
    """What keeps people protected until the repair is proven; without an end it is an exception."""

    words: str
    responsible: str
    begins_at: str = msgspec.field(name="from")
    ends_at: str | None = msgspec.field(name="until", default=None)


class Repair(Frozen, frozen=True):
    """What was done, when, by whom, with which parts."""

    on: str
    by: str
    words: str
    organization: str = ""
    parts: list[str] = []


class Deficiency(Frozen, frozen=True):
    """What is wrong, or was: from its opening to its proof."""

    ref: str
    words: str
    requirement: str
    opened_on: str
    state: Literal["open", "repaired", "proven", "withdrawn"]
    guarded: bool
    interim: list[InterimMeasure] = []
    repairs: list[Repair] = []
    proven_on: str | None = None
    proven_by_visit: str | None = None
    withdrawn_reason: str | None = None


class Duty(Frozen, frozen=True):
    """An activity owed, with its window."""

    activity: Activity
    due_on: str
    closes_on: str
    state: str
    citation: Citation
    adoption: Literal["recorded", "not_recorded"] = "recorded"
    opens_on: str | None = None
    reason: str = ""


class Tag(Frozen, frozen=True):
    """A number on the door, from when to when."""

    tag: str
    begins_on: str | None = msgspec.field(name="from", default=None)
    ends_on: str | None = msgspec.field(name="until", default=None)


class Opening(Frozen, frozen=True):
    """One door assembly and everything recorded at it, newest visit first."""

    tag: str
    location: str
    door_type: str
    tags: list[Tag] = []
    floor: str = ""
    operation: str = ""
    ratings: dict[str, Any] = {}
    facts: dict[str, Any] = {}
    duties: list[Duty] = []
    visits: list[Visit] = []
    deficiencies: list[Deficiency] = []
    series: list[Series] = []
