"""Organizations: the parties, with one or several capabilities."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from doors.models.homes import Row
from doors.tenancy import Context, Purpose, WalledManager
from doors.walls import ORGANIZATION, Wall

_MADE = f"author_id = {ORGANIZATION}"
_WORKS_WITH = (
    "EXISTS (SELECT 1 FROM doors_grant g WHERE"
    f" (g.owner_id = {{table}}.id AND g.grantee_id = {ORGANIZATION})"
    f" OR (g.grantee_id = {{table}}.id AND g.owner_id = {ORGANIZATION}))"
)


class Capability(models.TextChoices):
    """What an organization may be; several at once."""

    OWNER = "owner"
    INSPECTOR = "inspector"
    REPAIRER = "repairer"
    AUTHORITY = "authority"
    READER = "reader"


# Who records buildings and doors: an owner its own, a firm those of an owner it made.
KEEPERS = frozenset({Capability.OWNER, Capability.INSPECTOR, Capability.REPAIRER})


class Organization(Row):
    """A party. It sees itself, whom it made, who was merged into it, and with whom a grant joins
    it; others know its name from what it wrote.

    `author` made it while nobody of its own had come (none for those that set-up registered);
    until `claimed_at` the author may mend its name. `merged_into` names the organization that
    took it over: its own name and id lead there for ever. A reported visit performed by the day
    `reported_visits_until` meets a duty at its sites; with none, no reported visit does.
    """

    OPEN_TO = frozenset({Purpose.AUTHENTICATION, Purpose.SET_UP, Purpose.CUSTODY, Purpose.CLAIM})
    WALL = Wall(
        read=f"id = {ORGANIZATION} OR {_MADE} OR merged_into_id = {ORGANIZATION} OR {_WORKS_WITH}",
        write="false",
        change=f"id = {ORGANIZATION} OR ({_MADE} AND claimed_at IS NULL)",
        changeable=(
            "name",
            "address",
            "language",
            "reported_visits_until",
            "version",
            "claimed_at",
            "merged_into_id",
        ),
        once=("claimed_at", "merged_into_id"),
        circle=(
            ("sandbox_id", "doors_sandbox"),
            ("author_id", "doors_organization"),
            ("merged_into_id", "doors_organization"),
        ),
        open_to=OPEN_TO,
        written_by=frozenset({Purpose.SET_UP, Purpose.CLAIM}),
    )

    name = models.CharField(max_length=200)
    capabilities = models.JSONField(default=list)
    address = models.JSONField(default=list)
    language = models.CharField(max_length=8, default="en")
    demonstration = models.BooleanField(default=False)
    author = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="+")
    reference = models.CharField(max_length=100, blank=True)
    reported_visits_until = models.DateField(null=True)
    created_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True)
    merged_into = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="+")
    version = models.PositiveIntegerField(default=1)
    sandbox = models.ForeignKey(
        "doors.Sandbox", on_delete=models.PROTECT, null=True, related_name="+"
    )  # the closed group it was made in; never changed

    objects = WalledManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["author", "reference"],
                condition=Q(author__isnull=False),
                name="organization_reference",
            ),
            models.CheckConstraint(
                condition=Q(merged_into__isnull=True) | Q(claimed_at__isnull=False),
                name="organization_merged_is_claimed",
            ),
        ]

    @staticmethod
    def visible_to(context: Context) -> Q:
        """Itself, whom it made, who was merged into it, and with whom it works."""
        from doors.models.grants import Grant  # noqa: PLC0415 - a grant points at organizations

        acting = context.acting
        gave = Grant._base_manager.filter(owner_id=acting).values("grantee_id")
        got = Grant._base_manager.filter(grantee_id=acting).values("owner_id")
        known = Q(id=acting) | Q(author_id=acting) | Q(merged_into_id=acting)
        return known | Q(id__in=gave) | Q(id__in=got)
