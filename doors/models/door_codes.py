"""Codes at doors: who stands before a door reads one, and needs no account."""

from __future__ import annotations

from django.db import models

from doors.models.homes import SiteRow
from doors.tenancy import Purpose
from doors.walls import Wall, in_sight


class DoorCode(SiteRow):
    """One code at one opening: 256 random bits shown once, of which the SHA-256 is kept.

    `calls` are whom its page says to call, as `{"who", "telephone"}`: they are printed for
    whoever stands at the door, so they are told for that and never taken from elsewhere. What is
    done by a code is recorded in the owner's words, so it ends with the custody of the owner for
    whom it was made, who still knows it.
    """

    OPEN_TO = frozenset({Purpose.DOOR})
    WALL = Wall(
        read=in_sight(),
        write=in_sight("manage", custodian=True),
        changeable=("revoked_at",),
        once=("revoked_at",),
        homes=(("opening_id", "doors_opening"),),
        open_to=OPEN_TO,
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="codes")
    custodian = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    label = models.CharField(max_length=200)
    calls = models.JSONField(default=list)
    code_sha256 = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["id", "site"], name="door_code_home")]
        indexes = [models.Index(fields=["opening", "-created_at"], name="code_by_opening")]
