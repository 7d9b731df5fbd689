"""Deficiencies: what is wrong, what protects people meanwhile, and what proved the repair."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from doors.models.homes import AuthoredRow, SiteRow, in_time_of, kept
from doors.tenancy import Context, Purpose
from doors.walls import AUTHORED, Wall, in_own_time, in_sight
from inspections.states import DEFICIENCY

_WORKED_ON = f"{in_sight('record')} OR {in_sight('repair')} OR {in_sight('manage')}"


class Deficiency(AuthoredRow):
    """One thing that is wrong at one opening, from the visit that found it until a retest proves
    its repair or it is withdrawn with a reason.

    `subject` is what was looked at (`quantity:closing_speed`, `check:tracks`), or `seen:<id>`
    where a person saw something that no requirement of the library looks at; `requirements`
    are the ids of those it failed, of one publisher or several. `moved_at` is when that happened
    which brought it to its state: who no longer has sight of the site keeps what stood at the end
    of its own time, until somebody later moves it.

    `urgency` is the class, in the words of the custodian's policy, and `due_on` the site's day by
    which it is to be put right, both as of the day it opened; `deadline_from` says which policy
    and which requirement they come from. `recurs` is the earlier deficiency of the same subject.
    `found_again` are the visits that found it when it stood; `retest_missing` is what is still
    to be shown before it is proven.
    """

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=(
            f"{in_sight()} OR {in_own_time('moved_at')}"
            f" OR ({AUTHORED} AND {in_own_time('moved_at', granted=True)})"
        ),
        write=f"{AUTHORED} AND ({_WORKED_ON})",
        change=_WORKED_ON,
        changeable=(
            "state",
            "version",
            "proven_by_id",
            "moved_at",
            "ended_at",
            "reason",
            "withdrawn_for",
            "retest_missing",
            "found_again",
            "assigned_to_id",
            "assigned_to_name",
            "assigned_person",
            "assigned_by",
            "assigned_until",
        ),
        homes=(
            ("opening_id", "doors_opening"),
            ("found_by_id", "inspections_visit"),
            ("proven_by_id", "inspections_visit"),
            ("recurs_id", "inspections_deficiency"),
        ),
        open_to=OPEN_TO,
    )

    class WithdrawnFor(models.TextChoices):
        """Why it was withdrawn; only what a correction withdrew can come back."""

        CORRECTION = "correction"
        REMOVAL = "removal"
        PERSON = "person"

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="+")
    subject = models.CharField(max_length=120)
    requirements = models.JSONField(default=list)
    title = models.CharField(max_length=300)
    words = models.TextField()
    protects = models.CharField(max_length=12)
    state = models.CharField(max_length=12, choices=[(s, s) for s in DEFICIENCY])
    found_by = models.ForeignKey(
        "inspections.Visit", on_delete=models.PROTECT, null=True, related_name="+"
    )
    opened_at = models.DateTimeField()
    moved_at = models.DateTimeField()
    proven_by = models.ForeignKey(
        "inspections.Visit", on_delete=models.PROTECT, null=True, related_name="+"
    )
    ended_at = models.DateTimeField(null=True)
    reason = models.CharField(max_length=500, blank=True)
    withdrawn_for = models.CharField(max_length=12, choices=WithdrawnFor, blank=True)
    found_by_person = models.CharField(max_length=200, blank=True)
    photos = models.JSONField(default=list)
    recurs = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="+")
    found_again = models.JSONField(default=list)
    retest_missing = models.JSONField(default=list)
    urgency = models.CharField(max_length=60, blank=True)
    due_on = models.DateField(null=True)
    deadline_from = models.JSONField(default=list)
    assigned_to = models.ForeignKey(
        "doors.Organization", on_delete=models.PROTECT, null=True, related_name="+"
    )
    assigned_to_name = models.CharField(max_length=200, blank=True)
    assigned_person = models.CharField(max_length=200, blank=True)
    assigned_by = models.CharField(max_length=200, blank=True)
    assigned_until = models.DateField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="deficiency_home"),
            models.UniqueConstraint(
                fields=["opening", "subject"],
                condition=Q(state__in=["open", "repaired"]),
                name="one_deficiency_at_a_time",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "-opened_at", "id"], name="deficiency_by_site"),
            models.Index(fields=["opening", "subject"], name="deficiency_by_opening"),
        ]

    @classmethod
    def visible_to(cls, context: Context) -> Q:
        """Those of the sites in sight, and those that last moved in its own time there."""
        wrote = Q(author_id=context.author) & in_time_of(context, "moved_at", granted=True)
        return SiteRow.visible_to(context) | in_time_of(context, "moved_at") | wrote


class InterimMeasure(AuthoredRow):
    """What protects people until the repair is proven. Without an end it is an exception.

    `stopped_at` is when somebody ended it before its time; nothing of it changes after that.
    """

    HAPPENED_AT = "recorded_at"
    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=kept("recorded_at"),
        write=f"{AUTHORED} AND ({_WORKED_ON})",
        change=_WORKED_ON,
        changeable=("stopped_at", "stopped_by", "stopped_because"),
        homes=(("deficiency_id", "inspections_deficiency"),),
        frozen_once="stopped_at",
        open_to=OPEN_TO,
    )

    deficiency = models.ForeignKey(
        Deficiency, on_delete=models.PROTECT, related_name="interim_measures"
    )
    kind = models.CharField(max_length=40)
    words = models.CharField(max_length=500)
    responsible = models.CharField(max_length=200)
    begins_at = models.DateTimeField()
    ends_at = models.DateTimeField(null=True)
    stopped_at = models.DateTimeField(null=True)
    stopped_by = models.CharField(max_length=200, blank=True)
    stopped_because = models.CharField(max_length=500, blank=True)
    recorded_at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index(
                fields=["ends_at"], name="interim_measure_running", condition=Q(stopped_at=None)
            ),
        ]


class Repair(AuthoredRow):
    """What was done to mend it: by whom, when, with which parts. It proves nothing yet.

    Each of `parts` is `part`, a word of the rules library on which retests depend, and `words`
    and `listed_basis` in the words of who did it; `photos` are digests of its author's pictures.
    """

    HAPPENED_AT = "done_at"
    WALL = Wall(
        read=kept("done_at"),
        write=f"{AUTHORED} AND ({_WORKED_ON})",
        homes=(("deficiency_id", "inspections_deficiency"),),
        append_only=True,
    )

    deficiency = models.ForeignKey(Deficiency, on_delete=models.PROTECT, related_name="repairs")
    done_at = models.DateTimeField()
    done_by = models.CharField(max_length=200)
    licence = models.CharField(max_length=200, blank=True)
    words = models.TextField()
    photos = models.JSONField(default=list)
    parts = models.JSONField(default=list)
    recorded_at = models.DateTimeField()
