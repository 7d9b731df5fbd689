"""Outages: when an opening was out of service, and why."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from doors.models.homes import SiteRow
from doors.walls import Wall, in_sight


class Outage(SiteRow):
    """A time out of service, in civil days of the site; `ends_on` is the first day back.

    Only the end is written later, once. In between every duty of the opening is suspended.
    """

    WALL = Wall(
        read=in_sight(),
        write=in_sight("manage"),
        changeable=("ends_on",),
        homes=(("opening_id", "doors_opening"),),
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="outages")
    begins_on = models.DateField()
    ends_on = models.DateField(null=True)
    reason = models.CharField(max_length=500)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["opening"], condition=Q(ends_on__isnull=True), name="one_outage_at_a_time"
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gt=F("begins_on")),
                name="outage_runs_forward",
            ),
        ]
        indexes = [models.Index(fields=["opening", "begins_on"], name="outage_by_opening")]
