"""Blobs: bytes by their SHA-256, and the photos of openings that name them."""

from __future__ import annotations

from django.db import models

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


class Photo(AuthoredRow):
    """A picture of an opening, by the digest of its author's blob."""

    WALL = Wall(
        read=f"{AUTHORED} OR {in_sight()}",
        write=f"{AUTHORED} AND ({in_sight('record')} OR {in_sight('manage')})",
        homes=(("opening_id", "doors_opening"),),
        append_only=True,
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="photos")
    sha256 = models.CharField(max_length=64)
    media_type = models.CharField(max_length=60)
    caption = models.CharField(max_length=300, blank=True)
    taken_on = models.DateField(null=True)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["author", "opening", "sha256"], name="photo_of_opening_once"
            ),
        ]
        indexes = [models.Index(fields=["opening", "-recorded_at", "id"], name="photo_by_opening")]
