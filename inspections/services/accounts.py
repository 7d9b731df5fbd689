"""Which tables hold what an organization may take with it."""

from __future__ import annotations

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
from inspections.models import (
    Deficiency,
    Delivery,
    Duty,
    Filing,
    InterimMeasure,
    Notice,
    NoticePolicy,
    Reading,
    ReadLine,
    ReminderStop,
    Repair,
    ReportedVisit,
    Submittal,
    Visit,
)

VISITS = [ExportedTable("visits", Visit, born="received_at")]
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
    *DUTIES,
    ExportedTable("notice_policies", NoticePolicy),
    ExportedTable("reminder_stops", ReminderStop),
    ExportedTable("notices", Notice, born="created_at"),
    ExportedTable("deliveries", Delivery, born="created_at"),
    ExportedTable("submittals", Submittal, born="assembled_at"),
    ExportedTable("filings", Filing, born="filed_at"),
    ExportedTable("authority_reads", ReadLine, born="read_at"),
    ExportedTable("blobs", Blob, born="created_at"),
    ExportedTable("imports", Import, born="created_at"),
    ExportedTable("import_rows", ImportRow),
    ExportedTable("ledger_entries", LedgerEntry, born="recorded_at"),
]
