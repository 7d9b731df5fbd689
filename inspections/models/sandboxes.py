"""What would have left a sandbox: kept to be read, sent to nobody."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from doors.models import Sandbox
from doors.models.homes import OrganizationRow
from doors.models.sandboxes import sandbox_of
from doors.tenancy import Context
from doors.walls import OWN, OWN_SANDBOX, Wall

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
