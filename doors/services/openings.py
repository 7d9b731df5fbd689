"""Recording openings, and changing what is known of them beside their facts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, cast
from uuid import UUID

from django.db import IntegrityError, transaction

from doors.clock import civil_date
from doors.errors import AlreadyExistsError, FutureDateError, RefusedError
from doors.models import Opening, OpeningTag, Sight, Site
from doors.reactions import Event, react
from doors.selectors.openings import lock_opening, opening_by_id
from doors.selectors.sight import sight_of
from doors.services.facts import first_facts
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.services.versions import change_row
from doors.tenancy import current
from rules.errors import InputError
from rules.quantities import Dimension, quantity


@transaction.atomic
def add_opening(
    *,
    site_id: UUID,
    tag: str,
    location: str,
    door_type: str,
    facts: Mapping[str, Any],
    listed_instructions: Sequence[Any] = (),
    in_place_since: date | None = None,
    replaces: UUID | None = None,
    **particulars: Any,
) -> Opening:
    """Record a door assembly with its facts; its duties begin in the same transaction.

    `particulars` are the rest of `doors.models.PARTICULARS`. One that it `replaces` stands at the
    same site, has been removed, and was not replaced by another.
    """
    sight = sight_of(site_id, "manage")
    site = Site.objects.get(id=site_id)
    begins_on = in_place_since or today_at(site)
    if begins_on > today_at(site):
        detail = "An opening cannot stand from a future day."
        raise FutureDateError.at("/in_place_since", detail)
    refuse_other_measure(particulars.get("travel_length"), Dimension.LENGTH, "/travel_length")
    opening = Opening(
        site=site,
        tag=tag,
        location=location,
        door_type=door_type,
        replaces=_replaced(site_id, replaces) if replaces else None,
        created_at=current().now,
        changed_at=current().now,
        **particulars,
    )
    _save(opening, begins_on)
    first_facts(opening, facts, listed_instructions, begins_on)
    react(Event.OPENING_CHANGED, opening=opening)
    content = {"facts_sha256": canonical_digest(dict(facts)), "door_type": door_type}
    line = LedgerLine("opening_added", opening.id, site.id, content)
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return opening


def today_at(site: Site) -> date:
    """The day on the calendar of a site."""
    return civil_date(current().now, site.time_zone)


def opening_in_care(opening_id: UUID, *any_of: str) -> tuple[Opening, Sight]:
    """An opening that the acting organization manages, locked, with the sight that lets it.

    `any_of` are other actions that will do.
    """
    lock_opening(opening_id)
    opening = opening_by_id(opening_id)
    return opening, sight_of(opening.site_id, *(any_of or ("manage",)))


def changed_opening(opening: Opening, sight: Sight, line: LedgerLine) -> None:
    """Finish a change of what hangs on an opening: its version rises, the line is written last."""
    change_row(Opening.objects.filter(id=opening.id), expected=None, changed_at=current().now)
    opening.refresh_from_db(fields=["version", "changed_at"])
    write_ledger(custodian_id=sight.custodian_id, lines=[line])


def _replaced(site_id: UUID, replaced_id: UUID) -> Opening:
    found = Opening.objects.filter(id=replaced_id, site_id=site_id).first()
    if found is None:
        raise RefusedError.at("/replaces", "No opening of this site has this id.")
    if found.removed_on is None:
        raise RefusedError.at("/replaces", "It stands: remove it first, or replace it.")
    if Opening.objects.filter(replaces=found).exists():
        raise AlreadyExistsError.at("/replaces", "Another opening replaces it already.")
    return found


def refuse_other_measure(
    amount: Mapping[str, str] | None, dimension: Dimension, pointer: str
) -> None:
    """Refuse an amount that is not of that dimension, or not above zero."""
    if amount is None:
        return
    measure = quantity(amount["value"], amount["unit"], pointer)
    if measure.unit.dimension is not dimension:
        raise InputError.at(f"{pointer}/unit", "wrong_dimension", f"this is a {dimension}")
    if measure.value <= 0:
        raise InputError.at(f"{pointer}/value", "out_of_range", "this is above zero")


def _save(opening: Opening, begins_on: date) -> None:
    try:
        with transaction.atomic():
            opening.save(force_insert=True)
            OpeningTag.objects.create(
                site_id=opening.site_id, opening=opening, tag=opening.tag, begins_on=begins_on
            )
    except IntegrityError as error:
        raise _clash(opening) from error


def _clash(opening: Opening) -> AlreadyExistsError:
    """Which of the two names of an opening another one at the site bears."""
    others = Opening.objects.filter(site_id=opening.site_id, removed_on=None)
    if opening.reference and others.filter(reference=opening.reference).exists():
        detail = f"An opening of this site has the reference {opening.reference!r} already."
        return AlreadyExistsError.at("/reference", detail)  # type: ignore[return-value]
    detail = f"An opening of this site bears the tag {opening.tag!r} already."
    return AlreadyExistsError.at("/tag", detail)  # type: ignore[return-value]


@transaction.atomic
def change_opening(*, opening_id: UUID, expected: frozenset[int] | None, **changed: Any) -> Opening:
    """Change what is known of an opening beside its facts; refused where another version stands.

    Its tag, its kind and its facts are not changed here: they hold from a day on.
    """
    opening, sight = opening_in_care(opening_id)
    refuse_other_measure(changed.get("travel_length"), Dimension.LENGTH, "/travel_length")
    opening.reference = changed.get("reference", opening.reference)
    stamp = {"changed_at": current().now} if changed else {}
    try:
        with transaction.atomic():
            rows = Opening.objects.select_related("site").filter(id=opening_id)
            found = cast("Opening", change_row(rows, expected=expected, **changed, **stamp))
    except IntegrityError as error:
        raise _clash(opening) from error
    content = {"version": found.version, "changed_sha256": canonical_digest(changed)}
    line = LedgerLine("opening_changed", opening.id, opening.site_id, content)
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return found
