"""Exports: what an organization sees, written out for it to keep."""

from __future__ import annotations

from django.db import models

from doors.models.homes import OrganizationRow
from doors.tenancy import Purpose
from doors.walls import OWN, Wall


class Export(OrganizationRow):
    """One table, or the whole account, as it stood for the organization when it began.

    `sites` are those in sight then: where one of them is lost before the end, nothing is handed
    out. Until `expires_at` the finished file can be had.
    """

    class Form(models.TextChoices):
        """How it is written."""

        CSV = "csv"
        JSON_LINES = "jsonl"
        ZIP = "zip"

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=("sites", "file_sha256", "file_size", "rows", "expires_at"),
        kin=(("job_id", "doors_job"),),
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    kind = models.CharField(max_length=24)
    form = models.CharField(max_length=8, choices=Form)
    filters = models.JSONField(default=dict)
    sites = models.JSONField(default=list)
    job = models.ForeignKey("doors.Job", on_delete=models.PROTECT, related_name="+")
    rows = models.PositiveIntegerField(default=0)
    file_sha256 = models.CharField(max_length=64, blank=True)
    file_size = models.PositiveBigIntegerField(default=0)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField(null=True)

    class Meta:
        indexes = [
            models.Index(fields=["organization", "-created_at", "id"], name="export_newest"),
        ]
