"""Openings as they were on a day."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar, cast
from uuid import UUID

from django.db.models import Exists, ForeignObjectRel, OuterRef, Q, QuerySet

from doors.clock import civil_date
from doors.models import Opening, OpeningFacts, OpeningTag, Outage, Site
from doors.models.homes import SiteRow
from doors.selectors.sight import as_custodian
from doors.selectors.visible import visible
from doors.tenancy import current

Facts = TypeVar("Facts", bound=OpeningFacts)
STATES = ("in_service", "out_of_service", "removed")


@dataclass(frozen=True, slots=True)
class FactsOnDay:
    """What was so at an opening on a day, as the rules library asks for it."""

    facts: dict[str, Any]
    listed_instructions: list[Any]


def opening_by_id(opening_id: UUID) -> Opening:
    """The opening with its site, or nothing by this address."""
    return visible(Opening.objects.select_related("site").filter(id=opening_id))


def lock_opening(opening_id: UUID) -> None:
    """Let what follows from an opening's visits be worked out by one transaction at a time."""
    Opening.objects.select_for_update().filter(id=opening_id).first()


def locked_opening(opening_id: UUID) -> Opening:
    """The opening with its site, locked as by `lock_opening`, or nothing by this address."""
    rows = Opening.objects.select_related("site").filter(id=opening_id)
    return visible(rows.select_for_update(of=("self",)))


def facts_on(opening: Opening, on: date) -> FactsOnDay:
    """The facts of that day: the last row begun by then, or the first ever recorded.

    An opening is older than its record, so a day before the first row has that row's facts.
    """
    out = Exists(outages_on(on).filter(opening_id=OuterRef("opening_id")))
    row = _row_of(OpeningFacts.objects.filter(opening=opening).annotate(out=out), on)
    told = told_by(opening, row)
    if opening.removed_on is not None and opening.removed_on <= on:
        told.facts["removed_on"] = opening.removed_on.isoformat()
    if vars(row)["out"] if row else outages_on(on).filter(opening=opening).exists():
        told.facts["in_service"] = False
    return told


def told_by(opening: Opening, row: OpeningFacts | None) -> FactsOnDay:
    """What one row, or none, says of a door that stands and is in service."""
    facts: dict[str, Any] = {"door_type": opening.door_type} | (row.facts if row else {})
    return FactsOnDay(facts, row.listed_instructions if row else [])


def facts_row(opening: Opening, on: date) -> OpeningFacts | None:
    """The row whose facts are those of that day."""
    return _row_of(OpeningFacts.objects.filter(opening=opening), on)


def _row_of(rows: QuerySet[Facts], on: date) -> Facts | None:
    row = rows.filter(begins_on__lte=on).order_by("-begins_on", "-recorded_at").first()
    return row or rows.order_by("begins_on", "recorded_at").first()


def outages_on(on: date) -> QuerySet[Outage]:
    """The outages that run on that day."""
    return Outage.objects.filter(Q(ends_on=None) | Q(ends_on__gt=on), begins_on__lte=on)


def tags_on(on: date) -> QuerySet[OpeningTag]:
    """The tags that doors bear on that day."""
    return OpeningTag.objects.filter(Q(ends_on=None) | Q(ends_on__gt=on), begins_on__lte=on)


def tag_on(opening: Opening, on: date) -> str:
    """The tag the opening bore on that day."""
    borne = tags_on(on).filter(opening=opening).first()
    return borne.tag if borne else opening.tag


def state_on(opening: Opening, outages: Iterable[Outage], on: date) -> str:
    """in_service, out_of_service or removed, on a civil day at the site."""
    if opening.removed_on is not None and opening.removed_on <= on:
        return "removed"
    out = any(o.begins_on <= on and (o.ends_on is None or on < o.ends_on) for o in outages)
    return "out_of_service" if out else "in_service"


def in_state(state: str) -> Q:
    """Openings in one of the STATES today, each by the calendar of its own site."""
    found = Q(pk__in=[])
    for zone in Site.objects.values_list("time_zone", flat=True).distinct():
        today = civil_date(current().now, zone)
        removed = Q(removed_on__isnull=False, removed_on__lte=today)
        out = Q(Exists(outages_on(today).filter(opening_id=OuterRef("pk"))))
        so = {"removed": removed, "out_of_service": ~removed & out, "in_service": ~removed & ~out}
        found |= Q(site__time_zone=zone) & so[state]
    return found


def happened_since(site_id: UUID, openings: Collection[Opening]) -> dict[UUID, str]:
    """What came to openings of a site, whoever wrote it, after their record: a change, or the name
    of what hangs on one; nothing of those to which nothing did.
    """
    found = {opening.id: "change" for opening in openings if opening.version != 1}
    ids = [opening.id for opening in openings if opening.id not in found]
    with as_custodian(site_id):
        for relation in Opening._meta.get_fields(include_hidden=True):
            model = cast("type[SiteRow]", relation.related_model)
            if not isinstance(relation, ForeignObjectRel) or model.BEGINS_WITH_OPENING:
                continue
            name = relation.field.name
            rows = model.objects.filter(**{f"{name}__in": ids}).order_by()
            for id_ in rows.values_list(f"{name}_id", flat=True).distinct():
                found.setdefault(id_, str(model._meta.verbose_name))
    return found


def openings_shown() -> QuerySet[Opening]:
    """The openings in sight, with what is shown of each, in as many queries for many as for one."""
    rows = Opening.objects.select_related("site", "replaced_by")
    return rows.prefetch_related("tags", "outages")


def shown_opening(opening_id: UUID) -> Opening:
    """One of them, or nothing by this address."""
    return visible(openings_shown().filter(id=opening_id))
