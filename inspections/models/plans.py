"""Plans: by whom and on which day a duty is to be met."""

from __future__ import annotations

from django.db import models

from doors.models.homes import AuthoredRow
from doors.walls import AUTHORED, Wall, in_sight


class DutyPlan(AuthoredRow):
    """What was planned for one window of a duty; a change is a new row, the latest stands.

    `due_on` is the day of the window that it is for: once that has moved, the plan is over.
    Without `planned_on` it takes the plan back. It moves no date and keeps nobody from being
    told.
    """

    WALL = Wall(
        read=f"{AUTHORED} OR {in_sight()}",
        write=f"{AUTHORED} AND ({in_sight('plan')} OR {in_sight('manage')})",
        homes=(("duty_id", "inspections_duty"),),
        append_only=True,
    )

    duty = models.ForeignKey("inspections.Duty", on_delete=models.PROTECT, related_name="plans")
    due_on = models.DateField()
    planned_on = models.DateField(null=True)
    by = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["duty", "-recorded_at"], name="plan_of_duty")]
