"""What the record of an opening does to its deficiencies: a visit, a correction, a repair."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db.models import F, Q

from doors.errors import RefusedError
from doors.models import Opening
from doors.selectors.sight import as_custodian
from doors.services.ledger import LedgerLine
from doors.tenancy import current
from inspections.models import Deficiency, Repair, Visit
from inspections.selectors.courses import (
    FAILED,
    Course,
    Record,
    course_of,
    record_of,
    subjects_of,
)
from inspections.selectors.deadlines import deadline_of
from inspections.selectors.deficiencies import STANDING
from inspections.states import DEFICIENCY_READ_ANEW, move
from rules.model import RequirementSet

_CORRECTED = "a later visit corrected the one that found it"
_MOVED = (
    "state",
    "version",
    "moved_at",
    "ended_at",
    "reason",
    "withdrawn_for",
    "proven_by",
    "found_again",
    "retest_missing",
)


@dataclass(slots=True)
class Followed:
    """What a visit or a repair did to the deficiencies of its opening, and the ledger's lines."""

    proven: list[Deficiency] = field(default_factory=list)
    moved: list[Deficiency] = field(default_factory=list)
    lines: list[LedgerLine] = field(default_factory=list)

    def enter(self, deficiency: Deficiency, kind: str, **more: Any) -> None:
        """Note that it came into the state in which it is now, and the ledger's line of it."""
        self.moved.append(deficiency)
        if deficiency.state == "proven":
            self.proven.append(deficiency)
        content = {"subject": deficiency.subject, "requirements": deficiency.requirements, **more}
        self.lines.append(LedgerLine(kind, deficiency.id, deficiency.site_id, content))


def follow_visit(
    visit: Visit, opening: Opening, requirements: RequirementSet, custodian_id: UUID
) -> Followed:
    """Open, reopen and prove deficiencies by a visit's binding verdicts, and take back what
    followed from one that it corrects.

    Two publishers may regulate one quantity: what fails both is one thing wrong, and proven when
    nothing asked of it fails any more.
    """
    followed = Followed()
    concerned = list(_concerned(visit))
    _refuse_other_retests(visit, concerned)
    failing = dict(_failing(visit))
    if concerned or failing:
        with as_custodian(opening.site_id, custodian_id):
            if concerned:
                settle_courses(opening, concerned, followed)
            _open_new(visit, opening, requirements, failing, followed)
    return followed


def _concerned(visit: Visit) -> Iterator[Deficiency]:
    """Those that stand, those whose time the visit falls into, and those of what it corrects."""
    corrected = list(_corrected(visit))
    within = Q(state="proven", opened_at__lte=visit.performed_at, ended_at__gte=visit.performed_at)
    named = Q(found_by_id__in=corrected) | Q(proven_by_id__in=corrected)
    taken_back = Q(withdrawn_for=Deficiency.WithdrawnFor.CORRECTION)
    read_anew = (named & (Q(state="proven") | taken_back)) | within
    if corrected:  # what it corrects may have reopened one that was proven since
        earliest = Visit.objects.filter(id__in=corrected).order_by("performed_at").first()
        at = earliest.performed_at if earliest else visit.performed_at
        read_anew |= Q(state="proven", opened_at__lte=at, ended_at__gte=at)
    rows = Deficiency.objects.select_for_update().filter(opening_id=visit.opening_id)
    yield from rows.filter(Q(state__in=STANDING) | read_anew).order_by("opened_at", "id")


def _corrected(visit: Visit) -> Iterator[UUID]:
    """The visit that this one corrects, and those which that one corrected."""
    if visit.supersedes_id is None:
        return
    rows = Visit.objects.filter(opening_id=visit.opening_id, supersedes__isnull=False)
    earlier = dict(rows.values_list("id", "supersedes_id"))
    at: UUID | None = visit.id
    while at in earlier:
        at = earlier[at]
        yield at


def _refuse_other_retests(visit: Visit, concerned: Sequence[Deficiency]) -> None:
    """Only what no requirement looks at is retested by a person's word."""
    seen = {str(d.id) for d in concerned if d.subject.startswith("seen:")}
    for index, retest in enumerate(visit.findings.get("retests", [])):
        if retest["deficiency"] not in seen:
            detail = (
                "No standing deficiency of this opening that a person saw has this id; what a "
                "requirement looks at is measured again instead."
            )
            raise RefusedError.at(f"/retests/{index}/deficiency", detail)


def _failing(visit: Visit) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    for subject, verdicts in subjects_of(visit).items():
        failed = [v for v in verdicts if v["verdict"] == FAILED]
        if failed:
            yield subject, failed


