"""A deficiency opens with a failed requirement and ends when a retest has proven its repair."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import F

from doors.errors import FutureDateError, RefusedError
from doors.selectors.openings import facts_on, lock_opening
from doors.selectors.organizations import acting_party
from doors.selectors.sight import sight_of
from doors.selectors.visible import visible
from doors.services.ledger import LedgerLine, write_ledger
from doors.tenancy import current
from inspections.models import Activity, Deficiency, InterimMeasure, Repair, Visit
from inspections.selectors.untested import subject_of
from inspections.services.duties import settle_duties
from inspections.services.happenings import of_deficiency, tell
from inspections.states import DEFICIENCY, move

STANDING = ("open", "repaired")
SHUT = "secured_shut"
CLOSED = "closed_and_openable"
MEASURES = {
    CLOSED: "kept closed, and opening to a push as it should",
    "attendant": "a person posted at the opening",
    "fire_watch": "a fire watch with a log",
    "use_restricted": "fewer people, or none, in the space served",
    "detection_added": "detection or staff added meanwhile",
    "secured_open": "secured open, out of the way, with a person posted",
    SHUT: "secured or blocked shut",
}


@dataclass(slots=True)
class Followed:
    """What a visit did to the deficiencies of its opening."""

    opened: list[Deficiency] = field(default_factory=list)
    still_open: list[Deficiency] = field(default_factory=list)
    proven: list[Deficiency] = field(default_factory=list)
    withdrawn: list[Deficiency] = field(default_factory=list)
    reopened: list[Deficiency] = field(default_factory=list)

    @property
    def open(self) -> list[Deficiency]:
        """Opened by this visit, or found again by it."""
        return self.opened + self.still_open

    @property
    def changed(self) -> list[Deficiency]:
        """Those whose state this visit wrote."""
        return self.opened + self.proven + self.withdrawn

    @property
    def moved(self) -> list[Deficiency]:
        """Those that came into another state, an earlier repair undone by the finding too."""
        return self.changed + self.reopened


def follow_visit(visit: Visit) -> Followed:
    """Open, reopen and prove deficiencies by a visit's binding verdicts.

    Two publishers may regulate one quantity: what fails both is one thing wrong, and proven when
    nothing asked of it fails any more.
    """
    followed = Followed()
    standing = {
        d.subject: d
        for d in Deficiency.objects.select_for_update().filter(
            opening_id=visit.opening_id, state__in=STANDING
        )
    }
    for subject, verdicts in _by_subject(visit).items():
        known, words = standing.get(subject), {v["verdict"] for v in verdicts}
        if "does_not_conform" in words:
            failed = [v for v in verdicts if v["verdict"] == "does_not_conform"]
            _found(visit, subject, failed, known, followed)
        elif known is not None and words == {"conforms"}:
            _mended(visit, known, followed)
    return followed


def _by_subject(visit: Visit) -> dict[str, list[dict[str, str]]]:
    grouped: dict[str, list[dict[str, str]]] = {}
    for verdict in visit.judgement["verdicts"]:
        if verdict["verdict"] != "not_applicable":
            grouped.setdefault(subject_of(verdict), []).append(verdict)
    return grouped


def _found(
    visit: Visit,
    subject: str,
    failed: list[dict[str, str]],
    known: Deficiency | None,
    followed: Followed,
) -> None:
    if known is None:
        followed.opened.append(_open(visit, subject, failed))
        return
    if known.state == "repaired" and visit.performed_at >= _repaired_at(known):
        _move(known, "open", visit.performed_at)
        followed.reopened.append(known)
    followed.still_open.append(known)


def _open(visit: Visit, subject: str, failed: list[dict[str, str]]) -> Deficiency:
    return Deficiency.objects.create(
        site_id=visit.site_id,
        opening_id=visit.opening_id,
        author_id=visit.author_id,
        author_name=visit.author_name,
        subject=subject,
        requirements=[v["requirement"] for v in failed],
        title=failed[0]["title"],
        words=failed[0]["message"],
        protects=failed[0]["protects"],
        state="open",
        found_by=visit,
        opened_at=visit.performed_at,
        moved_at=visit.performed_at,
    )


def _mended(visit: Visit, known: Deficiency, followed: Followed) -> None:
    """A retest after the repair proves it; a correction takes back what it corrects."""
    if visit.supersedes_id and visit.supersedes_id == known.found_by_id:
        followed.withdrawn.append(withdraw(known, reason="corrected by a later visit"))
    elif known.state == "repaired" and visit.activity == Activity.REPAIR_RETEST:
        if visit.performed_at < _repaired_at(known):
            return
        known.proven_by, known.ended_at = visit, visit.performed_at
        _move(known, "proven", visit.performed_at, "proven_by", "ended_at")
        followed.proven.append(known)


def withdraw(deficiency: Deficiency, *, reason: str) -> Deficiency:
    """End a standing deficiency that no retest will prove; the ledger line is the caller's."""
    deficiency.ended_at, deficiency.reason = current().now, reason
    _move(deficiency, "withdrawn", current().now, "ended_at", "reason")
    return deficiency


