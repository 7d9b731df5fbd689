"""The tables of what was found at a door and what follows from it."""

from inspections.models.deficiencies import Deficiency, InterimMeasure, Repair
from inspections.models.deficiency_groups import DeficiencyGroup, GroupedDeficiency
from inspections.models.deficiency_policies import DeficiencyPolicy
from inspections.models.door_reports import DoorReport, SignTable
from inspections.models.duties import Duty
from inspections.models.forecasts import Forecast
from inspections.models.ladders import Ladder
from inspections.models.notices import Delivery, Notice, Owing, Stage
from inspections.models.plans import DutyPlan
from inspections.models.policies import (
    DEMANDING,
    KIND_OF,
    REMINDERS,
    Kind,
    NoticePolicy,
    ReminderStop,
)
from inspections.models.proofs import DutyDifference, DutyProof
from inspections.models.reported_visits import ReportedOutcome, ReportedVisit
from inspections.models.submittals import (
    Amendment,
    FeedChange,
    FeedHead,
    Filing,
    ReadLine,
    Submittal,
)
from inspections.models.traces import Trace
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
    "DEMANDING",
    "KIND_OF",
    "REMINDERS",
    "Activity",
    "Amendment",
    "Deficiency",
    "DeficiencyGroup",
    "DeficiencyPolicy",
    "Delivery",
    "DoorReport",
    "Duty",
    "DutyDifference",
    "DutyPlan",
    "DutyProof",
    "EventType",
    "FeedChange",
    "FeedHead",
    "Filing",
    "Forecast",
    "FrozenUntestedItem",
    "GroupedDeficiency",
    "InterimMeasure",
    "Kind",
    "Ladder",
    "Notice",
    "NoticePolicy",
    "Owing",
    "ReadLine",
    "Reading",
    "ReminderStop",
    "Repair",
    "ReportedOutcome",
    "ReportedVisit",
    "SignTable",
    "Silence",
    "SilentRow",
    "Stage",
    "Submittal",
    "Trace",
    "UntestedItem",
    "Verdict",
    "Visit",
    "Webhook",
    "WebhookAttempt",
    "WebhookDelivery",
    "WebhookSecret",
]
