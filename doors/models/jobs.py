"""Jobs: long work with progress, claimed by workers under a lease."""

from __future__ import annotations

from datetime import datetime

from django.db import models
from django.db.models import Q

from doors.models.homes import OrganizationRow
from doors.tenancy import Purpose
from doors.tracing import request_id
from doors.walls import OWN, Wall

CLAIM_COLUMNS = ("state", "attempt", "leased_until", "not_before", "ended_at")


class Claimable(models.Model):
    """What a worker claims: `attempt` is the fence, `leased_until` the database's clock.

    `sending` marks the moment from which an outside party may have acted on it: such a row is
    never taken a second time as it is: what becomes of it when its worker is gone is the sender's
    to say. `request_id` is the request that it came of, however many steps ago.
    """

    class State(models.TextChoices):
        """Waiting until claimed; a lapsed lease makes a claimed one waiting again."""

        WAITING = "waiting"
        CLAIMED = "claimed"
        SENDING = "sending"
        DONE = "done"
        FAILED = "failed"
        WITHDRAWN = "withdrawn"
        UNKNOWN = "unknown"

    state = models.CharField(max_length=12, choices=State, default=State.WAITING)
    attempt = models.PositiveSmallIntegerField(default=0)
    leased_until = models.DateTimeField(null=True)
    not_before = models.DateTimeField()
    created_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    request_id = models.UUIDField(null=True, default=request_id, editable=False)

    class Meta:
        abstract = True

    @staticmethod
    def takeable(now: datetime) -> Q:
        """Rows that wait, and rows whose taker's lease has lapsed."""
        lapsed = Q(state=Claimable.State.CLAIMED, leased_until__lt=now)
        return (Q(state=Claimable.State.WAITING) | lapsed) & Q(not_before__lte=now)


class Job(OrganizationRow, Claimable):
    """A piece of long work that answered 202; `result` or `problem` stands once it has ended.

    Work in steps keeps in `cursor` how far it has come, each step in the transaction of what it
    did; `rests` counts how often it made way for others. `key` asked for it, where one did.
    """

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=(*CLAIM_COLUMNS, "done", "total", "cursor", "rests", "result", "problem"),
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    kind = models.CharField(max_length=60)
    arguments = models.JSONField(default=dict)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=1)
    cursor = models.JSONField(null=True)
    rests = models.PositiveIntegerField(default=0)
    key = models.UUIDField(null=True)
    result = models.JSONField(null=True)
    problem = models.JSONField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["organization", "id"], name="job_home")]
        indexes = [
            models.Index(
                fields=["not_before"],
                name="job_waiting",
                condition=models.Q(state__in=["waiting", "claimed"]),
            ),
        ]
