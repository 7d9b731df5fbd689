"""Notices: what is owed to one person about one thing at one stage, and whether it was sent."""

from __future__ import annotations

from django.db import models

from doors.models.homes import AuthoredRow, OrganizationRow
from doors.models.jobs import CLAIM_COLUMNS, Claimable
from doors.tenancy import Purpose
from doors.walls import AUTHORED, OWN, Wall, in_sight


class Stage(models.TextChoices):
    """At which point of a thing's life somebody is told."""

    TEST_FAILED = "test_failed"
    REPAIR_PROVEN = "repair_proven"
    SUBMITTAL_FILED = "submittal_filed"


_ACTIONS = ("record", "repair", "submit", "manage")
_MOVES = " OR ".join(in_sight(may) for may in _ACTIONS)
_OWED = " OR ".join(in_sight(may, custodian=True) for may in _ACTIONS)


class Owing(AuthoredRow, Claimable):
    """Left in the transaction that makes something owing. Its author need not be able to read
    the owner's contacts: a worker turns it into notices as the custodian.
    """

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=f"{AUTHORED} OR {in_sight()}",
        write=f"{AUTHORED} AND ({_OWED})",
        change=_MOVES,
        changeable=CLAIM_COLUMNS,
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    custodian = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    stage = models.CharField(max_length=24, choices=Stage)
    thing = models.UUIDField()
    thing_version = models.PositiveIntegerField(default=1)
    words = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["thing", "thing_version", "stage"], name="owed_once_by_meaning"
            ),
        ]
        indexes = [
            models.Index(
                fields=["not_before"],
                name="owing_waiting",
                condition=models.Q(state__in=["waiting", "claimed"]),
            ),
        ]


class Notice(OrganizationRow, Claimable):
    """One message to one person, unique by meaning. `message_id` never changes over retries.

    `unknown` = the provider may have accepted it and we cannot tell: a person decides.
    """

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=(*CLAIM_COLUMNS, "problem"),
        kin=(("person_id", "doors_person"),),
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    owing = models.ForeignKey(Owing, on_delete=models.PROTECT, related_name="notices")
    person = models.ForeignKey("doors.Person", on_delete=models.PROTECT, related_name="+")
    channel = models.CharField(max_length=12, default="email")
    stage = models.CharField(max_length=24, choices=Stage)
    thing = models.UUIDField()
    thing_version = models.PositiveIntegerField(default=1)
    words = models.JSONField()
    message_id = models.CharField(max_length=120)
    problem = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["organization", "thing", "thing_version", "stage", "person", "channel"],
                name="told_once_by_meaning",
            ),
        ]
        indexes = [
            models.Index(
                fields=["not_before"],
                name="notice_waiting",
                condition=models.Q(state__in=["waiting", "claimed"]),
            ),
        ]
