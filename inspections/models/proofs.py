"""Proofs that the duties stored are the duties computed, and every difference ever found."""

from __future__ import annotations

from django.db import models

from doors.models.homes import SiteRow
from doors.models.jobs import CLAIM_COLUMNS, Claimable
from doors.tenancy import Purpose
from doors.walls import Wall, in_sight


class DutyProof(SiteRow, Claimable):
    """The latest proof of one site; it is made anew each night, and mends nothing."""

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=in_sight(),
        write=in_sight("manage"),
        changeable=(*CLAIM_COLUMNS, "proven_at", "openings", "differences"),
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    proven_at = models.DateTimeField(null=True)
    openings = models.PositiveIntegerField(default=0)
    differences = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site"], name="one_proof_a_site")]
        indexes = [
            models.Index(
                fields=["not_before"],
                name="proof_waiting",
                condition=models.Q(state__in=["waiting", "claimed"]),
            ),
        ]


class DutyDifference(SiteRow):
    """One duty that was not stored as it is computed: what stood there and what should have."""

    WALL = Wall(
        read=in_sight(),
        write=in_sight("manage"),
        homes=(("opening_id", "doors_opening"),),
        append_only=True,
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="+")
    requirement = models.CharField(max_length=160)
    stored = models.JSONField(null=True)
    computed = models.JSONField(null=True)
    found_at = models.DateTimeField()
