"""Imports: a table of the customer's own, read row by row, and what became of each row."""

from __future__ import annotations

from django.db import models

from doors.models.homes import OrganizationRow
from doors.walls import OWN, Wall


class Import(OrganizationRow):
    """One table to be read. A `dry_run` stores nothing of it; `follows` names the dry run that a
    real import was shown to be good by.

    One that `withdraws` another takes back what that one made; its rows are those of the other.

    `mapping` is from the table's columns to our fields, `options` how the table is written.
    """

    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=("columns", "counts"),
        kin=(
            ("job_id", "doors_job"),
            ("follows_id", "doors_import"),
            ("withdraws_id", "doors_import"),
        ),
    )

    kind = models.CharField(max_length=24)
    source_sha256 = models.CharField(max_length=64)
    mapping = models.JSONField(default=dict)
    options = models.JSONField(default=dict)
    dry_run = models.BooleanField()
    withdraws = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="+")
    follows = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="+")
    job = models.ForeignKey("doors.Job", on_delete=models.PROTECT, related_name="+")
    columns = models.JSONField(default=list)
    counts = models.JSONField(default=dict)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organization", "id"], name="import_home"),
        ]
        indexes = [
            models.Index(fields=["organization", "-created_at", "id"], name="import_newest"),
        ]


class ImportRow(OrganizationRow):
    """What became of one row: `thing` is the id of what it made, changed or found the same.

    `problems`, for which it was refused, and `warnings` are `{"column", "code", "detail"}`. Rows
    count from 1 and leave out the heading.
    """

    class Outcome(models.TextChoices):
        """In a dry run: what would become of it. `held_back` = good, in a chunk with a bad one.

        Of an import that takes another back: its thing was `taken_back`, or `kept` and why.
        """

        CREATED = "created"
        UPDATED = "updated"
        UNCHANGED = "unchanged"
        REFUSED = "refused"
        HELD_BACK = "held_back"
        TAKEN_BACK = "taken_back"
        KEPT = "kept"

    WALL = Wall(read=OWN, write=OWN, kin=(("of_import_id", "doors_import"),), append_only=True)

    of_import = models.ForeignKey(Import, on_delete=models.PROTECT, related_name="rows")
    row = models.PositiveIntegerField()
    outcome = models.CharField(max_length=12, choices=Outcome)
    reference = models.CharField(max_length=100, blank=True)
    thing = models.UUIDField(null=True)
    problems = models.JSONField(default=list)
    warnings = models.JSONField(default=list)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organization", "of_import", "row"], name="import_row"),
        ]
