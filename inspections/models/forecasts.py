"""What was foretold of a door's readings, so that it is told once and not at every visit."""

from __future__ import annotations

from django.db import models

from doors.models.homes import SiteRow
from doors.walls import Wall, in_sight


class Forecast(SiteRow):
    """That one quantity of one opening is expected to pass a limit before its next duty.

    It stands until a visit proves otherwise (`ended_at`); `version` rises each time it is told
    anew, because it began again or the day moved by much.
    """

    WALL = Wall(
        read=in_sight(),
        write=in_sight("manage"),
        changeable=("crosses_on", "due_on", "told_at", "ended_at", "version"),
        homes=(("opening_id", "doors_opening"),),
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="+")
    quantity = models.CharField(max_length=60)
    side = models.CharField(max_length=4, choices=[("low", "low"), ("high", "high")])
    crosses_on = models.DateField()
    due_on = models.DateField()
    told_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["opening", "quantity", "side"], name="forecast_of_quantity"
            ),
        ]
