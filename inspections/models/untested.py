"""What was not tested: the latest word on an item, where that word is silence with its reason."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from doors.models.homes import AuthoredRow, kept
from doors.tenancy import Context
from doors.walls import AUTHORED, Wall, in_sight
from inspections.models.submittals import READABLE, Filing
from inspections.models.visits import Activity


class Silence(models.TextChoices):
    """Why nothing is known of an item: each is a result of its own, and none of them a pass."""

    NOT_TESTED = "not_tested"
    NOT_APPLICABLE = "not_applicable"
    NO_ACCESS = "no_access"


class SilentRow(AuthoredRow):
    """What both tables say of one item at one opening. `subject` is what was to be looked at
    (`quantity:closing_speed`, `check:tracks`); `words` are the library's, with the reason that
    was given; `tag` is the opening's as it was then.
    """

    SEEN_WITH = "history"

    tag = models.CharField(max_length=60)
    requirement = models.CharField(max_length=160)
    title = models.CharField(max_length=300)
    subject = models.CharField(max_length=120)
    result = models.CharField(max_length=16, choices=Silence)
    reason = models.CharField(max_length=120)
    words = models.TextField()
    activity = models.CharField(max_length=24, choices=Activity)
    performed_on = models.DateField()

    class Meta:
        abstract = True


class UntestedItem(SilentRow):
    """An item whose latest word, by the standing visits that asked for it, is silence.

    Derived: whatever is recorded at an opening writes its rows anew, as the custodian, so who
    wrote the visit that a row tells of need not be who acts.
    """

    HAPPENED_AT = "performed_at"
    WALL = Wall(
        read=kept("performed_at", "history"),
        write=f"{in_sight('record')} OR {in_sight('manage')}",
        homes=(("opening_id", "doors_opening"), ("visit_id", "inspections_visit")),
        deletable=True,
    )

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="+")
    visit = models.ForeignKey("inspections.Visit", on_delete=models.PROTECT, related_name="+")
    performed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["opening", "requirement"], name="untested_once"),
        ]
        indexes = [
            models.Index(fields=["site", "-performed_at", "id"], name="untested_by_site"),
            models.Index(fields=["author", "-performed_at", "id"], name="untested_by_author"),
        ]


class FrozenUntestedItem(SilentRow):
    """The same as a frozen packet says it: for whom the packet was filed to, no more than that."""

    HAPPENED_AT = "assembled_at"
    WALL = Wall(
        read=f"{kept('assembled_at', 'history')} OR {READABLE}",
        write=f"{AUTHORED} AND {in_sight('submit')}",
        homes=(("submittal_id", "inspections_submittal"),),
        append_only=True,
    )

    submittal = models.ForeignKey(
        "inspections.Submittal", on_delete=models.PROTECT, related_name="+"
    )
    assembled_at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index(fields=["submittal", "-performed_on", "id"], name="untested_by_packet"),
        ]

    @classmethod
    def visible_to(cls, context: Context) -> Q:
        """What stands in packets it wrote, of its sites, or filed to it."""
        filed = Filing._base_manager.filter(authority_id=context.organization_id)
        return super().visible_to(context) | Q(submittal_id__in=filed.values("submittal_id"))
