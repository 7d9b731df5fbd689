"""Openings: one door assembly each, with facts and tags that change over time."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from doors.models.homes import SiteRow
from doors.tenancy import Purpose
from doors.walls import Wall, in_sight
from rules.vocabulary import DoorType

DOOR_TYPES = [(door.value, door.value.replace("_", " ").title()) for door in DoorType]
# What is known of an assembly beside the facts that rules ask for: identity, place, rating, build.
PARTICULARS = (
    "reference",
    "location",
    "floor",
    "from_space",
    "to_space",
    "barrier",
    "drawing",
    "permit",
    "serial_number",
    "rating_minutes",
    "temperature_rise",
    "label_agency",
    "label_number",
    "label_legible",
    "travel_length",
    "parting",
    "curved",
    "pocket_cover",
    "sensor_edge",
    "floor_track",
    "egress_side",
    "operating_device",
    "locking",
    "remarks",
)


class Opening(SiteRow):
    """One door assembly. Another kind of door in the same wall is another opening, which
    `replaces` this one.

    What the rules ask of a door stands in its dated facts and nowhere else. `travel_length` is
    `{"value", "unit"}` as sent; `rating_minutes` is what the label says.
    """

    class Parting(models.TextChoices):
        """Whether one leaf crosses the opening or two meet in it."""

        SINGLE = "single"
        BI_PARTING = "bi_parting"

    OPEN_TO = frozenset({Purpose.CUSTODY})
    WALL = Wall(
        read=in_sight(),
        write=in_sight("manage"),
        open_to=OPEN_TO,
        changeable=(
            *PARTICULARS,
            "tag",
            "removed_on",
            "removal_reason",
            "removal_reference",
            "changed_at",
            "version",
        ),
        homes=(("replaces_id", "doors_opening"),),
        rising="version",
    )

    tag = models.CharField(max_length=60)
    reference = models.CharField(max_length=100, blank=True)
    location = models.CharField(max_length=300)
    floor = models.CharField(max_length=60, blank=True)
    door_type = models.CharField(max_length=24, choices=DOOR_TYPES)
    from_space = models.CharField(max_length=200, blank=True)
    to_space = models.CharField(max_length=200, blank=True)
    barrier = models.CharField(max_length=100, blank=True)
    drawing = models.CharField(max_length=100, blank=True)
    permit = models.CharField(max_length=100, blank=True)
    serial_number = models.CharField(max_length=100, blank=True)
    rating_minutes = models.PositiveSmallIntegerField(null=True)
    temperature_rise = models.CharField(max_length=100, blank=True)
    label_agency = models.CharField(max_length=100, blank=True)
    label_number = models.CharField(max_length=100, blank=True)
    label_legible = models.BooleanField(null=True)
    travel_length = models.JSONField(null=True)
    parting = models.CharField(max_length=12, choices=Parting, blank=True)
    curved = models.BooleanField(null=True)
    pocket_cover = models.BooleanField(null=True)
    sensor_edge = models.BooleanField(null=True)
    floor_track = models.BooleanField(null=True)
    egress_side = models.CharField(max_length=200, blank=True)
    operating_device = models.CharField(max_length=200, blank=True)
    locking = models.CharField(max_length=200, blank=True)
    remarks = models.TextField(blank=True)
    removed_on = models.DateField(null=True)
    removal_reason = models.CharField(max_length=500, blank=True)
    removal_reference = models.CharField(max_length=100, blank=True)
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, related_name="replaced_by"
    )
    created_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="opening_home"),
            models.UniqueConstraint(
                fields=["site", "tag"], condition=Q(removed_on__isnull=True), name="opening_tag"
            ),
            models.UniqueConstraint(
                fields=["site", "reference"],
                condition=~Q(reference="") & Q(removed_on__isnull=True),
                name="opening_reference",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "tag"], name="opening_by_site"),
            models.Index(fields=["site", "reference"], name="opening_by_reference"),
        ]


class OpeningFacts(SiteRow):
    """What is so at an opening from a day on: facts as the rules library names them, and the
    numbers of the door's own listed instructions.
    """

    BEGINS_WITH_OPENING = True
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
    """A tag the opening bears or bore; an opening is found by any of them.

    `ends_on` is the first day without it. One replaced on the day it was given was borne for
    less than a day, and still finds the opening.
    """

    BEGINS_WITH_OPENING = True
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
            models.UniqueConstraint(
                fields=["opening"], condition=Q(ends_on__isnull=True), name="one_tag_at_a_time"
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("begins_on")),
                name="tag_runs_forward",
            ),
        ]
