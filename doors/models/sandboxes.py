"""Sandboxes: closed groups of invented organizations in which an integrator tries things out."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import models
from django.db.models import Q

from doors.models.homes import OrganizationRow
from doors.tenancy import Context, Purpose
from doors.walls import OWN, OWN_SANDBOX, Wall

FURTHEST = dt.timedelta(days=3660)  # ten years: what a trial of dues and overdues can need


class Sandbox(OrganizationRow):
    """One closed group. `organization` made it and is itself outside; those within point to it.

    `clock_ahead` is how far the group's days run before the world's (negative: behind). It
    reaches duties and notices only; leases, signatures and the ledger use the database's clock.
    """

    OPEN_TO = frozenset({Purpose.CUSTODY, Purpose.SWEEP})
    WALL = Wall(
        read=f"{OWN} OR id = {OWN_SANDBOX}",
        write=OWN,
        changeable=("clock_ahead", "ended_at", "version"),
        open_to=OPEN_TO,
    )

    name = models.CharField(max_length=200)
    place = models.CharField(max_length=40)  # of the rules library, under which its town lies
    clock_ahead = models.DurationField(default=dt.timedelta)
    created_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(clock_ahead__gte=-FURTHEST, clock_ahead__lte=FURTHEST),
                name="sandbox_clock_within_bounds",
            ),
        ]

    @staticmethod
    def visible_to(context: Context) -> Q:
        """Those it made, and the one it belongs to."""
        return Q(organization_id=context.organization_id) | Q(id__in=sandbox_of(context))


def sandbox_of(context: Context) -> models.QuerySet[Any, Any]:
    """Subquery: the sandbox to which the acting organization belongs; no row for real ones."""
    from doors.models.organizations import Organization  # noqa: PLC0415 - it points back here

    own = Organization._base_manager.filter(id=context.acting, sandbox__isnull=False)
    return own.values("sandbox_id")


_MADE = "EXISTS (SELECT 1 FROM doors_sandbox b WHERE b.id = {table}.sandbox_id)"


class SandboxMessage(OrganizationRow):
    """One mail or webhook of an organization in a sandbox, as it would have gone out."""

    WALL = Wall(
        read=f"{OWN} OR {_MADE}",  # sandboxes have a wall of their own: who made it, who is in it
        write=f"{OWN} AND sandbox_id = {OWN_SANDBOX}",
        append_only=True,
    )

    class Channel(models.TextChoices):
        """The way it would have taken."""

        EMAIL = "email"
        WEBHOOK = "webhook"

    sandbox = models.ForeignKey("doors.Sandbox", on_delete=models.PROTECT, related_name="messages")
    channel = models.CharField(max_length=12, choices=Channel)
    recipient = models.CharField(max_length=2000)
    subject = models.CharField(max_length=300, blank=True)
    headers = models.JSONField(default=dict)
    body = models.TextField()
    kept_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["sandbox", "-kept_at", "id"], name="message_of_sandbox")]

    @staticmethod
    def visible_to(context: Context) -> Q:
        """Its own, those of the group it belongs to, and of the groups it made."""
        made = Sandbox._base_manager.filter(organization_id=context.acting)
        return (
            Q(organization_id=context.organization_id)
            | Q(sandbox_id__in=sandbox_of(context))
            | Q(sandbox_id__in=made.values("id"))
        )
