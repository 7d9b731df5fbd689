"""What calls what by dotted name: reactions, jobs and the scans of the schedule."""

from typing import Any

REACTIONS = {
    "openings_added": ["inspections.services.duties.begin_duties"],
    "opening_changed": ["inspections.services.duties.settle_duties"],
    "opening_removed": ["inspections.services.removals.close_as_removed"],
    "openings_taken_back": ["inspections.services.duties.end_duties"],
    "grant_changed": ["inspections.services.happenings.tell_of_grant"],
    "job_ended": ["inspections.services.happenings.tell_of_job"],
    "custody_passed": ["inspections.services.custody.pass_on"],
    "places_changed": ["inspections.services.places.ask_to_settle_site"],
}
JOBS = {  # kind of long work -> the function that does it, given the job
    "import_table": "doors.services.imports.import_table",
    "withdraw_import": "doors.services.import_withdrawals.take_back_next",
    "write_export": "doors.services.exports.write_export",
    "answer_in_sandbox": "inspections.services.sandboxes.answer_in_sandbox",
    "assemble_submittal": "inspections.services.submittals.assemble_submittal",
    "send_invitation": "doors.services.invitations.send_invitation",
    "send_password_link": "doors.services.passwords.send_password_link",
    "settle_organization": "inspections.services.reported_visits.settle_organization",
    "settle_opening": "inspections.services.places.settle_opening",
    "settle_places": "inspections.services.places.settle_places",
    "settle_site": "inspections.services.places.settle_site",
    "pass_on": "inspections.services.custody.pass_on_later",
}
# Jobs of a human, not of the organization under which they wait: it is not told of them.
PERSONAL_JOBS = {"send_password_link"}
IMPORTS = {  # kind of table that can be read -> its columns and what a row does
    "openings": "doors.services.import_openings.OPENINGS",
    "reported_visits": "inspections.services.import_reported_visits.REPORTED_VISITS",
    "sites": "doors.services.import_sites.SITES",
}
EXPORTS = {  # kind of export -> the tables it holds
    "account": "inspections.services.accounts.ACCOUNT",
    "deficiencies": "inspections.services.accounts.DEFICIENCIES",
    "duties": "inspections.services.accounts.DUTIES",
    "openings": "doors.services.export_kinds.OPENINGS",
    "reported_visits": "inspections.services.accounts.REPORTED_VISITS",
    "sites": "doors.services.export_kinds.SITES",
    "visits": "inspections.services.accounts.VISITS",
}
# Seconds between two scans; each is safe to run twice, and a lost one costs one period.
_SCANS = {
    "inspections.tasks.run_jobs": 5,
    "inspections.tasks.remind": 60,
    "inspections.tasks.climb": 30,
    "inspections.tasks.prove": 60,
    "inspections.tasks.expand_owings": 5,
    "inspections.tasks.alarm_measures": 60,
    "inspections.tasks.deliver_notices": 5,
    "inspections.tasks.deliver_webhooks": 5,
    "inspections.tasks.seal_secrets_anew": 3_600,
    "inspections.tasks.forget_replays": 3_600,
    "inspections.tasks.forget_exports": 3_600,
}
CELERY_BEAT_SCHEDULE: dict[str, dict[str, Any]] = {
    # A doorbell that nobody answered in time is worth nothing: the next one rings.
    name: {"task": name, "schedule": every, "options": {"expires": every}}
    for name, every in _SCANS.items()
}
