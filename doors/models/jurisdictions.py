"""Jurisdictions: places in a tree, governed by an authority, public to everybody."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from doors.models.homes import Row
from doors.models.sandboxes import sandbox_of
from doors.tenancy import Context, Purpose, WalledManager
from doors.walls import OWN_SANDBOX, SOMEBODY, Wall


class Jurisdiction(Row):
    """A place. `library_place` is its code in the rules library where it has one; a place
    without one inherits its parent's rules and adds the overrides its authority published.
    `time_zone` is an IANA name: what its authority publishes holds by the days of the place.
    """

    OPEN_TO = frozenset(Purpose)
    WALL = Wall(
        read=f"{SOMEBODY} AND (sandbox_id IS NULL OR sandbox_id = {OWN_SANDBOX})",
        write="false",  # places are set up by whoever operates the service
        circle=(("sandbox_id", "doors_sandbox"), ("authority_id", "doors_organization")),
        open_to=OPEN_TO,
        written_by=frozenset({Purpose.SET_UP}),
    )

    code = models.CharField(max_length=60, unique=True)
    name = models.CharField(max_length=200)
    kind = models.CharField(max_length=40)
    parent = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="+")
    library_place = models.CharField(max_length=40, blank=True)
    time_zone = models.CharField(max_length=64, default="UTC")
    authority = models.ForeignKey(
        "doors.Organization", on_delete=models.PROTECT, null=True, related_name="+"
    )
    authority_name = models.CharField(max_length=200, blank=True)
    sandbox = models.ForeignKey(
        "doors.Sandbox", on_delete=models.PROTECT, null=True, related_name="+"
    )

    objects = WalledManager()

    @staticmethod
    def visible_to(context: Context) -> Q:
        """Everybody may know what places there are; those of a sandbox, who is in it."""
        return Q(sandbox__isnull=True) | Q(sandbox_id__in=sandbox_of(context))
