"""Failures climb: whoever has not said in time that they have seen one is followed by the next."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from uuid import UUID

import structlog
from django.db import transaction
from django.db.models import QuerySet

from doors.models import Person
from doors.selectors.sight import custodian_of
from doors.selectors.visible import visible
from doors.services.claims import Claim, claim_rows, end_claim, guarded, release_claim
from doors.services.ledger import LedgerLine, write_ledger
from doors.tenancy import Purpose, acting_for, acting_organization, current, looking_up
from inspections.models import DEMANDING, Ladder, Notice, Owing
from inspections.selectors.policies import Policy, contacts, policy_of, receivers
from inspections.services.recipients import put

LEASE = timedelta(minutes=2)
TRIES = 1_000  # claims of one ladder: each rung is one
State = Ladder.State
log = structlog.get_logger(__name__)


def set_up_ladder(owing: Owing) -> None:
    """Have a failure climb unless somebody says in time that they have seen it."""
    if owing.stage not in DEMANDING:
        return
    now = current().now
    ladder = Ladder(
        organization_id=acting_organization(),
        owing=owing,
        created_at=now,
        not_before=now + policy_of(owing.site_id).acknowledge_within,
        request_id=owing.request_id,
    )
    Ladder.objects.bulk_create([ladder], ignore_conflicts=True)


def climb_ladders(*, limit: int = 50) -> int:
    """Tell the next contact of each failure that nobody has seen in time, quiet hours or not."""
    with looking_up(Purpose.SWEEP, write=True):
        claims = claim_rows(Ladder, owner="organization_id", limit=limit, lease=LEASE)
    for claim in claims:
        guarded(Ladder, claim, _climb, tries=TRIES)
    return len(claims)


def hasten(notices: Iterable[Notice]) -> None:
    """What could not be delivered climbs at once."""
    owings = {n.owing_id for n in notices if n.stage in DEMANDING}
    waiting = Ladder.objects.filter(owing__in=owings, state=State.WAITING)
    waiting.update(not_before=current().now)


def _climb(claim: Claim) -> None:
    with acting_for(claim.organization_id, write=True):
        ladder = Ladder.objects.select_related("owing__site").get(id=claim.id)
        owing = ladder.owing
        if owing.site_id and custodian_of(owing.site_id) != claim.organization_id:
            end_claim(Ladder, claim, state=State.WITHDRAWN, problem="the site passed to another")
            return
        policy = policy_of(owing.site_id)
        told = {n.person_id: n.person.name for n in _notices(owing).select_related("person")}
        following = [person for person in _order(policy) if person.id not in told]
        if not following:
            problem = "nobody has said that they have seen it, and nobody is left to tell"
            end_claim(Ladder, claim, state=State.FAILED, problem=problem)
            log.error("failure_unseen", owing_id=str(owing.id))
            return
        rung = ladder.rung + 1
        Ladder.objects.filter(id=claim.id).update(rung=rung)
        put(owing, following[:1], policy, step=rung, unseen_by=sorted(told.values()))
        release_claim(Ladder, claim, wait=policy.acknowledge_within)
        content = {"rung": rung, "person": str(following[0].id), "thing": str(owing.thing)}
        line = LedgerLine("notice_climbed", owing.id, owing.site_id, content)
        write_ledger(custodian_id=acting_organization(), lines=[line])


def _notices(owing: Owing) -> QuerySet[Notice]:
    return Notice.objects.filter(
        thing=owing.thing, thing_version=owing.thing_version, stage=owing.stage
    )


def _order(policy: Policy) -> list[Person]:
    """The contacts in their order, and behind them everybody else who receives notices."""
    named = contacts(policy)
    known = {person.id for person in named}
    return [*named, *[person for person in receivers() if person.id not in known]]


@transaction.atomic
def acknowledge_notice(*, notice_id: UUID, by: str = "") -> Notice:
    """Say that somebody has seen a notice; it climbs no further. Said twice, the first stands."""
    rows = Notice.objects.select_related("person", "delivery", "owing")
    notice = visible(rows.filter(id=notice_id))
    name = by or notice.person.name
    seen = {"acknowledged_at": current().now, "acknowledged_by": name}
    if not Notice.objects.filter(id=notice_id, acknowledged_at=None).update(**seen):
        return notice
    Ladder.objects.filter(
        owing_id=notice.owing_id, state__in=[State.WAITING, State.CLAIMED, State.FAILED]
    ).update(state=State.DONE, ended_at=current().now, leased_until=None)
    line = LedgerLine(
        "notice_acknowledged", notice_id, notice.owing.site_id, {"thing": str(notice.thing)}
    )
    write_ledger(custodian_id=acting_organization(), lines=[line])
    notice.refresh_from_db()
    return notice
