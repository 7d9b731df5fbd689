"""A visit as a packet holds it: what was sent, and what it was judged to be."""

from __future__ import annotations

from typing import Any, Literal

from inspections.pdf.document.judged import Frozen, Summary, Verdict
from inspections.plots.traces import Trace
from rules.vocabulary import Activity, VerdictWord


class Reading(Frozen, frozen=True):
    """A value exactly as sent, or `result` and `reason` in its place.

    `uncertainty` is U (k = 2) in the same unit; `instrument` is its reference, or what was sent of
    it.
    """

    quantity: str
    value: str | None = None
    unit: str | None = None
    uncertainty: str | None = None
    repeat: int | None = None
    instrument: str | dict[str, Any] | None = None
    result: VerdictWord | None = None
    reason: str | None = None
    remarks: str = ""


class Check(Frozen, frozen=True):
    """A looked-at item as sent."""

    check: str
    result: VerdictWord
    reason: str | None = None
    remarks: str = ""


class StepSeen(Frozen, frozen=True):
    """A step of a sequence: `expect` is what the requirement says must be seen, `at` when it was,
    in seconds from the start.
    """

    step: str
    seen: bool | None = None
    at: str | int | float | None = None
    provided: bool = True
    expect: str = ""


class Sequence(Frozen, frozen=True):
    """An observed course of events as sent."""

    sequence: str
    result: VerdictWord
    do: str = ""
    reason: str | None = None
    steps: list[StepSeen] = []
    times: list[Reading] = []
    remarks: str = ""


class Person(Frozen, frozen=True):
    """Who did what, with the qualification as it stood on the day of the visit."""

    name: str
    role: str
    qualification: str = ""
    qualification_no: str = ""
    valid_until: str | None = None
    organization: str = ""


class Instrument(Frozen, frozen=True):
    """What was measured with, and its calibration as it stood on the day of the visit."""

    ref: str
    kind: str
    serial: str = ""
    calibrated_on: str | None = None
    calibration_due_on: str | None = None
    resolution: str | None = None
    uncertainty: str | None = None


class Attestation(Frozen, frozen=True):
    """A named person's statement that the record is theirs, over the digest of its content."""

    name: str
    at: str
    sha256: str


class Attachment(Frozen, frozen=True):
    """A photo or a paper by its digest; `kind` is empty where its bytes are missing."""

    sha256: str
    caption: str = ""
    kind: Literal["photo", "paper", ""] = ""
    missing: bool = False


class InitiatingDevice(Frozen, frozen=True):
    """What set the door in motion, and the other openings that it moves."""

    reference: str = ""
    moves: list[str] = []


class Visit(Frozen, frozen=True):
    """One attendance at one opening for one activity, as recorded and as judged."""

    id: str
    activity: Activity
    performed_at: str
    received_at: str
    organization: str
    attestation: Attestation
    summary: Summary
    people: list[Person] = []
    instruments: list[Instrument] = []
    verdicts: list[Verdict] = []
    advisory: list[Verdict] = []
    readings: list[Reading] = []
    checks: list[Check] = []
    sequences: list[Sequence] = []
    traces: list[Trace] = []
    alarm_log: dict[str, Any] | None = None
    attachments: list[Attachment] = []
    initiating_device: InitiatingDevice | None = None
    remarks: str = ""
    warnings: list[str] = []
    supersedes: str | None = None
    superseded_by: str | None = None
