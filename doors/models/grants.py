"""Grants: an owner lets another organization act on a site or on all its sites."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from doors.models.homes import Row
from doors.tenancy import Context, Purpose, WalledManager
from doors.walls import ORGANIZATION, Wall, in_sight


class Grant(Row):
    """What a grantee may do, from and to, in civil dates of each site. A change is a new row;
    only the end of an open one is written, once. No site means all the owner's sites.
    """

    OPEN_TO = frozenset({Purpose.CUSTODY})
    WALL = Wall(
        read=f"owner_id = {ORGANIZATION} OR grantee_id = {ORGANIZATION}",
        write=f"owner_id = {ORGANIZATION} AND (site_id IS NULL OR {in_sight('manage')})",
        changeable=("ends_on",),
        circle=(("owner_id", "doors_organization"), ("grantee_id", "doors_organization")),
        open_to=OPEN_TO,
    )

    owner = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    owner_name = models.CharField(max_length=200)
    grantee = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    site = models.ForeignKey("doors.Site", on_delete=models.PROTECT, null=True, related_name="+")
    actions = models.JSONField(default=list)
    begins_on = models.DateField()
    ends_on = models.DateField(null=True)
    reason = models.CharField(max_length=500, blank=True)
    created_at = models.DateTimeField()

    objects = WalledManager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("begins_on")),
                name="grant_runs_forward",
            ),
        ]

    @staticmethod
    def visible_to(context: Context) -> Q:
        """What it gave and what it was given."""
        return Q(owner_id=context.organization_id) | Q(grantee_id=context.organization_id)
