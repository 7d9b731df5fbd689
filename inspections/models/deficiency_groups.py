"""One cause over many doors, as an organization puts deficiencies together for itself."""

from __future__ import annotations

from django.db import models

from doors.models.homes import OrganizationRow
from doors.walls import OWN, Wall


class DeficiencyGroup(OrganizationRow):
    """Deficiencies of one cause. It is no state: each door is proven by itself, and who no longer
    sees a door no longer sees it here.
    """

    WALL = Wall(read=OWN, write=OWN, append_only=True)

    title = models.CharField(max_length=300)
    words = models.TextField(blank=True)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organization", "id"], name="deficiency_group_home"),
        ]
        indexes = [
            models.Index(fields=["organization", "-created_at", "id"], name="deficiency_group_made")
        ]


class GroupedDeficiency(OrganizationRow):
    """One deficiency of a group."""

    WALL = Wall(
        read=OWN,
        write=OWN,
        kin=(("group_id", "inspections_deficiencygroup"),),
        append_only=True,
    )

    group = models.ForeignKey(DeficiencyGroup, on_delete=models.PROTECT, related_name="members")
    deficiency = models.ForeignKey(
        "inspections.Deficiency", on_delete=models.PROTECT, related_name="grouped"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["group", "deficiency"], name="grouped_once"),
        ]
