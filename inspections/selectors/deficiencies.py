"""Deficiencies with what was done about them."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db.models import Prefetch, QuerySet

from doors.selectors.visible import visible
from inspections.models import Deficiency, InterimMeasure, Repair


def with_measures(rows: QuerySet[Deficiency]) -> QuerySet[Deficiency]:
    """With interim measures and repairs, oldest first, in two more queries however many rows."""
    return rows.prefetch_related(
        Prefetch("interim_measures", InterimMeasure.objects.order_by("begins_at", "id")),
        Prefetch("repairs", Repair.objects.order_by("done_at", "id")),
    )


def deficiency_by_id(deficiency_id: UUID) -> Deficiency:
    """The deficiency, or nothing by this address."""
    return visible(with_measures(Deficiency.objects.filter(id=deficiency_id)))


def is_guarded(deficiency: Deficiency, now: datetime) -> bool:
    """Whether it stands and an interim measure protects people at this instant."""
    return deficiency.state in {"open", "repaired"} and any(
        m.begins_at <= now and (m.ends_at is None or m.ends_at > now)
        for m in deficiency.interim_measures.all()
    )
