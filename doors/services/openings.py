"""Recording openings and what is so at them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

import rules
from doors.clock import civil_date
from doors.errors import AlreadyExistsError, RefusedError
from doors.models import Opening, OpeningFacts, OpeningTag, Site
from doors.reactions import Event, react
from doors.selectors.jurisdictions import place_of
from doors.selectors.sight import sight_of
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.tenancy import current


@transaction.atomic
def add_opening(
    *,
    site_id: UUID,
    tag: str,
    location: str,
    door_type: str,
    facts: Mapping[str, Any],
    listed_instructions: Sequence[Any] = (),
    floor: str = "",
    reference: str = "",
    in_place_since: date | None = None,
) -> Opening:
    """Record a door assembly with its facts; its duties begin in the same transaction."""
    sight = sight_of(site_id, "manage")
    site = Site.objects.get(id=site_id)
    today = civil_date(current().now, site.time_zone)
    begins_on = in_place_since or today
    if begins_on > today:
        raise RefusedError.at("/in_place_since", "An opening cannot stand from a future day.")
    opening = Opening(
        site=site,
        tag=tag,
        reference=reference,
        location=location,
        floor=floor,
        door_type=door_type,
        created_at=current().now,
        changed_at=current().now,
    )
    _save(opening)
    _record(opening, facts, listed_instructions, begins_on)
    OpeningTag.objects.create(site=site, opening=opening, tag=tag, begins_on=begins_on)
    react(Event.OPENING_CHANGED, opening=opening)
    content = {"facts_sha256": canonical_digest(dict(facts)), "door_type": door_type}
    line = LedgerLine("opening_added", opening.id, site.id, content)
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return opening


def _save(opening: Opening) -> None:
    try:
        with transaction.atomic():
            opening.save(force_insert=True)
    except IntegrityError as error:
        detail = f"An opening of this site bears the tag {opening.tag!r} already."
        raise AlreadyExistsError.at("/tag", detail) from error


def _record(
    opening: Opening, facts: Mapping[str, Any], instructions: Sequence[Any], begins_on: date
) -> None:
    """Keep the facts of a day; refuse what the rules library cannot read, naming the field."""
    today = civil_date(current().now, opening.site.time_zone)
    rules.requirements(
        facts={"door_type": opening.door_type, **facts},
        jurisdiction=place_of(opening.site_id, today).library_place,
        on=today,
        listed_instructions=instructions,
    )
    OpeningFacts.objects.create(
        site_id=opening.site_id,
        opening=opening,
        begins_on=begins_on,
        facts=dict(facts),
        listed_instructions=list(instructions),
        recorded_at=current().now,
    )
