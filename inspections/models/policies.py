"""Policies of notices: who of an organization is told, when and how; by site where it differs."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from doors.models.homes import OrganizationRow
from doors.walls import OWN, Wall, in_sight
from inspections.models.notices import Stage


class Kind(models.TextChoices):
    """What somebody may be named to hear of."""

    REMINDERS = "reminders"
    FAILURES = "failures"
    REPAIRS = "repairs"
    FILINGS = "filings"
    SERVICE = "service"


KIND_OF = {  # every stage is of one kind
    Stage.BEFORE_DUE: Kind.REMINDERS,
    Stage.DUE: Kind.REMINDERS,
    Stage.OVERDUE: Kind.REMINDERS,
    Stage.TEST_FAILED: Kind.FAILURES,
    Stage.INTERIM_MEASURE_EXPIRING: Kind.FAILURES,
    Stage.INTERIM_MEASURE_EXPIRED: Kind.FAILURES,
    Stage.DOOR_REPORTED: Kind.FAILURES,
    Stage.EXPECTED_TO_FAIL: Kind.FAILURES,
    Stage.REPAIR_PROVEN: Kind.REPAIRS,
    Stage.SUBMITTAL_FILED: Kind.FILINGS,
    Stage.WEBHOOK_FAILED: Kind.SERVICE,
    Stage.DUTIES_DIFFER: Kind.SERVICE,
}
# Gathered into a mail a day, kept out of quiet hours, and stopped by whoever wants none. All
# other stages are told at once and cannot be stopped.
REMINDERS = frozenset(stage for stage, kind in KIND_OF.items() if kind == Kind.REMINDERS)
# Somebody must say that they have seen these, or they climb from contact to contact.
DEMANDING = frozenset({Stage.TEST_FAILED, Stage.INTERIM_MEASURE_EXPIRED})


class NoticePolicy(OrganizationRow):
    """What an organization has set, for all its sites or, where `site` is named, for that one.

    `terms` holds only what was stated: a site's stand before the organization's, and those before
    the service's own (`inspections.selectors.policies`).
    """

    WALL = Wall(
        read=OWN,
        write=f"{OWN} AND (site_id IS NULL OR {in_sight('manage')})",
        change=OWN,
        changeable=("terms", "changed_at", "version"),
        rising="version",
    )

    site = models.ForeignKey("doors.Site", on_delete=models.PROTECT, null=True, related_name="+")
    terms = models.JSONField(default=dict)
    changed_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["organization"], condition=Q(site=None), name="one_policy"
            ),
            models.UniqueConstraint(
                fields=["organization", "site"],
                condition=Q(site__isnull=False),
                name="one_policy_a_site",
            ),
        ]


class ReminderStop(OrganizationRow):
    """A person wants no more reminders: of one `stage`, or of one `thing`, or, with neither, none.

    Nothing stops failures, and whoever is named to hear of them hears of them.
    """

    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=("ended_at",),
        once=("ended_at",),
        kin=(("person_id", "doors_person"),),
    )

    person = models.ForeignKey("doors.Person", on_delete=models.PROTECT, related_name="+")
    stage = models.CharField(max_length=24, choices=Stage, blank=True)
    thing = models.UUIDField(null=True)
    asked_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)

    class Meta:
        indexes = [models.Index(fields=["person"], name="stop_of_person")]
