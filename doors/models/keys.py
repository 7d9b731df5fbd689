"""API keys: 256 random bits shown once, of which only the SHA-256 is kept."""

from __future__ import annotations

from django.db import models

from doors.models.homes import OrganizationRow
from doors.tenancy import Purpose
from doors.walls import OWN, Wall

SCOPED = (
    "claims",
    "blobs",
    "custody",
    "deficiencies",
    "duties",
    "exports",
    "grants",
    "invitations",
    "imports",
    "jobs",
    "jurisdictions",
    "keys",
    "ledger",
    "members",
    "notices",
    "openings",
    "organization",
    "organizations",
    "overrides",
    "people",
    "sandboxes",
    "sites",
    "submittals",
    "visits",
    "webhooks",
)
EVERY_SCOPE = frozenset(f"{noun}:{verb}" for noun in SCOPED for verb in ("read", "write"))


class Key(OrganizationRow):
    """One key of an organization. `lookup` is the public part that finds the row.

    A key of a `member` reaches no further than the member's role, and ends with the membership.
    """

    OPEN_TO = frozenset({Purpose.AUTHENTICATION})
    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=("revoked_at", "last_used_at"),
        once=("revoked_at",),
        kin=(("member_id", "doors_member"),),
        open_to=OPEN_TO,
    )

    member = models.ForeignKey(
        "doors.Member", on_delete=models.PROTECT, null=True, related_name="keys"
    )
    label = models.CharField(max_length=200)
    lookup = models.CharField(max_length=16, unique=True)
    secret_sha256 = models.CharField(max_length=64)
    scopes = models.JSONField(default=list)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)
    last_used_at = models.DateTimeField(null=True)
