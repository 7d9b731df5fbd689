"""Notices: what is owed to one person about one thing at one stage, and whether it was sent."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import models

from doors.models import Organization
from doors.models.homes import AuthoredRow, OrganizationRow
from doors.models.jobs import CLAIM_COLUMNS, Claimable
from doors.tenancy import Purpose, current
from doors.tracing import request_id
from doors.walls import AUTHORED, ORGANIZATION, OWN, Wall, in_sight
from inspections.models.webhooks import EventType


class Stage(models.TextChoices):
    """At which point of a thing's life somebody is told."""

    TEST_FAILED = "test_failed"
    REPAIR_PROVEN = "repair_proven"
    INTERIM_MEASURE_EXPIRING = "interim_measure_expiring"
    INTERIM_MEASURE_EXPIRED = "interim_measure_expired"
    DOOR_REPORTED = "door_reported"
    EXPECTED_TO_FAIL = "expected_to_fail"
    SUBMITTAL_FILED = "submittal_filed"
    WEBHOOK_FAILED = "webhook_failed"
    BEFORE_DUE = "before_due"
    DUE = "due"
    OVERDUE = "overdue"
    DUTIES_DIFFER = "duties_differ"


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

    A stage that comes more than once for one thing has a `step` that tells them apart (the days
    before a duty is due, or after). Withdrawn, it keeps the reason in `problem`.

    Without a site it is the author's own affair. `parties` are organizations concerned that need
    have no sight of the site: an authority, a grantee. `words` are plain facts, nobody's address.
    """

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=f"{AUTHORED} OR {in_sight()}",
        write=f"{AUTHORED} AND ({_OWED})",
        change=f"{_MOVES} OR {_OWN_AFFAIR}",
        changeable=(*CLAIM_COLUMNS, "problem"),
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
    step = models.PositiveSmallIntegerField(default=0)
    words = models.JSONField()
    problem = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["thing", "thing_version", "stage", "step"], name="owed_once_by_meaning"
            ),
        ]
        indexes = [
            models.Index(
                fields=["not_before"],
                name="owing_waiting",
                condition=models.Q(state__in=["waiting", "claimed"]),
            ),
        ]

    @classmethod
    def left(cls, author: Organization, custodian_id: UUID, **what: Any) -> Owing:
        """One as an organization leaves it now, to be expanded at once; it is not kept yet."""
        now = current().now
        return cls(
            author=author,
            author_name=author.name,
            custodian_id=custodian_id,
            created_at=now,
            not_before=now,
            **what,
        )


class Delivery(OrganizationRow, Claimable):
    """One message to one person: it carries one notice, or the reminders of a day.

    `bundle` says which: a notice's own, or the day, or the day and the site. `message_id` never
    changes over retries. `unknown` = the provider may have accepted it and we cannot tell: a
    person decides.
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

    person = models.ForeignKey("doors.Person", on_delete=models.PROTECT, related_name="+")
    channel = models.CharField(max_length=12, default="email")
    bundle = models.CharField(max_length=60)
    message_id = models.CharField(max_length=120)
    problem = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["organization", "person", "channel", "bundle"], name="one_message_a_bundle"
            ),
            models.UniqueConstraint(fields=["organization", "id"], name="message_home"),
        ]
        indexes = [
            models.Index(
                fields=["not_before"],
                name="message_waiting",
                condition=models.Q(state__in=["waiting", "claimed"]),
            ),
        ]


class Notice(OrganizationRow):
    """What one person is told of one thing at one stage, unique by meaning. It goes out with its
    `delivery` and shares its state, or is withdrawn by itself, with the reason in `problem`.
    """

    State = Claimable.State
    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=(
            *("state", "ended_at", "problem", "delivery_id"),
            *("acknowledged_at", "acknowledged_by"),
        ),
        once=("acknowledged_at",),
        kin=(("person_id", "doors_person"), ("delivery_id", "inspections_delivery")),
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    owing = models.ForeignKey(Owing, on_delete=models.PROTECT, related_name="notices")
    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="notices")
    person = models.ForeignKey("doors.Person", on_delete=models.PROTECT, related_name="+")
    channel = models.CharField(max_length=12, default="email")
    stage = models.CharField(max_length=24, choices=Stage)
    thing = models.UUIDField()
    thing_version = models.PositiveIntegerField(default=1)
    step = models.PositiveSmallIntegerField(default=0)
    words = models.JSONField()
    state = models.CharField(max_length=12, choices=State, default=State.WAITING)
    created_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    request_id = models.UUIDField(null=True, default=request_id, editable=False)
    problem = models.CharField(max_length=500, blank=True)
    acknowledged_at = models.DateTimeField(null=True)
    acknowledged_by = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=[
                    *("organization", "thing", "thing_version", "stage", "step"),
                    *("person", "channel"),
                ],
                name="told_once_by_meaning",
            ),
        ]
