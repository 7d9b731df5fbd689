"""Overrides: what an authority changes in the requirements its place inherits."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from doors.models.homes import Row
from doors.models.jurisdictions import Jurisdiction
from doors.tenancy import Context, Purpose, WalledManager
from doors.walls import ORGANIZATION, Wall

_GOVERNED = (
    "EXISTS (SELECT 1 FROM doors_jurisdiction j WHERE j.id = {table}.jurisdiction_id"
    f" AND j.authority_id = {ORGANIZATION})"
)
_PLACE_KNOWN = (  # the wall of places holds here too: those of a sandbox are known within it alone
    "EXISTS (SELECT 1 FROM doors_jurisdiction j WHERE j.id = {table}.jurisdiction_id)"
)


class Override(Row):
    """One document in the rules library's own format, immutable once published.

    It may not begin before its publication: nobody can be bound by a rule of yesterday that
    was written today.
    """

    OPEN_TO = frozenset({Purpose.SET_UP})
    WALL = Wall(
        read=f"(published_at IS NOT NULL AND {_PLACE_KNOWN}) OR author_id = {ORGANIZATION}",
        write=f"author_id = {ORGANIZATION} AND published_at IS NULL AND {_GOVERNED}",
        change=f"author_id = {ORGANIZATION} AND {_GOVERNED}",
        changeable=("published_at",),
        frozen_once="published_at",
        open_to=OPEN_TO,
    )

    author = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    jurisdiction = models.ForeignKey(
        "doors.Jurisdiction", on_delete=models.PROTECT, related_name="+"
    )
    title = models.CharField(max_length=200)
    document = models.TextField()
    document_sha256 = models.CharField(max_length=64)
    begins_on = models.DateField()
    created_at = models.DateTimeField()
    published_at = models.DateTimeField(null=True)

    objects = WalledManager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(published_at__isnull=True) | Q(published_at__gte=F("created_at")),
                name="override_published_after_draft",
            ),
        ]

    @staticmethod
    def visible_to(context: Context) -> Q:
        """What is published, and its own drafts."""
        known = Jurisdiction._base_manager.filter(Jurisdiction.visible_to(context))
        published = Q(published_at__isnull=False, jurisdiction__in=known)
        return published | Q(author_id=context.organization_id)
