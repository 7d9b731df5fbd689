"""The tables of what was found at a door and what follows from it."""

from inspections.models.deficiencies import Deficiency, InterimMeasure, Repair
from inspections.models.duties import Duty
from inspections.models.notices import Notice, Owing, Stage
from inspections.models.reported_visits import ReportedOutcome, ReportedVisit
from inspections.models.submittals import FeedChange, FeedHead, Filing, ReadLine, Submittal
from inspections.models.untested import FrozenUntestedItem, Silence, SilentRow, UntestedItem
from inspections.models.visits import Activity, Reading, Verdict, Visit
from inspections.models.webhooks import (
    EventType,
    Webhook,
    WebhookAttempt,
    WebhookDelivery,
    WebhookSecret,
)

__all__ = [
    "Activity",
    "Deficiency",
    "Duty",
    "EventType",
    "FeedChange",
    "FeedHead",
    "Filing",
    "FrozenUntestedItem",
    "InterimMeasure",
    "Notice",
    "Owing",
    "ReadLine",
    "Reading",
    "Repair",
    "ReportedOutcome",
    "ReportedVisit",
    "Silence",
    "SilentRow",
    "Stage",
    "Submittal",
    "UntestedItem",
    "Verdict",
    "Visit",
    "Webhook",
    "WebhookAttempt",
    "WebhookDelivery",
    "WebhookSecret",
]
