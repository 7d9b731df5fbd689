"""Sandboxes: an invented town of one's own, made, set going, made anew, ended."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import F

import rules
from doors.clock import Instant
from doors.errors import RefusedError, WrongStateError
from doors.models import Job, Key, Opening, Sandbox
from doors.models.sandboxes import FURTHEST
from doors.selectors.openings import opening_by_id
from doors.selectors.sandboxes import members_of, sandbox_by_id, sandbox_in_hand
from doors.selectors.visible import named_at
from doors.services.jobs import ask_for_job
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.versions import change_row
from doors.tenancy import acting_for, acting_organization, current
from inspections.models import Activity, Delivery, Duty, Submittal, Visit
from inspections.selectors.requirements import applicable
from inspections.services.answers import answer_filing
from inspections.services.towns import Inhabitant, settle_town
from inspections.services.visits import record_visit
from rules.model import LimitSpec

MOST = 5  # that one organization has going at a time
PLACE = "us"
TOO_MUCH = Decimal("1.25")  # times the most that is allowed: nobody takes it for a near miss
INSPECTOR = "Ira Whistlecroft"


@transaction.atomic
def make_sandbox(*, name: str, place: str = PLACE) -> tuple[Sandbox, list[Inhabitant]]:
    """Make a closed group: an owner with its buildings, a firm with leave there, an authority;
    `place` is one of the rules library, under which their town lies.
    """
    if place not in rules.load().places:
        raise RefusedError.at("/place", f"The rules library knows no place {place[:40]!r}.")
    maker_id = acting_organization()
    if sandbox_in_hand() is not None:
        raise RefusedError("A sandbox makes no sandboxes.")
    if Sandbox.objects.filter(organization_id=maker_id, ended_at=None).count() >= MOST:
        raise RefusedError(f"An organization has at most {MOST} sandboxes going; end one first.")
    sandbox = Sandbox.objects.create(
        organization_id=maker_id, name=name, place=place, created_at=current().now
    )
    inhabitants = settle_town(sandbox)
    line = LedgerLine("sandbox_made", sandbox.id, None, {"place": place})
    write_ledger(custodian_id=maker_id, lines=[line])
    return sandbox, inhabitants


@transaction.atomic
def set_clock(*, sandbox_id: UUID, now: datetime, expected: frozenset[int] | None) -> Sandbox:
    """Let a sandbox's days run from this moment on, forwards or back; what is due is worked out
    anew at once.
    """
    sandbox = _going(sandbox_id)
    ahead = now - current().now
    if abs(ahead) > FURTHEST:
        detail = f"At most {FURTHEST.days} days from today, either way."
        raise RefusedError.at("/now", detail)
    rows = Sandbox.objects.filter(id=sandbox.id)
    moved = change_row(rows, expected=expected, clock_ahead=ahead)
    assert isinstance(moved, Sandbox)  # noqa: S101 (what the rows are)
    _settle_anew(moved, by=ahead - sandbox.clock_ahead)
    content = {"seconds_ahead": int(ahead.total_seconds())}
    line = LedgerLine("sandbox_clock_set", sandbox.id, None, content)
    write_ledger(custodian_id=sandbox.organization_id, lines=[line])
    return moved


def _settle_anew(sandbox: Sandbox, *, by: timedelta) -> None:
    """Leave to a worker what the new day makes due, site by site, and what is to be said of it;
    what waits for an hour of the day comes as much sooner as the clock went forward.
    """
    for organization in members_of(sandbox):
        with acting_for(organization.id, write=True):
            running = Duty.objects.filter(site__author_id=organization.id)
            running.filter(standing=Duty.Standing.RUNNING).update(look_at=current().now)
            waiting = Delivery.objects.filter(state=Delivery.State.WAITING)
            waiting.update(not_before=F("not_before") - by)
            own = Opening.objects.filter(site__author_id=organization.id)
            for site_id in set(own.values_list("site_id", flat=True)):
                ask_for_job(kind="settle_site", arguments={"site": str(site_id)})


@transaction.atomic
def make_door_fail(*, sandbox_id: UUID, opening_id: UUID | None = None) -> Visit:
    """Have the sandbox's firm record a visit at which one reading is a quarter beyond its limit;
    at the given opening, or the first. All that follows from any failed visit follows.
    """
    sandbox = _going(sandbox_id)
    firm = next(o for o in members_of(sandbox) if "inspector" in o.capabilities)
    with acting_for(firm.id, write=True) as context:
        with named_at("/opening"):
            opening = opening_by_id(opening_id) if opening_id else _first_opening()
        at = context.now.astimezone(UTC).replace(microsecond=0)
        return record_visit(
            opening_id=opening.id,
            client_ref=f"failing-{uuid4().hex[:12]}",
            activity=Activity.PERIODIC_INSPECTION,
            performed_at=Instant(at, at.isoformat()),
            attested_by=INSPECTOR,
            findings=_failing(opening, at),
        )


def _first_opening() -> Opening:
    rows = Opening.objects.select_related("site").filter(removed_on=None)
    found = rows.order_by("created_at", "tag").first()
    if found is None:
        raise RefusedError("This sandbox has no opening left.")
    return found


def _failing(opening: Opening, at: datetime) -> dict[str, Any]:
    specs = [r.requirement.spec for r in applicable(opening, at.date()).requirements.items]
    limit = next((s for s in specs if isinstance(s, LimitSpec) and s.high), None)
    if limit is None or limit.high is None:
        raise RefusedError.at("/opening", "Nothing asked of this opening has an upper limit.")
    value = Decimal(limit.high.text) * TOO_MUCH
    unit = limit.high.unit.symbol
    return {
        "attestation": {"name": INSPECTOR, "at": at.isoformat()},
        "people": [{"name": INSPECTOR, "role": "inspector of record"}],
        "readings": [{"quantity": limit.quantity, "value": f"{value:f}", "unit": unit}],
        "remarks": "Made to fail, in a sandbox.",
    }


def answer_in_sandbox(job: Job) -> Mapping[str, Any]:
    """The answer of a sandbox's authority to what was filed with it (a job): returned with what
    the packet itself lists as not as it must be, accepted where it lists nothing.
    """
    submittal = Submittal.objects.defer("document").get(id=UUID(job.arguments["submittal"]))
    wanting = submittal.counts["exceptions"]
    state = "returned" if wanting else "accepted"
    said = "\n".join(["Wanting:", *wanting]) if wanting else "Taken as it is."
    with acting_for(UUID(job.arguments["authority"]), write=True):
        answer_filing(submittal_id=submittal.id, state=state, remarks=said)
    return {"submittal": str(submittal.id), "state": state}


@transaction.atomic
def end_sandbox(*, sandbox_id: UUID) -> Sandbox:
    """End it for ever: its keys are worth nothing from the next request on; its records stay, as
    all records do, and are seen by nobody outside.
    """
    sandbox = _going(sandbox_id)
    for organization in members_of(sandbox):
        with acting_for(organization.id, write=True) as context:
            Key.objects.filter(revoked_at=None).update(revoked_at=context.now)
    rows = Sandbox.objects.filter(id=sandbox.id)
    ended = change_row(rows, expected=None, ended_at=current().now)
    assert isinstance(ended, Sandbox)  # noqa: S101 (what the rows are)
    line = LedgerLine("sandbox_ended", sandbox.id, None, {})
    write_ledger(custodian_id=acting_organization(), lines=[line])
    return ended


@transaction.atomic
def reset_sandbox(*, sandbox_id: UUID) -> tuple[Sandbox, list[Inhabitant]]:
    """End a sandbox and make another like it, as it was on its first day."""
    ended = end_sandbox(sandbox_id=sandbox_id)
    return make_sandbox(name=ended.name, place=ended.place)


def _going(sandbox_id: UUID) -> Sandbox:
    """One's own, still going: whoever is within it does not set its clock or end it."""
    sandbox = sandbox_by_id(sandbox_id)
    if sandbox.organization_id != acting_organization():
        raise WrongStateError("Only who made a sandbox sets it going.")
    if sandbox.ended_at is not None:
        raise WrongStateError("This sandbox has ended.")
    return sandbox
