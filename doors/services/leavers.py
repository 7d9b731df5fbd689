"""Openings taken back, many at once: those to which nothing has happened since their record."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from uuid import UUID

from django.db.models import F

from doors.errors import NotVisibleError, RefusedError, ServiceError, WrongStateError
from doors.models import Opening, OpeningFacts, OpeningTag, Sight
from doors.reactions import Event, react
from doors.selectors.openings import happened_since
from doors.selectors.sight import sight_of
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.openings import today_at
from doors.tenancy import current


def take_back_openings(opening_ids: Collection[UUID], reason: str) -> dict[UUID, ServiceError]:
    """Remove them, in the transaction at hand; answers of each that stays, why.

    What is asked is asked once of all those of a site, however many they are.
    """
    standing = Opening.objects.filter(id__in=opening_ids)
    list(standing.select_for_update().order_by("id"))  # in one order, whoever else takes several
    stay: dict[UUID, ServiceError] = dict.fromkeys(opening_ids, NotVisibleError())
    at: dict[UUID, list[Opening]] = {}
    for opening in standing.select_related("site").order_by("id"):
        at.setdefault(opening.site_id, []).append(opening)
    leaving: list[tuple[Sight, list[Opening]]] = []
    for site_id, openings in at.items():
        try:
            sight = sight_of(site_id, "manage")
        except ServiceError as refused:
            stay |= dict.fromkeys((opening.id for opening in openings), refused)
            continue
        kept = _kept(site_id, openings)
        gone = [opening for opening in openings if opening.id not in kept]
        stay = {id_: why for id_, why in stay.items() if id_ not in {o.id for o in gone}} | kept
        leaving += [(sight, gone)] if gone else []
    for sight, gone in sorted(leaving, key=lambda each: each[0].custodian_id):
        _remove(sight, gone, reason)
    return stay


def _kept(site_id: UUID, openings: list[Opening]) -> dict[UUID, ServiceError]:
    """Those of a site that stay: gone already, or with a life of their own by now."""
    kept: dict[UUID, ServiceError] = {}
    today, since = today_at(openings[0].site), happened_since(site_id, openings)
    borne = OpeningTag.objects.filter(opening__in=openings, ends_on=None)
    begun = dict(borne.values_list("opening_id", "begins_on"))
    for opening in openings:
        if opening.removed_on is not None:
            day = opening.removed_on.isoformat()
            kept[opening.id] = WrongStateError(f"This opening was removed on {day}.")
        elif opening.id in since:
            came = f"It stays, for since it was recorded there has come: {since[opening.id]}."
            kept[opening.id] = WrongStateError(came)
        elif begun[opening.id] > today:
            day = begun[opening.id].isoformat()
            kept[opening.id] = RefusedError(f"It bears the tag {opening.tag!r} since {day}.")
    return kept


def _remove(sight: Sight, openings: list[Opening], reason: str) -> None:
    """Record that they are gone from today on: their duties end, their tags are free."""
    site, by_id = openings[0].site, {opening.id: opening for opening in openings}
    today: date = today_at(site)
    for opening in openings:
        opening.removed_on, opening.removal_reason = today, reason
    OpeningTag.objects.filter(opening__in=openings, ends_on=None).update(ends_on=today)
    Opening.objects.filter(id__in=by_id).update(
        removed_on=today,
        removal_reason=reason,
        version=F("version") + 1,
        changed_at=current().now,
    )
    facts = list(OpeningFacts.objects.filter(opening__in=openings))
    for row in facts:
        row.opening = by_id[row.opening_id]
    react(Event.OPENINGS_TAKEN_BACK, site=site, facts=facts)
    content = {"on": today.isoformat(), "authority_reference": ""}
    lines = [LedgerLine("opening_removed", opening.id, site.id, content) for opening in openings]
    write_ledger(custodian_id=sight.custodian_id, lines=lines)
