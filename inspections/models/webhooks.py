"""Webhooks: what an organization's own machines are told, and every try to tell them."""

from __future__ import annotations

from django.db import models

from doors.models.homes import OrganizationRow
from doors.models.jobs import CLAIM_COLUMNS, Claimable
from doors.tenancy import Purpose
from doors.walls import OWN, Wall

TRIES = 10


class EventType(models.TextChoices):
    """What can be told. A word stands here only once something causes it; the list may grow."""

    VISIT_RECORDED = "visit.recorded"
    DEFICIENCY_OPENED = "deficiency.opened"
    DEFICIENCY_REPAIRED = "deficiency.repaired"
    DEFICIENCY_PROVEN = "deficiency.proven"
    DEFICIENCY_WITHDRAWN = "deficiency.withdrawn"
    TREND_EXPECTED = "trend.expected_to_fail"
    SUBMITTAL_FILED = "submittal.filed"
    SUBMITTAL_RETURNED = "submittal.returned"
    SUBMITTAL_ACCEPTED = "submittal.accepted"
    DUTY_DUE = "duty.due"
    GRANT_GIVEN = "grant.given"
    GRANT_END_SET = "grant.end_set"
    JOB_ENDED = "job.ended"
    WEBHOOK_TESTED = "webhook.tested"


class Webhook(OrganizationRow):
    """An address of the organization's own, and the events it wants told there.

    `disabled`: it answered 410, so it wants nothing any more. `ended` is for ever.
    """

    class State(models.TextChoices):
        """Only an enabled one is told anything."""

        ENABLED = "enabled"
        PAUSED = "paused"
        DISABLED = "disabled"
        ENDED = "ended"

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=("label", "url", "events", "state", "ended_at", "version"),
        open_to=OPEN_TO,
    )

    label = models.CharField(max_length=200)
    url = models.CharField(max_length=2000)
    events = models.JSONField(default=list)
    state = models.CharField(max_length=12, choices=State, default=State.ENABLED)
    created_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organization", "id"], name="webhook_home"),
        ]


class WebhookSecret(OrganizationRow):
    """A secret that signs, sealed under a key of the settings; `sealed_under` names that key.

    During a rotation two are live, and each delivery carries a signature by both.
    """

    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=("sealed", "sealed_under", "ends_at"),
        kin=(("webhook_id", "inspections_webhook"),),
    )

    webhook = models.ForeignKey(Webhook, on_delete=models.PROTECT, related_name="secrets")
    sealed = models.CharField(max_length=200)
    sealed_under = models.CharField(max_length=16)
    created_at = models.DateTimeField()
    ends_at = models.DateTimeField(null=True)


class WebhookDelivery(OrganizationRow, Claimable):
    """One event for one webhook; its id is the `webhook-id` of every try, so that a receiver
    knows a repetition. `payload` is the very text that is signed and sent.

    After `last_try` it is dead, until somebody asks for it again.
    """

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=(*CLAIM_COLUMNS, "last_try", "problem"),
        kin=(("webhook_id", "inspections_webhook"),),
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    webhook = models.ForeignKey(Webhook, on_delete=models.PROTECT, related_name="deliveries")
    event = models.UUIDField()  # the same for every webhook that is told of it
    type = models.CharField(max_length=24, choices=EventType)
    thing = models.UUIDField()
    of_site = models.UUIDField(null=True)  # sight of it is asked again before each try
    payload = models.TextField()
    last_try = models.PositiveSmallIntegerField(default=TRIES)
    problem = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organization", "id"], name="delivery_home"),
            models.UniqueConstraint(
                fields=["organization", "webhook", "event"], name="delivered_once_by_event"
            ),
        ]
        indexes = [
            models.Index(fields=["webhook", "-created_at", "id"], name="delivery_to"),
            models.Index(
                fields=["not_before"],
                name="delivery_waiting",
                condition=models.Q(state__in=["waiting", "claimed"]),
            ),
        ]


class WebhookAttempt(OrganizationRow):
    """One try, written before it is made: one without an end was cut short, and may have
    arrived. Of the answer only the status is kept.
    """

    OPEN_TO = frozenset({Purpose.SWEEP})
    WALL = Wall(
        read=OWN,
        write=OWN,
        changeable=("ended_at", "outcome", "status", "problem"),
        frozen_once="ended_at",
        kin=(("delivery_id", "inspections_webhookdelivery"),),
        open_to=OPEN_TO,
        written_by=OPEN_TO,
    )

    class Outcome(models.TextChoices):
        """What is known of it."""

        UNDER_WAY = "under_way"
        ACCEPTED = "accepted"
        REFUSED = "refused"
        FAILED = "failed"
        UNKNOWN = "unknown"

    delivery = models.ForeignKey(WebhookDelivery, on_delete=models.PROTECT, related_name="attempts")
    number = models.PositiveSmallIntegerField()
    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    outcome = models.CharField(max_length=12, choices=Outcome, default=Outcome.UNDER_WAY)
    status = models.PositiveSmallIntegerField(null=True)
    problem = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["organization", "delivery", "number"], name="attempt_number"
            ),
        ]
