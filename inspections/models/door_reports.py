"""What is told at a door by whoever stands before it, and the door's own table of signs."""

from __future__ import annotations

from django.db import models

from doors.models.homes import SiteRow
from doors.walls import Wall, in_sight


class SignTable(SiteRow):
    """What this door's sounds and standing mean by its own instructions: rows as the rules library
    reads them, as sent. No maker's table is built in.
    """

    WALL = Wall(
        read=in_sight(),
        write=f"{in_sight('record')} OR {in_sight('manage')}",
        changeable=("entries", "changed_at", "version"),
        homes=(("opening_id", "doors_opening"),),
        rising="version",
    )

    opening = models.OneToOneField("doors.Opening", on_delete=models.PROTECT, related_name="+")
    entries = models.JSONField(default=list)
    changed_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)


class DoorReport(SiteRow):
    """That a door sounds, or stands where it should not: told once by its `nonce`, by somebody who
    says who they are. `said` is what was heard and seen in the rules library's words; `deficiency`
    is what it opened, or None where the same stood open already.
    """

    WALL = Wall(
        read=in_sight(),
        write=in_sight("manage"),
        homes=(
            ("opening_id", "doors_opening"),
            ("code_id", "doors_doorcode"),
            ("deficiency_id", "inspections_deficiency"),
        ),
        append_only=True,
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="+")
    code = models.ForeignKey("doors.DoorCode", on_delete=models.PROTECT, related_name="+")
    nonce = models.CharField(max_length=64)
    said = models.JSONField()
    told_by = models.CharField(max_length=200)
    words = models.TextField(blank=True)
    told_at = models.DateTimeField()
    deficiency = models.ForeignKey(
        "inspections.Deficiency", on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["opening", "nonce"], name="door_report_told_once"),
        ]
        indexes = [models.Index(fields=["site", "-told_at"], name="report_by_site")]
