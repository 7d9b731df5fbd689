"""The life of an opening: its facts from a day on, its tags, its times out of service, its end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from doors.errors import (
    AlreadyExistsError,
    FutureDateError,
    RefusedError,
    WrongStateError,
)
from doors.models import Opening, OpeningFacts, OpeningTag, Outage
from doors.reactions import Event, react
from doors.selectors.visible import visible
from doors.services.facts import next_facts, settle_from
from doors.services.ledger import LedgerLine, canonical_digest
from doors.services.openings import add_opening, changed_opening, opening_in_care, today_at
from doors.tenancy import current


@transaction.atomic
def record_facts(
    *,
    opening_id: UUID,
    begins_on: date,
    facts: Mapping[str, Any],
    listed_instructions: Sequence[Any] | None = None,
) -> OpeningFacts:
    """Say what is so at an opening from a day on; its duties move on that day."""
    opening, sight = opening_in_care(opening_id)
    refuse_removed(opening)
    row = next_facts(opening, facts, listed_instructions, begins_on)
    react(Event.OPENING_CHANGED, opening=opening)
    settle_from(opening, begins_on)
    digest = canonical_digest({"facts": row.facts, "instructions": row.listed_instructions})
    content = {"from": begins_on.isoformat(), "facts_sha256": digest}
    line = LedgerLine("facts_recorded", opening.id, opening.site_id, content)
    changed_opening(opening, sight, line)
    return row


@transaction.atomic
def retag_opening(*, opening_id: UUID, tag: str, begins_on: date | None = None) -> OpeningTag:
    """Give an opening another tag from a day on; the former one still finds it."""
    opening, sight = opening_in_care(opening_id)
    refuse_removed(opening)
    today = today_at(opening.site)
    begins_on = begins_on or today
    if begins_on > today:
        raise FutureDateError.at("/begins_on", "A door bears a tag when it has been put on.")
    borne = OpeningTag.objects.get(opening=opening, ends_on=None)
    if begins_on < borne.begins_on:
        detail = f"It bears {borne.tag!r} only since {borne.begins_on.isoformat()}."
        raise RefusedError.at("/begins_on", detail)
    _refuse_borne(opening, tag, begins_on)
    borne.ends_on = begins_on
    borne.save(update_fields=["ends_on"])
    row = OpeningTag.objects.create(
        site_id=opening.site_id, opening=opening, tag=tag, begins_on=begins_on
    )
    Opening.objects.filter(id=opening.id).update(tag=tag, version=opening.version + 1)
    content = {"tag": tag, "before": borne.tag, "from": begins_on.isoformat()}
    line = LedgerLine("opening_retagged", opening.id, opening.site_id, content)
    changed_opening(opening, sight, line)
    return row


def _refuse_borne(opening: Opening, tag: str, begins_on: date) -> None:
    """No two doors of a site bear one tag on one day."""
    since = Q(ends_on=None) | Q(ends_on__gt=begins_on)
    if OpeningTag.objects.filter(since, site_id=opening.site_id, tag=tag).exists():
        detail = f"A door of this site bears the tag {tag!r} on that day or later."
        raise AlreadyExistsError.at("/tag", detail)


@transaction.atomic
def take_out_of_service(
    *, opening_id: UUID, begins_on: date, reason: str, ends_on: date | None = None
) -> Outage:
    """Record a time out of service; its duties are suspended while it runs."""
    opening, sight = opening_in_care(opening_id)
    refuse_removed(opening)
    if ends_on is not None and ends_on <= begins_on:
        raise RefusedError.at("/ends_on", "The first day back lies after the first day out.")
    _refuse_overlap(opening, begins_on, ends_on)
    outage = Outage.objects.create(
        site_id=opening.site_id,
        opening=opening,
        begins_on=begins_on,
        ends_on=ends_on,
        reason=reason,
        recorded_at=current().now,
    )
    _settled(opening, begins_on, ends_on)
    content = {"from": begins_on.isoformat(), "to": ends_on.isoformat() if ends_on else None}
    line = LedgerLine("opening_out_of_service", outage.id, opening.site_id, content)
    changed_opening(opening, sight, line)
    return outage


def _refuse_overlap(opening: Opening, begins_on: date, ends_on: date | None) -> None:
    others = Outage.objects.filter(Q(ends_on=None) | Q(ends_on__gt=begins_on), opening=opening)
    if ends_on is not None:
        others = others.filter(begins_on__lt=ends_on)
    if other := others.first():
        since = other.begins_on.isoformat()
        raise AlreadyExistsError.at("/begins_on", f"It is out of service from {since} already.")


@transaction.atomic
def return_to_service(*, opening_id: UUID, outage_id: UUID, ends_on: date) -> Outage:
    """Record the first day back in service; its duties run again from that day."""
    opening, sight = opening_in_care(opening_id)
    outage = visible(Outage.objects.filter(opening=opening, id=outage_id))
    if outage.ends_on is not None:
        raise WrongStateError(f"Its first day back is {outage.ends_on.isoformat()} already.")
    if ends_on <= outage.begins_on:
        raise RefusedError.at("/ends_on", "The first day back lies after the first day out.")
    outage.ends_on = ends_on
    outage.save(update_fields=["ends_on"])
    _settled(opening, ends_on)
    content = {"to": ends_on.isoformat()}
    line = LedgerLine("opening_back_in_service", outage.id, opening.site_id, content)
    changed_opening(opening, sight, line)
    return outage


def _settled(opening: Opening, *days: date | None) -> None:
    react(Event.OPENING_CHANGED, opening=opening)
    for day in days:
        if day is not None:
            settle_from(opening, day)


@transaction.atomic
def remove_opening(
    *, opening_id: UUID, removed_on: date, reason: str, authority_reference: str = ""
) -> Opening:
    """Record that an assembly is gone: its duties end, what was open on it is closed as removed,
    its tag is free, its record stays.
    """
    opening, sight = opening_in_care(opening_id)
    refuse_removed(opening)
    if removed_on > today_at(opening.site):
        raise FutureDateError.at("/removed_on", "A removal is recorded when it has been done.")
    borne = OpeningTag.objects.get(opening=opening, ends_on=None)
    if removed_on < borne.begins_on:
        detail = f"It bears the tag {borne.tag!r} since {borne.begins_on.isoformat()}."
        raise RefusedError.at("/removed_on", detail)
    OpeningTag.objects.filter(id=borne.id).update(ends_on=removed_on)
    opening.removed_on, opening.removal_reason = removed_on, reason
    opening.removal_reference, opening.version = authority_reference, opening.version + 1
    opening.save(update_fields=["removed_on", "removal_reason", "removal_reference", "version"])
    react(Event.OPENING_REMOVED, opening=opening)
    react(Event.OPENING_CHANGED, opening=opening)
    content = {"on": removed_on.isoformat(), "authority_reference": authority_reference}
    line = LedgerLine("opening_removed", opening.id, opening.site_id, content)
    changed_opening(opening, sight, line)
    return opening


@transaction.atomic
def replace_opening(
    *,
    opening_id: UUID,
    removed_on: date,
    reason: str,
    opening: Mapping[str, Any],
    authority_reference: str = "",
) -> Opening:
    """Remove an assembly and record the one put in its place from the same day."""
    gone = remove_opening(
        opening_id=opening_id,
        removed_on=removed_on,
        reason=reason,
        authority_reference=authority_reference,
    )
    return add_opening(site_id=gone.site_id, in_place_since=removed_on, replaces=gone.id, **opening)


def refuse_removed(opening: Opening) -> None:
    """What has been removed is no longer changed."""
    if opening.removed_on is not None:
        day = opening.removed_on.isoformat()
        raise WrongStateError(f"This opening was removed on {day}.")
