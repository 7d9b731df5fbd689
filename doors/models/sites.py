"""Sites: buildings at an address, with a time zone and the places whose rules hold there."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from doors.models.homes import Row, SiteRow, sites_in_sight
from doors.tenancy import Context, Purpose, WalledManager
from doors.walls import AUTHORED, Wall, in_sight


class Site(Row):
    """A building. It is the home of every record under it; `time_zone` is an IANA name.

    `author` made it; who answers for it stands in custody.
    """

    OPEN_TO = frozenset({Purpose.CUSTODY})
    WALL = Wall(
        read=in_sight(column="id"),
        write=AUTHORED,
        change=in_sight("manage", column="id"),
        changeable=("name", "address", "parcel", "occupancy_number", "changed_at", "version"),
        rising="version",
        open_to=OPEN_TO,
    )

    author = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    reference = models.CharField(max_length=100)
    name = models.CharField(max_length=200)
    address = models.JSONField(default=list)
    time_zone = models.CharField(max_length=64)
    parcel = models.CharField(max_length=100, blank=True)
    occupancy_number = models.CharField(max_length=100, blank=True)
    created_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    objects = WalledManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["author", "reference"], name="site_reference"),
        ]

    @staticmethod
    def visible_to(context: Context) -> Q:
        """The sites in its sight."""
        return Q(id__in=sites_in_sight(context))


class SitePlace(SiteRow):
    """The jurisdiction a site lies in, from when to when; several may hold at once."""

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=in_sight(),
        write=in_sight("manage"),
        changeable=("ends_on",),
        circle=(("site_id", "doors_site"), ("jurisdiction_id", "doors_jurisdiction")),
        open_to=OPEN_TO,
    )

    jurisdiction = models.ForeignKey(
        "doors.Jurisdiction", on_delete=models.PROTECT, related_name="+"
    )
    begins_on = models.DateField()
    ends_on = models.DateField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gt=F("begins_on")),
                name="site_place_runs_forward",
            ),
        ]
