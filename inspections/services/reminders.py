"""The scan over stored duties: what is to be said of each today is left as owing, once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

import structlog
from django.db import connection
from django.db.models import Min, Q

from doors.clock import civil_date, start_of_day
from doors.models import Grant, Organization, Site
from doors.selectors.organizations import acting_party
from doors.selectors.sandboxes import working_now
from doors.selectors.sight import custodian_of
from doors.tenancy import Purpose, acting_for, acting_organization, current, looking_up
from inspections.models import Duty, EventType, Owing, Stage
from inspections.selectors.citations import written_in
from inspections.selectors.policies import Policy, calendar_of_site, policy_of
from inspections.selectors.stages import Moment, moments_of, reached
from inspections.selectors.working_days import Calendar
from inspections.services.withdrawals import withdraw_overtaken

AT_A_TIME = 500  # duties of one site in one transaction
MOST_NAMED = 3
LATE_AFTER = timedelta(hours=2)
FAILED_WAIT = timedelta(hours=1)
log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True)
class _Day:
    """What holds for every duty of one site while it is looked at."""

    party: Organization  # the custodian
    site: Site
    policy: Policy
    calendar: Calendar
    firms: tuple[str, ...]  # with leave to record there: whom to ask
    now: datetime  # by the clock of duties, which in a sandbox is not the world's
    ahead: timedelta

    @property
    def today(self) -> date:
        return civil_date(self.now, self.site.time_zone)


def remind_of_duties(*, limit: int = 50) -> int:
    """Look at the duties whose turn has come, site by site, each as its custodian; answers how
    many sites were looked at. Two scans at once leave nothing twice.
    """
    with looking_up(Purpose.SWEEP) as context:
        waiting = Duty.objects.filter(look_at__lte=context.now).values("site_id")
        first = waiting.annotate(first=Min("look_at")).order_by("first", "site_id")[:limit]
        sites = [row["site_id"] for row in first]
    for site_id in sites:
        _guarded(site_id)
    return len(sites)


def _guarded(site_id: UUID) -> None:
    """A site that cannot be looked at holds no other up, and is looked at again later."""
    try:
        with acting_for(custodian_of(site_id), write=True):
            _look_at(site_id)
    except Exception:
        log.exception("duties_not_looked_at", site_id=str(site_id))
        with acting_for(custodian_of(site_id), write=True) as context:
            again = context.now + FAILED_WAIT
            Duty.objects.filter(site_id=site_id, look_at__lte=context.now).update(look_at=again)


def _look_at(site_id: UUID) -> None:
    rows = Duty.objects.filter(site_id=site_id, look_at__lte=current().now)
    if connection.features.has_select_for_update_skip_locked:
        rows = rows.select_for_update(skip_locked=True, of=("self",))
    duties = list(rows.select_related("opening").order_by("look_at", "id")[:AT_A_TIME])
    if not duties:
        return
    site, policy, now = Site.objects.get(id=site_id), policy_of(site_id), working_now()
    calendar = calendar_of_site(site, policy, civil_date(now, site.time_zone))
    day = _Day(acting_party(), site, policy, calendar, _firms(site, now), now, now - current().now)
    owed = _owed(duties)
    left = [owing for duty in duties for owing in _settle(duty, day, owed)]
    Owing.objects.bulk_create(left, ignore_conflicts=True)
    _owe_again([owing for owing in left if owed.get(_meaning(owing)) == Owing.State.WITHDRAWN])
    withdraw_overtaken(duties)
    Duty.objects.bulk_update(duties, ["look_at"], batch_size=100)


def _settle(
    duty: Duty, day: _Day, owed: Mapping[tuple[UUID, str, int, int], str]
) -> Iterable[Owing]:
    """What is owed of one duty now; sets when it is looked at next."""
    looked_for, duty.look_at = duty.look_at, None
    if duty.standing != Duty.Standing.RUNNING:
        return
    moments = moments_of(
        due_on=duty.due_on,
        closes_on=duty.closes_on,
        terms=day.policy.terms,
        calendar=day.calendar,
    )
    now_due, next_ = reached(moments, day.today)
    if next_ is not None:
        duty.look_at = start_of_day(next_.on, day.site.time_zone) - day.ahead
    if now_due is None:
        return
    if now_due.stage != Stage.BEFORE_DUE:
        yield _event(duty, day)
    meaning = (duty.id, now_due.stage.value, now_due.version, now_due.step)
    if owed.get(meaning, Owing.State.WITHDRAWN) == Owing.State.WITHDRAWN:
        yield _owing(duty, day, now_due, looked_for)


def _owing(duty: Duty, day: _Day, moment: Moment, looked_for: datetime | None) -> Owing:
    planned = day.calendar.instant_of(moment.on)
    known = looked_for is not None and looked_for + day.ahead <= planned
    late = known and day.now - planned > LATE_AFTER
    words = {
        "site": day.site.name,
        "opening": duty.opening.tag,
        "location": duty.opening.location,
        "activity": duty.activity,
        "due_on": duty.due_on.isoformat(),
        "closes_on": duty.closes_on.isoformat(),
        "source": written_in(duty.adopted_by or duty.citation),
        "adoption": duty.adoption,
        "ask": list(day.firms),
        "late_since": moment.on.isoformat() if late else None,
    }
    words["send_at"] = day.calendar.next_instant(max(day.now, planned)).isoformat()
    return _row(
        duty, day.party, moment.stage, version=moment.version, step=moment.step, words=words
    )


def _event(duty: Duty, day: _Day) -> Owing:
    """For machines: that it has become due, once for each day on which it does."""
    data = {
        "duty": str(duty.id),
        "opening": str(duty.opening_id),
        "activity": duty.activity,
        "due_on": duty.due_on.isoformat(),
        "closes_on": duty.closes_on.isoformat(),
        "version": duty.version,
        "path": f"/v1/duties/{duty.id}",
    }
    return _row(
        duty,
        day.party,
        EventType.DUTY_DUE,
        version=duty.due_on.toordinal(),
        step=0,
        words=data,
    )


def _row(
    duty: Duty, party: Organization, stage: str, *, version: int, step: int, words: dict[str, Any]
) -> Owing:
    return Owing.left(
        party,
        party.id,
        site_id=duty.site_id,
        stage=stage,
        thing=duty.id,
        thing_version=version,
        step=step,
        words=words,
    )


def _firms(site: Site, now: datetime) -> tuple[str, ...]:
    today = civil_date(now, site.time_zone)
    held = Grant.objects.filter(Q(site=None) | Q(site=site), owner_id=acting_organization())
    held = held.filter(Q(ends_on=None) | Q(ends_on__gt=today), begins_on__lte=today)
    names = {
        grant.grantee.name for grant in held.select_related("grantee") if "record" in grant.actions
    }
    return tuple(sorted(names)[:MOST_NAMED])


def _meaning(owing: Owing) -> tuple[UUID, str, int, int]:
    return owing.thing, str(owing.stage), owing.thing_version, owing.step


def _owed(duties: Sequence[Duty]) -> dict[tuple[UUID, str, int, int], str]:
    rows = Owing.objects.filter(thing__in=[duty.id for duty in duties])
    return {_meaning(owing): owing.state for owing in rows}


def _owe_again(owings: Sequence[Owing]) -> None:
    """Owe anew what was withdrawn before anybody was told: its reason has come back."""
    now = current().now
    for owing in owings:
        Owing.objects.filter(
            thing=owing.thing,
            thing_version=owing.thing_version,
            stage=owing.stage,
            step=owing.step,
            state=Owing.State.WITHDRAWN,
        ).update(state=Owing.State.WAITING, not_before=now, ended_at=None, problem="")
