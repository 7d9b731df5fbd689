"""Visits and their readings: what was found, never changed once recorded."""

from __future__ import annotations

from django.db import models

from doors.models.homes import AuthoredRow, kept
from doors.walls import AUTHORED, Wall, in_sight


class Activity(models.TextChoices):
    """What a visit is for; the rules library's list, held equal by a test."""

    ACCEPTANCE_TEST = "acceptance_test"
    OPERATION_TEST = "operation_test"
    PERIODIC_INSPECTION = "periodic_inspection"
    REPAIR_RETEST = "repair_retest"


class Verdict(models.TextChoices):
    """The worst of a visit's binding verdicts; never a statement about safety."""

    CONFORMS = "conforms"
    DOES_NOT_CONFORM = "does_not_conform"
    INCONCLUSIVE = "inconclusive"
    NOT_TESTED = "not_tested"


class Visit(AuthoredRow):
    """One attendance at one opening. A correction is a new visit that supersedes this one.

    `late` says that it was sent when its author's leave to record there had ended.

    `performed_at_text` is the device's time with its offset as sent; `performed_on` its day in
    the site's zone; `clock_skew_s` how far the device's clock ran ahead of ours when it sent.
    `findings` is the body as judged but for its raw traces, which stand in a table
    of their own; `judgement` is the library's answer to it,
    `basis` what it was judged with (facts, instructions, place), so that it can be judged again;
    `difference` is from what the app judged offline, where it said so; `warnings` are what a
    person should look at again, and changed nothing.
    """

    SEEN_WITH = "history"
    HAPPENED_AT = "performed_at"
    WALL = Wall(
        read=kept("performed_at", "history"),
        write=f"{AUTHORED} AND {in_sight('record')}",
        homes=(("opening_id", "doors_opening"), ("supersedes_id", "inspections_visit")),
        append_only=True,
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="+")
    client_ref = models.CharField(max_length=100)
    activity = models.CharField(max_length=24, choices=Activity)
    performed_at = models.DateTimeField()
    performed_at_text = models.CharField(max_length=40)
    performed_on = models.DateField()
    received_at = models.DateTimeField()
    clock_skew_s = models.BigIntegerField(null=True)
    late = models.BooleanField(default=False)
    attested_by = models.CharField(max_length=200)
    findings = models.JSONField()
    basis = models.JSONField()
    judgement = models.JSONField()
    difference = models.JSONField(null=True)
    warnings = models.JSONField(default=list)
    verdict = models.CharField(max_length=24, choices=Verdict)
    complete = models.BooleanField()
    content_sha256 = models.CharField(max_length=64)
    requirements_digest = models.CharField(max_length=64)
    library_version = models.CharField(max_length=24)
    supersedes = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, related_name="superseded_by"
    )
    reason = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="visit_home"),
            models.UniqueConstraint(fields=["author", "client_ref"], name="visit_client_ref"),
            models.UniqueConstraint(fields=["supersedes"], name="visit_superseded_once"),
        ]
        indexes = [
            models.Index(fields=["opening", "-performed_on"], name="visit_by_opening"),
            models.Index(fields=["author", "-performed_at", "id"], name="visit_by_author"),
            models.Index(fields=["site", "-performed_at", "id"], name="visit_by_site"),
        ]


class Reading(AuthoredRow):
    """One measured value as sent, and in SI for looking along time (rounded, never judged)."""

    SEEN_WITH = "history"
    HAPPENED_AT = "performed_at"
    WALL = Wall(
        read=kept("performed_at", "history"),
        write=f"{AUTHORED} AND {in_sight('record')}",
        homes=(("opening_id", "doors_opening"), ("visit_id", "inspections_visit")),
        append_only=True,
    )

    visit = models.ForeignKey("inspections.Visit", on_delete=models.PROTECT, related_name="+")
    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="+")
    index = models.PositiveSmallIntegerField()
    quantity = models.CharField(max_length=60)
    value = models.CharField(max_length=40)
    unit = models.CharField(max_length=12)
    si = models.DecimalField(max_digits=24, decimal_places=9)
    performed_at = models.DateTimeField()
    performed_on = models.DateField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["visit", "index"], name="reading_of_visit"),
        ]
        indexes = [
            models.Index(fields=["opening", "quantity", "performed_on"], name="reading_series"),
        ]
