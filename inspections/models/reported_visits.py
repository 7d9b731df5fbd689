"""Reported visits: earlier attendances that somebody tells of, kept apart from visits."""

from __future__ import annotations

from django.db import models

from doors.models.homes import AuthoredRow, kept
from doors.walls import AUTHORED, Wall, in_sight
from inspections.models.visits import Activity


class ReportedOutcome(models.TextChoices):
    """What the earlier record says came of it, in one of three plain words; not a verdict."""

    NO_FAULT_REPORTED = "no_fault_reported"
    FAULTS_REPORTED = "faults_reported"
    NOT_REPORTED = "not_reported"


class ReportedVisit(AuthoredRow):
    """One earlier attendance as somebody reports it: never judged, and never a finding.

    It meets a duty only where the custodian says that it may, and is named there as what it is.
    `outcome_words` are the earlier record's own. One told by mistake is withdrawn with a reason.
    """

    SEEN_WITH = "history"
    HAPPENED_AT = "reported_at"
    WALL = Wall(
        read=kept("reported_at", "history"),
        write=f"{AUTHORED} AND ({in_sight('record')} OR {in_sight('manage')})",
        changeable=("withdrawn_at", "withdrawal_reason"),
        homes=(("opening_id", "doors_opening"),),
        frozen_once="withdrawn_at",
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="+")
    client_ref = models.CharField(max_length=100)
    activity = models.CharField(max_length=24, choices=Activity)
    performed_on = models.DateField()
    performed_by = models.CharField(max_length=200)
    outcome = models.CharField(max_length=20, choices=ReportedOutcome)
    outcome_words = models.TextField(blank=True)
    scan_sha256 = models.CharField(max_length=64, blank=True)
    reported_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True)
    withdrawal_reason = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="reported_visit_home"),
            models.UniqueConstraint(
                fields=["author", "client_ref"], name="reported_visit_client_ref"
            ),
        ]
        indexes = [
            models.Index(fields=["opening", "-performed_on"], name="reported_by_opening"),
            models.Index(fields=["site", "-performed_on", "id"], name="reported_by_site"),
        ]
