"""Deficiencies with what was done about them, and by whom."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery

from doors.clock import civil_date
from doors.models import Sight, Site
from doors.selectors.visible import visible
from doors.tenancy import acting_organization, current
from inspections.models import (
    Deficiency,
    GroupedDeficiency,
    InterimMeasure,
    Repair,
    Visit,
)

STANDING = ("open", "repaired")


def with_measures(rows: QuerySet[Deficiency]) -> QuerySet[Deficiency]:
    """With interim measures and repairs, oldest first, in two more queries however many rows."""
    return rows.prefetch_related(
        Prefetch("interim_measures", InterimMeasure.objects.order_by("begins_at", "id")),
        Prefetch("repairs", Repair.objects.order_by("done_at", "id")),
    )


def with_people(rows: QuerySet[Deficiency]) -> QuerySet[Deficiency]:
    """With who found and proved each, the groups it is in, and what `with_measures` adds.

    `zone` is that of a site in sight: a former owner keeps the record and not the building.
    """
    who = Visit.objects.only("id", "site_id", "author_id", "author_name", "attested_by")
    grouped = GroupedDeficiency.objects.select_related("group").order_by("group_id")
    zone = Site.objects.filter(id=OuterRef("site_id")).values("time_zone")[:1]
    found = rows.annotate(zone=Subquery(zone)).prefetch_related(
        Prefetch("found_by", who), Prefetch("proven_by", who), Prefetch("grouped", grouped)
    )
    return with_measures(found)


def deficiency_by_id(deficiency_id: UUID) -> Deficiency:
    """The deficiency, or nothing by this address."""
    return visible(with_people(Deficiency.objects.filter(id=deficiency_id)))


def is_guarded(deficiency: Deficiency, now: datetime) -> bool:
    """Whether it stands and an interim measure protects people at this instant."""
    return deficiency.state in STANDING and any(
        in_force(measure, now) for measure in deficiency.interim_measures.all()
    )


def in_force(measure: InterimMeasure, now: datetime) -> bool:
    """Whether it has begun and neither run out nor been ended."""
    ends = [end for end in (measure.ends_at, measure.stopped_at) if end is not None]
    return measure.begins_at <= now and all(now < end for end in ends)


def is_overdue(deficiency: Deficiency, now: datetime) -> bool:
    """Whether it stands after the site's day by which it was to be put right. What is no longer
    in sight is not overdue for whoever keeps the record of it.
    """
    zone = deficiency.zone  # type: ignore[attr-defined]  # annotated by `with_people`
    if deficiency.state not in STANDING or deficiency.due_on is None or zone is None:
        return False
    return deficiency.due_on < civil_date(now, zone)


def overdue() -> Q:
    """Those that are overdue now, each by the calendar of its own site."""
    found = Q(pk__in=[])
    for zone in Site.objects.values_list("time_zone", flat=True).distinct():
        found |= Q(site__time_zone=zone, due_on__lt=civil_date(current().now, zone))
    return found & Q(state__in=STANDING)


def of_owner(owner_id: UUID) -> Q:
    """Those at the sites in sight that are in this owner's custody now."""
    sights = Sight.active(acting_organization(), current().now).filter(custodian_id=owner_id)
    return Q(site_id__in=sights.values("site_id"))


def who_did(deficiency: Deficiency) -> dict[str, Any]:
    """Which organization and which person inspected, repaired and retested, as far as it is seen,
    and whether one firm did all three.
    """
    found, proven = deficiency.found_by, deficiency.proven_by
    person = found.attested_by if found else deficiency.found_by_person
    repairs = list(deficiency.repairs.all())
    authors = {deficiency.author_id, *(repair.author_id for repair in repairs)}
    same = proven is not None and bool(repairs) and authors == {proven.author_id}
    return {
        "inspected": {"organization": deficiency.author_name, "person": person},
        "repaired": [{"organization": r.author_name, "person": r.done_by} for r in repairs],
        "retested": (
            {"organization": proven.author_name, "person": proven.attested_by} if proven else None
        ),
        "same_firm": same,
        "same_firm_words": _SAME.format(deficiency.author_name) if same else "",
    }


_SAME = (
    "{} inspected, repaired and retested this door. Whether one firm may do all three is for the "
    "authority having jurisdiction to say."
)
