"""Duties: what is owed on an opening and in which window, stored by whatever moves it."""

from __future__ import annotations

from django.db import models

from doors.models.homes import SiteRow
from doors.tenancy import Purpose
from doors.walls import Wall, in_sight


class Duty(SiteRow):
    """The next window of one interval requirement on one opening.

    Dates are civil days at the site. Whether it is upcoming, open, due or overdue depends on
    the day one asks and is not stored. `standing` is `running`, `suspended` or `ended`; `reason`
    says why it is suspended: out of service, or which facts would tell whether it applies.
    It was last met by `last_visit` or, where the owner lets it, by `last_reported_visit`.
    From `look_at` on a scan looks at it again, to say what is to be said of it; with none there
    is nothing more to say. `citation` is where the requirement is written, `adopted_by` by which
    text its place did.
    """

    class Standing(models.TextChoices):
        """Whether the window runs."""

        RUNNING = "running"
        SUSPENDED = "suspended"
        ENDED = "ended"

    BEGINS_WITH_OPENING = True
    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=in_sight(),
        open_to=OPEN_TO,
        write=f"{in_sight('record')} OR {in_sight('manage')}",
        homes=(
            ("opening_id", "doors_opening"),
            ("last_visit_id", "inspections_visit"),
            ("last_reported_visit_id", "inspections_reportedvisit"),
        ),
        changeable=(
            "activity",
            "opens_on",
            "due_on",
            "closes_on",
            "standing",
            "reason",
            "citation",
            "adopted_by",
            "adoption",
            "layer",
            "version",
            "last_visit_id",
            "last_reported_visit_id",
            "look_at",
        ),
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="+")
    requirement = models.CharField(max_length=160)
    activity = models.CharField(max_length=24)
    opens_on = models.DateField()
    due_on = models.DateField()
    closes_on = models.DateField()
    standing = models.CharField(max_length=12, choices=Standing, default=Standing.RUNNING)
    reason = models.TextField(default="", blank=True)  # as many facts as a predicate asks for
    last_visit = models.ForeignKey("inspections.Visit", on_delete=models.PROTECT, null=True)
    last_reported_visit = models.ForeignKey(
        "inspections.ReportedVisit", on_delete=models.PROTECT, null=True
    )
    citation = models.JSONField(default=dict)
    adopted_by = models.JSONField(null=True)
    adoption = models.CharField(max_length=12, default="recorded")
    layer = models.CharField(max_length=120)
    look_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="duty_home"),
            models.UniqueConstraint(fields=["opening", "requirement"], name="duty_of_opening"),
        ]
        indexes = [
            models.Index(fields=["site", "due_on", "id"], name="duty_by_site"),
            models.Index(
                fields=["closes_on"], name="duty_running", condition=models.Q(standing="running")
            ),
            models.Index(
                fields=["look_at", "site"],
                name="duty_to_look_at",
                condition=models.Q(look_at__isnull=False),
            ),
        ]
