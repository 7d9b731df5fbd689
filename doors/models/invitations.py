"""Invitations: a one-use token for one human, to join an organization or to claim one."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from doors.models.homes import OrganizationRow
from doors.models.members import Role
from doors.tenancy import Purpose
from doors.walls import ORGANIZATION, OWN, Wall

_TO_CLAIM = (
    "(to_claim_id IS NULL OR EXISTS (SELECT 1 FROM doors_organization o WHERE"
    f" o.id = {{table}}.to_claim_id AND o.author_id = {ORGANIZATION} AND o.claimed_at IS NULL))"
)


class Invitation(OrganizationRow):
    """From `organization` to an email address. Without `to_claim` it asks a human to become a
    member in `role`; with it, to take over the unclaimed organization that the inviter made.

    Of the 256-bit token the SHA-256 is kept; `sealed_token` holds it encrypted until the mail
    with it has been handed over, and is then emptied.
    """

    OPEN_TO = frozenset({Purpose.CLAIM})
    WALL = Wall(
        read=OWN,
        write=f"{OWN} AND {_TO_CLAIM}",
        change=OWN,
        changeable=("sealed_token", "sent_at", "used_at", "withdrawn_at"),
        once=("used_at", "withdrawn_at"),
        circle=(("organization_id", "doors_organization"), ("to_claim_id", "doors_organization")),
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    email = models.EmailField()
    to_claim = models.ForeignKey(
        "doors.Organization", on_delete=models.PROTECT, null=True, related_name="+"
    )
    role = models.CharField(max_length=16, choices=Role, default=Role.ADMINISTRATOR)
    token_sha256 = models.CharField(max_length=64, unique=True)
    sealed_token = models.TextField(blank=True)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True)
    used_at = models.DateTimeField(null=True)
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(used_at__isnull=True) | Q(withdrawn_at__isnull=True),
                name="invitation_used_or_withdrawn",
            ),
        ]
