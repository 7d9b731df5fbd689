"""People of an organization: who is told, who does the work."""

from __future__ import annotations

from django.db import models

from doors.models.homes import OrganizationRow
from doors.walls import OWN, Wall


class Person(OrganizationRow):
    """One person. `receives_notices` says whether failures and dues are sent to them.

    Who has left is ended and never deleted: what they did keeps their name.
    """

    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=(
            "name",
            "email",
            "telephone",
            "position",
            "language",
            "receives_notices",
            "ended_at",
            "version",
        ),
        once=("ended_at",),
    )

    name = models.CharField(max_length=200)
    email = models.EmailField(blank=True)
    telephone = models.CharField(max_length=40, blank=True)
    position = models.CharField(max_length=200, blank=True)
    language = models.CharField(max_length=8, default="en")
    receives_notices = models.BooleanField(default=False)
    ended_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organization", "id"], name="person_home"),
        ]
