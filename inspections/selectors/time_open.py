"""How long what was wrong stood open, counted by the database over what the caller sees."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from django.db.models import (
    Count,
    DateTimeField,
    DurationField,
    ExpressionWrapper,
    F,
    Max,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    Window,
)
from django.db.models.functions import Coalesce, Concat, RowNumber

from doors.models import Opening, Sight, Site
from doors.tenancy import acting_organization, current
from inspections.models import Deficiency
from inspections.selectors.deficiencies import STANDING

BY = ("owner", "door_type", "site", "class")


def time_open(by: str) -> list[dict[str, Any]]:
    """For each owner, type of door, site or class: how many, how many still stand, and the median
    and the longest time open. What was withdrawn was not wrong, and does not count; what still
    stands counts with its time until now.
    """
    rows = _timed(by)
    counted = rows.values("key", "label").annotate(
        total=Count("id"), standing=Count("id", filter=Q(state__in=STANDING)), longest=Max("open")
    )
    medians = dict(_medians(rows))
    return [
        {
            "key": str(row["key"]) if row["key"] is not None else "",
            "label": row["label"] or "",
            "deficiencies": row["total"],
            "still_open": row["standing"],
            "median_days": _days(medians[row["key"], row["label"]]),
            "longest_days": _days(row["longest"]),
        }
        for row in counted.order_by("label", "key")
    ]


def _timed(by: str) -> QuerySet[Any, Any]:
    now = Value(current().now, output_field=DateTimeField())
    lasted = ExpressionWrapper(
        Coalesce("ended_at", now) - F("opened_at"), output_field=DurationField()
    )
    key, label = _told_by(by)
    rows: QuerySet[Any, Any] = Deficiency.objects.exclude(state="withdrawn")
    return rows.annotate(open=lasted, key=key, label=label)


def _told_by(by: str) -> tuple[Any, Any]:
    """What they are counted by, and how that is called, both by what the caller sees."""
    if by == "owner":
        sights = Sight.active(acting_organization(), current().now)
        own = sights.filter(site_id=OuterRef("site_id")).order_by("grant_id", "id")
        return Subquery(own.values("custodian_id")[:1]), Subquery(own.values("custodian_name")[:1])
    if by == "site":
        sites = Site.objects.filter(id=OuterRef("site_id"))
        return F("site_id"), Subquery(sites.values("name")[:1])
    if by == "door_type":
        openings = Opening.objects.filter(id=OuterRef("opening_id")).values("door_type")[:1]
        return Subquery(openings), Subquery(openings)
    # Two columns of one expression are one to a query on windows: these two differ.
    return F("urgency"), Concat("urgency", Value(""))


def _medians(
    rows: QuerySet[Any, Any],
) -> Iterator[tuple[tuple[Any, Any], timedelta]]:
    """The middle one of each, or the mean of the two in the middle, picked by the database."""
    within = [F("key"), F("label")]
    ranked = rows.annotate(
        place=Window(RowNumber(), partition_by=within, order_by=[F("open"), F("id")]),
        many=Window(Count("id"), partition_by=within),
    )
    middle = ranked.filter(Q(place__gte=F("many") / 2.0) & Q(place__lte=F("many") / 2.0 + 1))
    found: dict[tuple[Any, Any], list[timedelta]] = {}
    for key, label, lasted in middle.values_list("key", "label", "open"):
        found.setdefault((key, label), []).append(lasted)
    for group, lasted in found.items():
        yield group, sum(lasted, timedelta()) / len(lasted)


def _days(lasted: timedelta) -> str:
    """Days to a tenth."""
    return f"{lasted / timedelta(days=1):.1f}"
