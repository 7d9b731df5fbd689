"""Ladders: a failure that nobody has said they have seen climbs from contact to contact."""

from __future__ import annotations

from django.db import models

from doors.models.homes import OrganizationRow
from doors.models.jobs import CLAIM_COLUMNS, Claimable
from doors.tenancy import Purpose
from doors.walls import OWN, Wall


class Ladder(OrganizationRow, Claimable):
    """How far up one owing has climbed in an organization. `not_before` is when the next contact
    hears of it; `done` once somebody has seen it, `failed` where nobody was left to tell.
    """

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=(*CLAIM_COLUMNS, "rung", "problem"),
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    owing = models.ForeignKey("inspections.Owing", on_delete=models.PROTECT, related_name="+")
    rung = models.PositiveSmallIntegerField(default=0)
    problem = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organization", "owing"], name="one_ladder"),
        ]
        indexes = [
            models.Index(
                fields=["not_before"],
                name="ladder_waiting",
                condition=models.Q(state__in=["waiting", "claimed"]),
            ),
        ]
