"""The course of a deficiency, read from the record: what found it, what mended it, what proved it.

Nothing is remembered beside the record: the visits that stand, in the order in which they were
performed, and the repairs. So a correction, and a visit sent late, need no rules of their own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Q

from doors.clock import civil_date
from doors.models import Opening
from inspections.models import Activity, Deficiency, Repair, Visit
from inspections.selectors.requirements import Applicable, applicable
from inspections.selectors.retests import is_qualified, qualifications_asked, scope_of
from inspections.selectors.untested import subject_of
from inspections.selectors.visits import standing_visits

Missing = dict[str, str]  # `what`, and `because`
FAILED, CONFORMS = "does_not_conform", "conforms"


@dataclass(slots=True)
class Course:
    """How far a deficiency has come: since when, by which visit, and what is still wanting."""

    state: str
    since: datetime
    proven_by: Visit | None = None
    found_again: list[str] = field(default_factory=list)
    missing: list[Missing] = field(default_factory=list)


@dataclass(slots=True)
class Record:
    """What the record of an opening holds for its deficiencies: visits that stand, by time."""

    opening: Opening
    visits: list[Visit]
    corrected_by: Mapping[UUID, UUID]
    applying_on: Callable[[date], Applicable]

    def standing(self, visit_id: UUID) -> UUID:
        """The visit that stands in the place of this one: itself, or the last correction of it."""
        while visit_id in self.corrected_by:
            visit_id = self.corrected_by[visit_id]
        return visit_id


def record_of(opening: Opening, deficiencies: Iterable[Deficiency]) -> Record:
    """What stands on record from the first of these deficiencies on."""
    corrections = Visit.objects.filter(opening=opening, supersedes__isnull=False)
    corrected_by = dict(corrections.values_list("supersedes_id", "id"))
    record = Record(opening, [], corrected_by, _once(opening))
    found = {record.standing(d.found_by_id) for d in deficiencies if d.found_by_id}
    first = min(d.opened_at for d in deficiencies)
    since = Q(performed_at__gte=first) | Q(id__in=found)
    record.visits = list(standing_visits(opening).filter(since))
    return record


def _once(opening: Opening) -> Callable[[date], Applicable]:
    known: dict[date, Applicable] = {}

    def applying_on(day: date) -> Applicable:
        if day not in known:
            known[day] = applicable(opening, day)
        return known[day]

    return applying_on


def course_of(deficiency: Deficiency, repairs: Iterable[Repair], record: Record) -> Course:
    """Walk the record from the finding on. A correction that no longer finds it, where nothing
    else does, withdraws it; one that says nothing of it leaves it to a person.
    """
    found = record.standing(deficiency.found_by_id) if deficiency.found_by_id else None
    walk = _Walk(deficiency, record, Course("open", deficiency.opened_at))
    events: list[tuple[datetime, int, Repair | Visit]] = [(r.done_at, 0, r) for r in repairs]
    events += [
        (v.performed_at, 1, v)
        for v in record.visits
        if v.id != found and v.performed_at >= deficiency.opened_at
    ]
    for _, _, event in sorted(events, key=lambda each: each[:2]):
        if isinstance(event, Repair):
            walk.repair(event)
        else:
            walk.visit(event)
        if walk.course.state == "proven":
            break
    if found != deficiency.found_by_id and not walk.course.found_again:
        (stands,) = [v for v in record.visits if v.id == found]
        if outcome(stands, deficiency) == CONFORMS:
            return Course("withdrawn", deficiency.opened_at)
    if walk.course.state != "proven":
        walk.course.missing = walk.missing()
    return walk.course


def subjects_of(visit: Visit) -> dict[str, list[dict[str, Any]]]:
    """The verdicts of a visit that bind, by what was looked at."""
    grouped: dict[str, list[dict[str, Any]]] = {}
    for verdict in visit.judgement["verdicts"]:
        if verdict["verdict"] != "not_applicable":
            grouped.setdefault(subject_of(verdict), []).append(verdict)
    return grouped


def outcome(visit: Visit, deficiency: Deficiency) -> str | None:
    """Whether a visit found it, or found it in order; None where it says neither."""
    if deficiency.subject.startswith("seen:"):
        said = {each["deficiency"]: each["result"] for each in visit.findings.get("retests", [])}
        return said.get(str(deficiency.id))
    return _outcome(subjects_of(visit), deficiency.subject)


def _outcome(subjects: Mapping[str, list[dict[str, Any]]], subject: str) -> str | None:
    words = {verdict["verdict"] for verdict in subjects.get(subject, [])}
    if FAILED in words:
        return FAILED
    return CONFORMS if words == {CONFORMS} else None


@dataclass(slots=True)
class _Walk:
    """Where one has come in the record, with what was shown since the last repair."""

    deficiency: Deficiency
    record: Record
    course: Course
    parts: set[str] = field(default_factory=set)
    scope: dict[str, str] = field(default_factory=dict)  # subject -> because
    shown: dict[str, str] = field(default_factory=dict)  # subject -> what the last retest said
    unqualified: str = ""

    def repair(self, repair: Repair) -> None:
        """Repaired, whatever was shown before."""
        self.course.state, self.course.since = "repaired", repair.done_at
        self.parts |= {p["part"] for p in repair.parts if p.get("part")}
        day = civil_date(repair.done_at, self.record.opening.site.time_zone)
        requirements = self.record.applying_on(day).requirements
        self.scope = scope_of(requirements, self.deficiency, self.parts)
        self.shown, self.unqualified = {}, ""

    def visit(self, visit: Visit) -> None:
        """Found again, or retested."""
        said = outcome(visit, self.deficiency)
        if said == FAILED:
            self.course.found_again.append(str(visit.id))
            if self.course.state == "repaired":
                self.course.state, self.course.since = "open", visit.performed_at
        elif self.course.state == "repaired" and visit.activity == Activity.REPAIR_RETEST:
            self._retest(visit, said)

    def _retest(self, visit: Visit, said: str | None) -> None:
        subjects = subjects_of(visit)
        answers = {s: _outcome(subjects, s) for s in self.scope} | {self.deficiency.subject: said}
        self._show(visit, {s: word for s, word in answers.items() if word and s in self.scope})
        if all(self.shown.get(subject) == CONFORMS for subject in self.scope):
            self.course.state, self.course.since = "proven", visit.performed_at
            self.course.proven_by = visit

    def _show(self, visit: Visit, answers: Mapping[str, str]) -> None:
        """What a retest shows counts where who made it is qualified as the place asks."""
        failed = {subject: word for subject, word in answers.items() if word == FAILED}
        self.shown |= failed
        if len(failed) == len(answers):
            return
        requirements = self.record.applying_on(visit.performed_on).requirements
        asked = [asks for _, asks in qualifications_asked(requirements, Activity.REPAIR_RETEST)]
        if asked and not is_qualified(visit):
            on = visit.performed_on.isoformat()
            self.unqualified = (
                f"The retest of {on} names nobody with a qualification valid that day; "
                f"the place asks for one: {asked[0]}"
            )
            return
        self.unqualified = ""
        self.shown |= answers

    def missing(self) -> list[Missing]:
        """What is still to be shown, each with the reason."""
        if self.course.state == "open":
            return [{"what": "repair", "because": self._why_open()}]
        missing = [
            {"what": subject, "because": self._why_missing(subject, because)}
            for subject, because in self.scope.items()
            if self.shown.get(subject) != CONFORMS
        ]
        if self.unqualified:
            missing.append({"what": "qualification", "because": self.unqualified})
        return missing

    def _why_open(self) -> str:
        if self.parts or self.scope:
            return "It was found again after the last repair."
        return "No repair is recorded."

    def _why_missing(self, subject: str, because: str) -> str:
        if self.shown.get(subject) == FAILED:
            return f"{because}. It did not conform in the last retest."
        return f"{because}."
