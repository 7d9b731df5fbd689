"""Members: which account serves which organization, in which role, from when to when."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import models
from django.db.models import F, Q

from doors.models.homes import OrganizationRow
from doors.models.keys import EVERY_SCOPE, SCOPED
from doors.tenancy import Purpose
from doors.walls import OWN, Wall


class Role(models.TextChoices):
    """What a member is trusted with."""

    ADMINISTRATOR = "administrator"
    MANAGER = "manager"
    RECORDER = "recorder"
    READER = "reader"


_READ = frozenset(f"{noun}:read" for noun in SCOPED)
_RECORDED = frozenset({"visits:write", "deficiencies:write"})
_MANAGED = frozenset(
    f"{noun}:write" for noun in ("sites", "openings", "duties", "notices", "submittals", "jobs")
)
ROLES: Mapping[str, frozenset[str]] = {
    Role.ADMINISTRATOR: EVERY_SCOPE,
    Role.MANAGER: _READ | _RECORDED | _MANAGED,
    Role.RECORDER: _READ | _RECORDED,
    Role.READER: _READ,
}


class Member(OrganizationRow):
    """One account's time with an organization; `person` is who it is in its own records.

    A role may change, an ended membership never begins again: that is a new row.
    """

    OPEN_TO = frozenset({Purpose.AUTHENTICATION})
    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=("role", "ends_at", "version"),
        once=("ends_at",),
        kin=(("person_id", "doors_person"),),
        circle=(("organization_id", "doors_organization"), ("account_id", "doors_account")),
        open_to=OPEN_TO,
    )

    account = models.ForeignKey("doors.Account", on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey("doors.Person", on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=16, choices=Role)
    begins_at = models.DateTimeField()
    ends_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organization", "id"], name="member_home"),
            models.UniqueConstraint(
                fields=["organization", "account"],
                condition=Q(ends_at__isnull=True),
                name="member_once_at_a_time",
            ),
            models.CheckConstraint(
                condition=Q(ends_at__isnull=True) | Q(ends_at__gte=F("begins_at")),
                name="member_runs_forward",
            ),
        ]
