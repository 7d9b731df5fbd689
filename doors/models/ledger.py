"""The ledger: append-only, one hash chain per custodian at write time."""

from __future__ import annotations

from django.db import models

from doors.models.homes import OrganizationRow, Row
from doors.tenancy import Context, WalledManager
from doors.walls import ORGANIZATION, OWN, Wall
from doors.walls.clauses import NOW

_CHAIN = (
    f"{OWN} OR organization_id IN (SELECT s.custodian_id FROM doors_sight s"
    f" WHERE s.organization_id = {ORGANIZATION} AND s.begins_at <= {NOW}"
    f" AND (s.ends_at IS NULL OR s.ends_at > {NOW}))"
)
_TAKEN_OVER = (
    f"organization_id IN (SELECT a.id FROM doors_organization a"
    f" WHERE a.merged_into_id = {ORGANIZATION})"
)


def _own_or_taken_over(context: Context) -> models.Q:
    """The twin of `OWN OR _TAKEN_OVER`."""
    from doors.models.organizations import Organization  # noqa: PLC0415 - walls stand below it

    own = models.Q(organization_id=context.organization_id)
    merged = Organization._base_manager.filter(merged_into_id=context.organization_id)
    return own | models.Q(organization_id__in=merged.values("id"))


class LedgerHead(Row):
    """The last entry of one organization's chain; locked last, in id order, in a transaction.

    Only an entry moves it, in the database.
    """

    WALL = Wall(read=f"{_CHAIN} OR {_TAKEN_OVER}", write=OWN, change=_CHAIN, rising="position")

    organization = models.OneToOneField(
        "doors.Organization", on_delete=models.PROTECT, related_name="+"
    )
    position = models.PositiveBigIntegerField(default=0)
    entry_sha256 = models.CharField(max_length=64)

    objects = WalledManager()

    @staticmethod
    def visible_to(context: Context) -> models.Q:
        """Its own chain, those of whom it took over, and those of the custodians whose sites it
        has sight of.
        """
        from doors.models.sight import Sight  # noqa: PLC0415 - sight points at organizations

        sights = Sight.active(context.acting, context.now)
        custodians = sights.values("custodian_id")
        return _own_or_taken_over(context) | models.Q(organization_id__in=custodians)


class LedgerEntry(OrganizationRow):
    """One thing that happened. `body` is the canonical JSON (RFC 8785) whose bytes are hashed:
    entry_sha256 = SHA-256(body), and the body names the entry before it.

    Whoever took an organization over reads the chain that it left, and adds nothing to it.
    """

    WALL = Wall(read=f"{OWN} OR {_TAKEN_OVER}", write=_CHAIN, append_only=True, chained=True)

    position = models.PositiveBigIntegerField()
    kind = models.CharField(max_length=60)
    subject = models.UUIDField()
    site = models.ForeignKey("doors.Site", on_delete=models.PROTECT, null=True, related_name="+")
    body = models.TextField()
    entry_sha256 = models.CharField(max_length=64)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organization", "position"], name="ledger_position"),
        ]

    @staticmethod
    def visible_to(context: Context) -> models.Q:
        """Its own chain, and those of whom it took over."""
        return _own_or_taken_over(context)
