"""Setting what holds for an organization's notices, and what a person wants no more of."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, cast
from uuid import UUID

from django.db import transaction

from doors.errors import RefusedError
from doors.models import Person, Sight
from doors.selectors.sight import sight_of
from doors.selectors.visible import visible
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.services.versions import state_row
from doors.tenancy import acting_organization, current
from inspections.models import REMINDERS, Duty, NoticePolicy, ReminderStop
from inspections.selectors.policies import Policy, policy_of
from inspections.selectors.working_days import holidays_known


@transaction.atomic
def set_policy(
    *, terms: Mapping[str, Any], expected: frozenset[int] | None, site_id: UUID | None = None
) -> Policy:
    """State the acting organization's terms, for all its sites or for one; what is not stated
    falls back. Every duty concerned is looked at again.
    """
    if site_id is not None:
        sight_of(site_id, "manage")
    _refuse(terms, {**policy_of(site_id).terms, **terms})
    own = NoticePolicy.objects.filter(organization_id=acting_organization())
    own = own.filter(site=None) if site_id is None else own.filter(site_id=site_id)
    begun_with = {"organization_id": acting_organization(), "site_id": site_id}
    stated = {"terms": dict(terms), "changed_at": current().now}
    row = cast("NoticePolicy", state_row(own, expected=expected, begun_with=begun_with, **stated))
    _look_again(site_id)
    line = LedgerLine(
        "notice_policy_set", row.id, site_id, {"terms_sha256": canonical_digest(dict(terms))}
    )
    write_ledger(custodian_id=acting_organization(), lines=[line])
    return policy_of(site_id)


def _refuse(stated: Mapping[str, Any], terms: Mapping[str, Any]) -> None:
    """Refuse terms under which nobody could be told, or somebody who is not there would be."""
    quiet_from, at, until = terms["quiet_from"], terms["send_at"], terms["quiet_until"]
    quiet = quiet_from <= at < until if quiet_from <= until else at >= quiet_from or at < until
    if quiet:
        raise RefusedError.at("/send_at", "Mail of the day would go out in the quiet hours.")
    named = stated.get("holidays_of")
    if named and not holidays_known(named["country"], named["subdivision"]):
        raise RefusedError.at("/holidays_of", "No public holidays are known of that place.")
    _refuse_contacts([UUID(each["person"]) for each in stated.get("contacts", ())])


def _refuse_contacts(named: list[UUID]) -> None:
    known = Person.objects.filter(id__in=named, ended_at=None).exclude(email="")
    reached = set(known.values_list("id", flat=True))
    for index, person_id in enumerate(named):
        pointer = f"/contacts/{index}/person"
        if person_id not in reached:
            detail = "Nobody of yours with this id has a mail address."
            raise RefusedError.at(pointer, detail)
        if person_id in named[:index]:
            raise RefusedError.at(pointer, "This person is named twice.")


def _look_again(site_id: UUID | None) -> None:
    """Have the duties that these terms concern looked at: those of one's own custody."""
    now = current().now
    mine = Sight.active(acting_organization(), now).filter(grant=None)
    if site_id is not None:
        mine = mine.filter(site_id=site_id)
    running = Duty.objects.filter(standing=Duty.Standing.RUNNING)
    running.filter(site_id__in=mine.values("site_id")).update(look_at=now)


def stopped_stages(person_id: UUID) -> list[str]:
    """The stages of which a person wants no reminders; all of them where they want none."""
    visible(Person.objects.filter(id=person_id))
    stops = ReminderStop.objects.filter(person_id=person_id, thing=None, ended_at=None)
    stages = set(stops.values_list("stage", flat=True))
    return sorted(REMINDERS) if "" in stages else sorted(stages)


@transaction.atomic
def set_stopped_stages(*, person_id: UUID, stages: Collection[str]) -> list[str]:
    """Say of which stages a person wants no reminders; failures cannot be stopped."""
    visible(Person.objects.select_for_update().filter(id=person_id))
    wanted = {""} if set(stages) == set(REMINDERS) else set(stages)
    standing = ReminderStop.objects.filter(person_id=person_id, thing=None, ended_at=None)
    kept = set(standing.values_list("stage", flat=True))
    standing.exclude(stage__in=wanted).update(ended_at=current().now)
    for stage in sorted(wanted - kept):
        stop_reminders(person_id=person_id, stage=stage)
    return stopped_stages(person_id)


def stop_reminders(*, person_id: UUID, stage: str = "", thing: UUID | None = None) -> ReminderStop:
    """Stop a person's reminders of a stage, of a thing, or all of them; asked twice is once."""
    asked = {"person_id": person_id, "stage": stage, "thing": thing, "ended_at": None}
    standing = ReminderStop.objects.filter(**asked).first()
    if standing is not None:
        return standing
    stop = ReminderStop.objects.create(
        organization_id=acting_organization(), asked_at=current().now, **asked
    )
    content = {"stage": stage, "thing": str(thing) if thing else None}
    line = LedgerLine("reminders_stopped", person_id, None, content)
    write_ledger(custodian_id=acting_organization(), lines=[line])
    return stop
