"""Where a site lies changes: a boundary moved, or a county holds beside a city."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from uuid import UUID

from django.db import transaction

from doors.errors import RefusedError
from doors.models import Site, SitePlace
from doors.reactions import Event, react
from doors.selectors.jurisdictions import place_for_a_site
from doors.selectors.sight import sight_of
from doors.services.ledger import LedgerLine, write_ledger


@transaction.atomic
def place_site(*, site_id: UUID, jurisdictions: Sequence[str], begins_on: date) -> list[SitePlace]:
    """Let a site lie in these places, and no others, from a day on; answers all its rows.

    The day may lie in the past, since a boundary is often learnt of late, though not before the
    last change. What was judged and filed by then stays; what is due is settled anew.
    """
    sight = sight_of(site_id, "manage")
    site = Site.objects.select_for_update(no_key=True).get(id=site_id)
    wanted = {
        place.id: place
        for n, code in enumerate(jurisdictions)
        for place in [place_for_a_site(code, f"/jurisdictions/{n}")]
    }
    rows = list(SitePlace.objects.filter(site=site))
    _refuse_day(rows, begins_on)
    standing = [row for row in rows if row.ends_on is None]
    for row in standing:
        if row.jurisdiction_id not in wanted:
            row.ends_on = begins_on
            row.save(update_fields=["ends_on"])
    kept = {row.jurisdiction_id for row in standing}
    added = [SitePlace(site=site, jurisdiction=p, begins_on=begins_on) for p in wanted.values()]
    SitePlace.objects.bulk_create([row for row in added if row.jurisdiction_id not in kept])
    react(Event.PLACES_CHANGED, site=site, begins_on=begins_on)
    content = {"jurisdictions": sorted(p.code for p in wanted.values())}
    line = LedgerLine(
        "places_changed", site.id, site.id, {**content, "from": begins_on.isoformat()}
    )
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return list(SitePlace.objects.filter(site=site).select_related("jurisdiction"))


def _refuse_day(rows: list[SitePlace], begins_on: date) -> None:
    days = [day for row in rows for day in (row.begins_on, row.ends_on) if day is not None]
    if days and begins_on <= max(days):
        last = max(days).isoformat()
        detail = f"Its places changed on {last} last; another change comes after that day."
        raise RefusedError.at("/begins_on", detail)
