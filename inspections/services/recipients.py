"""From what is owed to who is told: one notice a person, in the message with which it goes out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from uuid import UUID, uuid4

from doors.clock import civil_date
from doors.models import Person
from doors.selectors.sandboxes import working_now
from doors.tenancy import acting_organization, current
from inspections.models import REMINDERS, Delivery, Notice, Owing, Stage
from inspections.selectors.policies import Policy, calendar_of_site, contacts, hearers, policy_of
from inspections.selectors.working_days import Calendar

_FURTHEST = 30  # days in which a person's mail of the day that has gone is followed by the next
_EMAIL = "email"


def tell_people(owing: Owing) -> None:
    """One notice for each who is to be told; those told already are passed over, and those whose
    notice was withdrawn unsent are told after all.
    """
    policy = policy_of(owing.site_id)
    put(owing, _of_stage(owing, policy), policy, step=owing.step)


def put(
    owing: Owing, people: Iterable[Person], policy: Policy, *, step: int, **more: object
) -> list[Notice]:
    """Give each of these people a notice of it, unless they have one; answers those given. `more`
    stands in theirs beside the words of all.
    """
    meaning = {
        "thing": owing.thing,
        "thing_version": owing.thing_version,
        "stage": owing.stage,
        "step": step,
        "channel": _EMAIL,
    }
    standing = {n.person_id: n for n in Notice.objects.filter(**meaning)}
    given = []
    for person in people:
        notice = standing.get(person.id)
        if notice is None:
            notice = Notice(owing=owing, person=person, **meaning)
        elif notice.state != Notice.State.WITHDRAWN:
            continue
        given.append(_give(notice, owing, person, policy, more))
    return given


def _give(
    notice: Notice, owing: Owing, person: Person, policy: Policy, more: Mapping[str, object]
) -> Notice:
    if owing.stage in REMINDERS:
        notice.delivery = _of_the_day(owing, person, policy)
    else:
        notice.delivery = _alone(person, notice.id)
    notice.organization_id, notice.words = acting_organization(), owing.words | more
    if notice.state == Notice.State.WITHDRAWN:
        notice.state, notice.ended_at, notice.problem = Notice.State.WAITING, None, ""
        notice.save(update_fields=["state", "ended_at", "problem", "delivery"])
    else:
        notice.created_at, notice.request_id = current().now, owing.request_id
        notice.save(force_insert=True)
    return notice


def _of_stage(owing: Owing, policy: Policy) -> Sequence[Person]:
    """Who hears of it from the beginning; of what stays overdue, one more with each step."""
    people = hearers(policy, owing.stage)
    if owing.stage != Stage.OVERDUE:
        return people
    steps = sorted(policy.terms["overdue_days"])
    further = steps.index(owing.step) if owing.step in steps else 0
    known = {person.id for person in people}
    return [*people, *[p for p in contacts(policy) if p.id not in known][:further]]


def _alone(person: Person, notice_id: UUID) -> Delivery:
    return _message(person, f"notice {notice_id}", current().now)


def _of_the_day(owing: Owing, person: Person, policy: Policy) -> Delivery:
    """The message that gathers this person's reminders of a day, or, where they want no digest,
    those of a building; one that has set out already is followed by the next working day's.
    """
    assert owing.site is not None  # noqa: S101 (a reminder is about a building)
    send_at = datetime.fromisoformat(owing.words["send_at"])
    now = working_now()
    ahead = now - current().now
    calendar = calendar_of_site(owing.site, policy, civil_date(now, owing.site.time_zone))
    send_at = calendar.next_instant(max(send_at, now))
    on = civil_date(send_at, owing.site.time_zone)
    for _ in range(_FURTHEST):
        bundle = on.isoformat() if policy.terms["digest"] else f"{on} {owing.site_id}"
        delivery = _gathering(person, bundle, send_at - ahead)
        if delivery is not None:
            return delivery
        on, send_at = _next(calendar, on, send_at)
    return _message(person, f"notice {uuid4()}", send_at - ahead)


def _next(calendar: Calendar, on: date, send_at: datetime) -> tuple[date, datetime]:
    following = calendar.working_day(on + timedelta(days=1))
    return following, max(send_at, calendar.instant_of(following))


def _gathering(person: Person, bundle: str, send_at: datetime) -> Delivery | None:
    """The message of that bundle, held so that it does not set out meanwhile; None where it has."""
    _message(person, bundle, send_at)
    rows = Delivery.objects.select_for_update()
    held = rows.get(person=person, channel=_EMAIL, bundle=bundle)
    if held.state == Delivery.State.WITHDRAWN:
        held.state, held.ended_at, held.problem = Delivery.State.WAITING, None, ""
    elif held.state != Delivery.State.WAITING or held.attempt:
        return None
    held.not_before = max(held.not_before, send_at)
    held.save(update_fields=["state", "ended_at", "problem", "not_before"])
    return held


def _message(person: Person, bundle: str, send_at: datetime) -> Delivery:
    """The message of that bundle, made where there is none."""
    id_ = uuid4()
    row = Delivery(
        id=id_,
        organization_id=acting_organization(),
        person=person,
        channel=_EMAIL,
        bundle=bundle,
        message_id=f"<{id_}@notices.invalid>",
        created_at=current().now,
        not_before=send_at,
    )
    Delivery.objects.bulk_create([row], ignore_conflicts=True)
    return row