def settle_courses(
    opening: Opening, deficiencies: Sequence[Deficiency], followed: Followed
) -> None:
    """Make each of these what the record says of it. Runs as the custodian, who sees it all."""
    record = record_of(opening, deficiencies)
    repairs: dict[UUID, list[Repair]] = {d.id: [] for d in deficiencies}
    for repair in Repair.objects.filter(deficiency__in=repairs).order_by("done_at", "id"):
        repairs[repair.deficiency_id].append(repair)
    standing = {d.subject: d for d in deficiencies if d.state in STANDING}
    # Those that end make room first: of one thing at most one deficiency stands.
    walked = [(d, course_of(d, repairs[d.id], record)) for d in deficiencies]
    for deficiency, course in sorted(walked, key=lambda each: each[1].state in STANDING):
        _settle(deficiency, course, standing, followed, record)


def _settle(
    deficiency: Deficiency,
    course: Course,
    standing: dict[str, Deficiency],
    followed: Followed,
    record: Record,
) -> None:
    before, reason = deficiency.state, _CORRECTED
    later = standing.get(deficiency.subject)
    if course.state in STANDING and later and later.id != deficiency.id:
        course = Course("withdrawn", course.since, found_again=course.found_again)
        reason = f"its proof was corrected; what is wrong stands as {later.id}"
    deficiency.found_again, deficiency.retest_missing = course.found_again, course.missing
    deficiency.proven_by = course.proven_by
    if course.state == before:
        deficiency.save(update_fields=["found_again", "retest_missing", "proven_by"])
        return
    ended = course.state in {"proven", "withdrawn"}
    withdrawn = course.state == "withdrawn"
    deficiency.moved_at = current().now if withdrawn else course.since
    deficiency.ended_at = deficiency.moved_at if ended else None
    deficiency.reason = reason if withdrawn else ""
    deficiency.withdrawn_for = Deficiency.WithdrawnFor.CORRECTION if withdrawn else ""
    move_deficiency(deficiency, course.state, move_by=DEFICIENCY_READ_ANEW)
    if ended:
        standing.pop(deficiency.subject, None)
    else:
        standing[deficiency.subject] = deficiency
    reopened = course.state == "open"
    kind = "deficiency_reopened" if reopened else f"deficiency_{course.state}"
    followed.enter(deficiency, kind, before=before)


def move_deficiency(
    deficiency: Deficiency, to: str, *, move_by: Mapping[str, frozenset[str]]
) -> None:
    """Bring it into a state that may follow, with all that was set on it for that."""
    deficiency.state = move(move_by, deficiency.state, to)
    deficiency.version = F("version") + 1
    deficiency.save(update_fields=_MOVED)
    deficiency.refresh_from_db(fields=["version"])


def _open_new(
    visit: Visit,
    opening: Opening,
    requirements: RequirementSet,
    failing: Mapping[str, list[dict[str, Any]]],
    followed: Followed,
) -> None:
    """Open what fails and stands nowhere yet; earlier ones of the same thing are named."""
    if not failing:
        return
    known = Deficiency.objects.filter(opening=opening, subject__in=failing)
    corrected = {*_corrected(visit)}
    covered = {d.subject for d in known if _speaks_of(d, visit, corrected)}
    ended = known.filter(ended_at__lte=visit.performed_at).exclude(
        withdrawn_for=Deficiency.WithdrawnFor.CORRECTION
    )
    earlier = {d.subject: d for d in ended.order_by("ended_at")}
    for subject, failed in failing.items():
        if subject in covered:
            continue
        deficiency = Deficiency(
            site_id=visit.site_id,
            opening=opening,
            author_id=visit.author_id,
            author_name=visit.author_name,
            subject=subject,
            requirements=[v["requirement"] for v in failed],
            title=failed[0]["title"],
            words=failed[0]["message"],
            protects=failed[0]["protects"],
            found_by=visit,
            opened_at=visit.performed_at,
            recurs=earlier.get(subject),
        )
        open_deficiency(deficiency, requirements, followed)


def _speaks_of(deficiency: Deficiency, visit: Visit, corrected: set[UUID]) -> bool:
    """Whether what this visit found is this deficiency: it stands, or this visit belongs to it."""
    stands = deficiency.state in STANDING
    return stands or str(visit.id) in deficiency.found_again or deficiency.found_by_id in corrected


def open_deficiency(
    deficiency: Deficiency, requirements: RequirementSet, followed: Followed
) -> None:
    """Keep a new deficiency with its class and deadline. Runs as the custodian."""
    deficiency.state, deficiency.moved_at = "open", deficiency.opened_at
    deficiency.retest_missing = [{"what": "repair", "because": "No repair is recorded."}]
    deadline = deadline_of(deficiency, requirements)
    deficiency.urgency, deficiency.due_on = deadline.urgency, deadline.due_on
    deficiency.deadline_from = deadline.sources
    deficiency.save(force_insert=True)
    recurs = {"recurs": str(deficiency.recurs_id)} if deficiency.recurs_id else {}
    followed.enter(deficiency, "deficiency_open", **recurs)
