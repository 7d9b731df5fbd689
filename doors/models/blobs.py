"""Blobs: bytes by their SHA-256, and the photos of openings that name them."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from doors.models.homes import AuthoredRow, OrganizationRow
from doors.walls import AUTHORED, OWN, Wall, in_sight


class Blob(OrganizationRow):
    """Bytes an organization sent, kept once under their digest and never changed.

    The sent bytes are for their organization alone; of a picture everybody else sees a copy
    drawn anew, without what the camera wrote beside it.
    """

    WALL = Wall(read=OWN, write=OWN, append_only=True)

    sha256 = models.CharField(max_length=64)
    media_type = models.CharField(max_length=60)
    size = models.PositiveIntegerField()
    width = models.PositiveIntegerField(null=True)
    height = models.PositiveIntegerField(null=True)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organization", "sha256"], name="blob_kept_once"),
        ]


_WORKED_ON = f"{in_sight('record')} OR {in_sight('manage')}"


class Photo(AuthoredRow):
    """A picture of an opening, by the digest of its author's blob.

    One hung there by mistake is withdrawn with a reason, by its author or by whoever manages the
    site: the row stays, its pixels are given out no more, and the picture may be hung anew.
    """

    WALL = Wall(
        read=f"{AUTHORED} OR {in_sight()}",
        write=f"{AUTHORED} AND ({_WORKED_ON})",
        change=f"{in_sight('manage')} OR ({AUTHORED} AND ({_WORKED_ON}))",
        changeable=("withdrawn_at", "withdrawn_by", "withdrawal_reason"),
        homes=(("opening_id", "doors_opening"),),
        frozen_once="withdrawn_at",
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="photos")
    sha256 = models.CharField(max_length=64)
    media_type = models.CharField(max_length=60)
    caption = models.CharField(max_length=300, blank=True)
    taken_on = models.DateField(null=True)
    recorded_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_by = models.CharField(max_length=200, blank=True)  # as it was called then
    withdrawal_reason = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["author", "opening", "sha256"],
                condition=Q(withdrawn_at__isnull=True),
                name="photo_of_opening_once",
            ),
        ]
        indexes = [models.Index(fields=["opening", "-recorded_at", "id"], name="photo_by_opening")]
