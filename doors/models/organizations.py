"""Organizations: the parties, with one or several capabilities."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from doors.models.homes import Row
from doors.tenancy import Context, Purpose, WalledManager
from doors.walls import ORGANIZATION, Wall


class Capability(models.TextChoices):
    """What an organization may be; several at once."""

    OWNER = "owner"
    INSPECTOR = "inspector"
    REPAIRER = "repairer"
    AUTHORITY = "authority"
    READER = "reader"


class Organization(Row):
    """A party. It sees its own row alone; others know its name from what it wrote."""

    OPEN_TO = frozenset({Purpose.AUTHENTICATION, Purpose.SET_UP, Purpose.CUSTODY})
    WALL = Wall(
        read=f"id = {ORGANIZATION}",
        write="false",
        change=f"id = {ORGANIZATION}",
        changeable=("name", "address", "language"),
        open_to=OPEN_TO,
        written_by=frozenset({Purpose.SET_UP}),
    )

    name = models.CharField(max_length=200)
    capabilities = models.JSONField(default=list)
    address = models.JSONField(default=list)
    language = models.CharField(max_length=8, default="en")
    demonstration = models.BooleanField(default=False)
    created_at = models.DateTimeField()

    objects = WalledManager()

    @staticmethod
    def visible_to(context: Context) -> Q:
        """Itself alone."""
        return Q(id=context.organization_id)
