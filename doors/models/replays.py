"""Replays: the first answer to a request with an Idempotency-Key, kept to be given again."""

from __future__ import annotations

from django.db import models

from doors.models.homes import OrganizationRow
from doors.tenancy import Purpose
from doors.walls import OWN, Wall


class Replay(OrganizationRow):
    """One answered request, scoped to organization and route, kept seven days."""

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(read=OWN, write=OWN, deletable=True, open_to=OPEN_TO, written_by=OPEN_TO)

    route = models.CharField(max_length=200)
    key = models.CharField(max_length=255)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField()
    headers = models.JSONField(default=dict)
    body = models.TextField()
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["organization", "route", "key"], name="replay_of_request"
            ),
        ]
