"""Custody: which owner answers for a site, from when to when; never two at once."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from doors.models.homes import Row, sites_in_sight
from doors.tenancy import Context, Purpose, WalledManager
from doors.walls import ORGANIZATION, Wall, in_sight


class Custody(Row):
    """One owner's time with a site, in civil dates of the site; `ends_on` is the first day after.

    The database keeps two of one site from overlapping by a day; the service says so before,
    under a lock on the site.
    """

    OPEN_TO = frozenset({Purpose.CUSTODY})
    WALL = Wall(
        read=f"owner_id = {ORGANIZATION} OR {in_sight()}",
        write="false",  # the service alone, having looked at the site
        changeable=("ends_on",),
        one_at_a_time="site_id",
        circle=(("owner_id", "doors_organization"), ("site_id", "doors_site")),
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    site = models.ForeignKey("doors.Site", on_delete=models.PROTECT, related_name="+")
    owner = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    owner_name = models.CharField(max_length=200)
    begins_on = models.DateField()
    ends_on = models.DateField(null=True)

    objects = WalledManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site"], condition=Q(ends_on__isnull=True), name="one_custodian_now"
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("begins_on")),
                name="custody_runs_forward",
            ),
        ]

    @staticmethod
    def visible_to(context: Context) -> Q:
        """Its own, and those of the sites in its sight."""
        return Q(owner_id=context.organization_id) | Q(site_id__in=sites_in_sight(context))


class CustodyOffer(Row):
    """A custodian offers a site to another owner from a civil day of the site on. Nobody gets a
    building that it did not accept; whoever is offered one sees its name and address, no more.
    """

    class State(models.TextChoices):
        """Offered until one of the two has answered."""

        OFFERED = "offered"
        ACCEPTED = "accepted"
        REFUSED = "refused"
        WITHDRAWN = "withdrawn"

    WALL = Wall(
        read=f"owner_id = {ORGANIZATION} OR buyer_id = {ORGANIZATION}",
        write=f"owner_id = {ORGANIZATION} AND {in_sight('manage')}",
        change=f"owner_id = {ORGANIZATION} OR buyer_id = {ORGANIZATION}",
        changeable=("state", "answered_at"),
        circle=(("owner_id", "doors_organization"), ("buyer_id", "doors_organization")),
        frozen_once="answered_at",
    )

    site = models.ForeignKey("doors.Site", on_delete=models.PROTECT, related_name="+")
    site_name = models.CharField(max_length=200)
    site_address = models.JSONField(default=list)
    owner = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    owner_name = models.CharField(max_length=200)
    buyer = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    buyer_name = models.CharField(max_length=200)
    begins_on = models.DateField()
    state = models.CharField(max_length=12, choices=State, default=State.OFFERED)
    offered_at = models.DateTimeField()
    answered_at = models.DateTimeField(null=True)

    objects = WalledManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site"], condition=Q(state="offered"), name="one_custody_offer_at_a_time"
            ),
        ]

    @staticmethod
    def visible_to(context: Context) -> Q:
        """What it offered and what it was offered."""
        return Q(owner_id=context.organization_id) | Q(buyer_id=context.organization_id)
