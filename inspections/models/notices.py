"""Notices: what is owed to one person about one thing at one stage, and whether it was sent."""

from __future__ import annotations

from django.db import models

from doors.models.homes import AuthoredRow, OrganizationRow
from doors.models.jobs import CLAIM_COLUMNS, Claimable
from doors.tenancy import Purpose
from doors.walls import AUTHORED, ORGANIZATION, OWN, Wall, in_sight
from inspections.models.webhooks import EventType


class Stage(models.TextChoices):
    """At which point of a thing's life somebody is told."""

    TEST_FAILED = "test_failed"
    REPAIR_PROVEN = "repair_proven"
    SUBMITTAL_FILED = "submittal_filed"
    WEBHOOK_FAILED = "webhook_failed"


_OWED_FOR = [*Stage.choices, *EventType.choices]  # told to people, told to machines
_ACTIONS = ("record", "repair", "submit", "manage")
_MOVES = " OR ".join(in_sight(may) for may in _ACTIONS)
_OWN_AFFAIR = f"(site_id IS NULL AND custodian_id = {ORGANIZATION})"
_ANSWERED = (  # an authority has no sight of the site whose packet it answers
    "EXISTS (SELECT 1 FROM inspections_filing f WHERE f.id = {table}.thing"
    f" AND f.authority_id = {ORGANIZATION} AND f.custodian_id = {{table}}.custodian_id"
    " AND f.site_id = {table}.site_id)"
)
_OWED = " OR ".join([*(in_sight(may, custodian=True) for may in _ACTIONS), _OWN_AFFAIR, _ANSWERED])


class Owing(AuthoredRow, Claimable):
    """Left in the transaction that makes something owing. Its author need not be able to read
    the owner's contacts: a worker turns it into notices as the custodian, or into deliveries as
    each organization that asked to be told of such an event.

    Without a site it is the author's own affair. `parties` are organizations concerned that need
    have no sight of the site: an authority, a grantee. `words` are plain facts, nobody's address.
    """

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=f"{AUTHORED} OR {in_sight()}",
        write=f"{AUTHORED} AND ({_OWED})",
        change=f"{_MOVES} OR {_OWN_AFFAIR}",
        changeable=CLAIM_COLUMNS,
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    site = models.ForeignKey(  # type: ignore[assignment]  # an affair of one's own has none
        "doors.Site", on_delete=models.PROTECT, null=True, related_name="+"
    )
    custodian = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    parties = models.JSONField(default=list)
    stage = models.CharField(max_length=24, choices=_OWED_FOR)
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
