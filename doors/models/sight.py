"""Sight: who may see or do what on a site, and from when to when. Both walls read this table."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import models
from django.db.models import Q

from doors.models.homes import Row
from doors.tenancy import Context, Purpose, WalledManager
from doors.walls import OWN, Wall

ACTIONS = ("read", "history", "plan", "record", "repair", "submit", "manage")


class Sight(Row):
    """One organization's sight of one site, derived from a custody or a grant, never edited.

    `custodian` is the owner who answers for the site in that time; the ledger chain and the
    notices of what happens there are the custodian's.
    """

    OPEN_TO = frozenset({Purpose.CUSTODY})
    WALL = Wall(
        read=OWN,
        write="false",
        deletable=True,
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    organization = models.ForeignKey(
        "doors.Organization", on_delete=models.PROTECT, related_name="+"
    )
    site = models.ForeignKey("doors.Site", on_delete=models.PROTECT, related_name="+")
    custodian = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    custodian_name = models.CharField(max_length=200)
    may_read = models.BooleanField(default=False)
    may_history = models.BooleanField(default=False)
    may_plan = models.BooleanField(default=False)
    may_record = models.BooleanField(default=False)
    may_repair = models.BooleanField(default=False)
    may_submit = models.BooleanField(default=False)
    may_manage = models.BooleanField(default=False)
    begins_at = models.DateTimeField()
    ends_at = models.DateTimeField(null=True)
    custody = models.ForeignKey("doors.Custody", on_delete=models.PROTECT, null=True)
    grant = models.ForeignKey("doors.Grant", on_delete=models.PROTECT, null=True)

    objects = WalledManager()

    class Meta:
        indexes = [
            models.Index(fields=["organization", "site", "begins_at"], name="sight_by_party"),
            models.Index(fields=["site"], name="sight_by_site"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(custody__isnull=False) | Q(grant__isnull=False), name="sight_has_source"
            ),
        ]

    @classmethod
    def active(cls, organization_id: UUID, at: datetime) -> models.QuerySet[Sight]:
        """The sights of an organization at an instant."""
        return cls._base_manager.filter(
            Q(ends_at__isnull=True) | Q(ends_at__gt=at),
            organization_id=organization_id,
            begins_at__lte=at,
        )

    @staticmethod
    def visible_to(context: Context) -> Q:
        """Its own sights."""
        return Q(organization_id=context.organization_id)