def _repaired_at(deficiency: Deficiency) -> datetime:
    return Repair.objects.filter(deficiency=deficiency).latest("done_at").done_at


def _move(deficiency: Deficiency, to: str, at: datetime, *fields: str) -> None:
    deficiency.state, deficiency.moved_at = move(DEFICIENCY, deficiency.state, to), at
    deficiency.version = F("version") + 1
    deficiency.save(update_fields=["state", "version", "moved_at", *fields])
    deficiency.refresh_from_db(fields=["version"])


@transaction.atomic
def record_interim_measure(
    *,
    deficiency_id: UUID,
    kind: str,
    words: str,
    responsible: str,
    begins_at: datetime,
    ends_at: datetime | None = None,
) -> InterimMeasure:
    """Record what protects people until the repair is proven.

    A door in a means of egress may not be secured shut, nor left closed when it will not open.
    """
    deficiency, custodian_id = _workable(deficiency_id, "record", "repair", "manage")
    _refuse_blocked_egress(deficiency, kind)
    if ends_at is not None and ends_at <= begins_at:
        raise RefusedError.at("/ends_at", "An interim measure ends after it begins.")
    measure = InterimMeasure.objects.create(
        **_written_of(deficiency),
        kind=kind,
        words=words,
        responsible=responsible,
        begins_at=begins_at,
        ends_at=ends_at,
    )
    content = {"deficiency": str(deficiency.id), "kind": kind}
    line = LedgerLine("interim_measure_recorded", measure.id, deficiency.site_id, content)
    write_ledger(custodian_id=custodian_id, lines=[line])
    return measure


def _refuse_blocked_egress(deficiency: Deficiency, kind: str) -> None:
    facts = facts_on(deficiency.opening, current().now.date()).facts
    in_egress = facts.get("means_of_egress") is not False  # unknown counts as yes
    will_not_open = Deficiency.objects.filter(
        opening_id=deficiency.opening_id, state__in=STANDING, protects="egress"
    ).exists()
    if in_egress and kind == SHUT:
        detail = "A door in a means of egress may not be secured shut."
        raise RefusedError.at("/kind", detail)
    if in_egress and kind == CLOSED and will_not_open:
        detail = "A door that does not open as it must may not be left closed in a way out."
        raise RefusedError.at("/kind", detail)


@transaction.atomic
def record_repair(
    *,
    deficiency_id: UUID,
    done_at: datetime,
    done_by: str,
    words: str,
    parts: Sequence[str] = (),
) -> Repair:
    """Record what was done. The deficiency is then repaired, and proven by nothing yet."""
    deficiency, custodian_id = _workable(deficiency_id, "repair", "manage")
    if done_at > current().now:
        raise FutureDateError.at("/done_at", "A repair cannot be done in the future.")
    if done_at < deficiency.opened_at:
        raise RefusedError.at("/done_at", "A repair follows the finding it mends.")
    repair = Repair.objects.create(
        **_written_of(deficiency),
        done_at=done_at,
        done_by=done_by,
        words=words,
        parts=list(parts),
    )
    if deficiency.state != "repaired":
        _move(deficiency, "repaired", done_at)
        happening = of_deficiency(deficiency)
        tell(happenings=[happening], site_id=deficiency.site_id, custodian_id=custodian_id)
    settle_duties(opening=deficiency.opening)
    content = {"deficiency": str(deficiency.id), "done_at": done_at.isoformat()}
    line = LedgerLine("repair_recorded", repair.id, deficiency.site_id, content)
    write_ledger(custodian_id=custodian_id, lines=[line])
    return repair


def _written_of(deficiency: Deficiency) -> dict[str, Any]:
    """What every row about a deficiency carries: where it belongs, who wrote it and when."""
    author = acting_party()
    return {
        "site_id": deficiency.site_id,
        "author": author,
        "author_name": author.name,
        "deficiency": deficiency,
        "recorded_at": current().now,
    }


def _workable(deficiency_id: UUID, *any_of: str) -> tuple[Deficiency, UUID]:
    """The deficiency, if it stands and one of these actions is allowed at its site. Its opening
    is locked first, as by a visit, so that the two never wait for each other.
    """
    rows = Deficiency.objects.filter(id=deficiency_id)
    for opening_id in rows.values_list("opening_id", flat=True):
        lock_opening(opening_id)
    deficiency = visible(rows.select_related("opening__site"))
    sight = sight_of(deficiency.site_id, *any_of)
    move(DEFICIENCY, deficiency.state, "withdrawn")  # refuses what has ended
    return deficiency, sight.custodian_id
