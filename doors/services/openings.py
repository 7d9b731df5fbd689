"""Recording openings, and changing what is known of them beside their facts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, cast
from uuid import UUID

from django.db import IntegrityError, transaction

from doors.clock import civil_date
from doors.models import Opening, Sight, Site
from doors.selectors.openings import lock_opening, opening_by_id
from doors.selectors.sight import sight_of
from doors.selectors.visible import named_at
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.services.newcomers import AtOneSite, clash_of, refuse_other_measure
from doors.services.versions import change_row
from doors.tenancy import current
from rules.quantities import Dimension


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
    with named_at("/site"):
        here = AtOneSite.of(site_id)
    here.look(
        tag=tag,
        location=location,
        door_type=door_type,
        facts=facts,
        listed_instructions=listed_instructions,
        in_place_since=in_place_since,
        replaces=replaces,
        **particulars,
    )
    return here.keep()[0]


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
        raise clash_of(opening) or error from error
    content = {"version": found.version, "changed_sha256": canonical_digest(changed)}
    line = LedgerLine("opening_changed", opening.id, opening.site_id, content)
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return found
