"""Which tables hold what an organization may take with it."""

from __future__ import annotations

from typing import Any

from doors.models import (
    Battery,
    Blob,
    Custody,
    CustodyOffer,
    Device,
    Grant,
    Import,
    ImportRow,
    LedgerEntry,
    Member,
    Opening,
    OpeningFacts,
    OpeningTag,
    Organization,
    Outage,
    Override,
    Person,
    Photo,
    Site,
    SitePlace,
)
from doors.services.export_kinds import ExportedTable
from doors.services.records import record_of
from inspections.models import (
    Amendment,
    Deficiency,
    DeficiencyGroup,
    DeficiencyPolicy,
    Delivery,
    DoorReport,
    Duty,
    DutyDifference,
    DutyPlan,
    Filing,
    Forecast,
    GroupedDeficiency,
    InterimMeasure,
    Ladder,
    Notice,
    NoticePolicy,
    Reading,
    ReadLine,
    ReminderStop,
    Repair,
    ReportedVisit,
    SignTable,
    Submittal,
    Visit,
)
from inspections.selectors.traces import sent_of


def visit_record(visit: Visit) -> dict[str, Any]:
    """A visit as it is kept, with its traces among what was sent."""
    return record_of(visit) | {"findings": sent_of(visit)}


VISITS = [ExportedTable("visits", Visit, born="received_at", record=visit_record)]
DEFICIENCIES = [ExportedTable("deficiencies", Deficiency)]
DUTIES = [ExportedTable("duties", Duty)]
REPORTED_VISITS = [ExportedTable("reported_visits", ReportedVisit, born="reported_at")]
ACCOUNT = [
    ExportedTable("organizations", Organization),
    ExportedTable("people", Person),
    ExportedTable("members", Member),
    ExportedTable("sites", Site, born="created_at"),
    ExportedTable("site_places", SitePlace),
    ExportedTable("custodies", Custody),
    ExportedTable("custody_offers", CustodyOffer),
    ExportedTable("grants", Grant, born="created_at"),
    ExportedTable("overrides", Override, born="created_at"),
    ExportedTable("openings", Opening, born="created_at"),
    ExportedTable("opening_facts", OpeningFacts, born="recorded_at"),
    ExportedTable("opening_tags", OpeningTag),
    ExportedTable("outages", Outage, born="recorded_at"),
    ExportedTable("devices", Device, born="recorded_at"),
    ExportedTable("batteries", Battery, born="recorded_at"),
    ExportedTable("photos", Photo, born="recorded_at"),
    *VISITS,
    ExportedTable("readings", Reading),
    *REPORTED_VISITS,
    *DEFICIENCIES,
    ExportedTable("interim_measures", InterimMeasure, born="recorded_at"),
    ExportedTable("repairs", Repair, born="recorded_at"),
    ExportedTable("deficiency_policies", DeficiencyPolicy),
    ExportedTable("deficiency_groups", DeficiencyGroup, born="created_at"),
    ExportedTable("grouped_deficiencies", GroupedDeficiency),
    ExportedTable("forecasts", Forecast, born="told_at"),
    ExportedTable("sign_tables", SignTable),
    ExportedTable("door_reports", DoorReport, born="told_at"),
    *DUTIES,
    ExportedTable("duty_plans", DutyPlan, born="recorded_at"),
    ExportedTable("duty_differences", DutyDifference, born="found_at"),
    ExportedTable("ladders", Ladder, born="created_at"),
    ExportedTable("notice_policies", NoticePolicy),
    ExportedTable("reminder_stops", ReminderStop),
    ExportedTable("notices", Notice, born="created_at"),
    ExportedTable("deliveries", Delivery, born="created_at"),
    ExportedTable("submittals", Submittal, born="assembled_at"),
    ExportedTable("filings", Filing, born="filed_at"),
    ExportedTable("amendments", Amendment, born="recorded_at"),
    ExportedTable("authority_reads", ReadLine, born="read_at"),
    ExportedTable("blobs", Blob, born="created_at"),
    ExportedTable("imports", Import, born="created_at"),
    ExportedTable("import_rows", ImportRow),
    ExportedTable("ledger_entries", LedgerEntry, born="recorded_at"),
]
