"""Groups of deficiencies with those of them that are in sight."""

from __future__ import annotations

from uuid import UUID

from django.db.models import Prefetch, QuerySet

from doors.selectors.visible import visible
from inspections.models import Deficiency, DeficiencyGroup, GroupedDeficiency


def groups_shown() -> QuerySet[DeficiencyGroup]:
    """The acting organization's groups with their members, in as many queries for many as one."""
    seen = Deficiency.objects.only("id", "site_id", "opening_id", "title", "state")
    members = GroupedDeficiency.objects.filter(deficiency__in=Deficiency.objects.values("id"))
    with_each = members.prefetch_related(Prefetch("deficiency", seen)).order_by("id")
    return DeficiencyGroup.objects.prefetch_related(Prefetch("members", with_each))


def group_by_id(group_id: UUID) -> DeficiencyGroup:
    """The group, or nothing by this address."""
    return visible(groups_shown().filter(id=group_id))
