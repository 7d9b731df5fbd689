"""Openings: one door assembly each, with facts and tags that change over time."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from doors.models.homes import SiteRow
from doors.walls import Wall, in_sight
from rules.vocabulary import DoorType

DOOR_TYPES = [(door.value, door.value.replace("_", " ").title()) for door in DoorType]


class Opening(SiteRow):
    """One door assembly. Another kind of door in the same wall is another opening."""

    WALL = Wall(
        read=in_sight(),
        write=in_sight("manage"),
        changeable=(
            "tag",
            "reference",
            "location",
            "floor",
            "out_of_service_from",
            "removed_on",
            "version",
        ),
    )

    tag = models.CharField(max_length=60)
    reference = models.CharField(max_length=100, blank=True)
    location = models.CharField(max_length=300)
    floor = models.CharField(max_length=60, blank=True)
    door_type = models.CharField(max_length=24, choices=DOOR_TYPES)
    out_of_service_from = models.DateField(null=True)
    removed_on = models.DateField(null=True)
    created_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="opening_home"),
            models.UniqueConstraint(fields=["site", "tag"], name="opening_tag"),
        ]
        indexes = [models.Index(fields=["site", "tag"], name="opening_by_site")]


class OpeningFacts(SiteRow):
    """What is so at an opening from a day on: facts as the rules library names them, and the
    numbers of the door's own listed instructions.
    """

    WALL = Wall(
        read=in_sight(),
        write=in_sight("manage"),
        homes=(("opening_id", "doors_opening"),),
        append_only=True,
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="facts")
    begins_on = models.DateField()
    facts = models.JSONField(default=dict)
    listed_instructions = models.JSONField(default=list)
    recorded_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["opening", "-begins_on"], name="facts_by_opening")]


class OpeningTag(SiteRow):
    """A tag the opening bears or bore; an opening is found by any of them."""

    WALL = Wall(
        read=in_sight(),
        write=in_sight("manage"),
        changeable=("ends_on",),
        homes=(("opening_id", "doors_opening"),),
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="tags")
    tag = models.CharField(max_length=60)
    begins_on = models.DateField()
    ends_on = models.DateField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "tag"], condition=Q(ends_on__isnull=True), name="tag_borne_once"
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gt=F("begins_on")),
                name="tag_runs_forward",
            ),
        ]
