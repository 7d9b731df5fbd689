"""What calls what by dotted name, where a lower app moves something in a higher one."""

REACTIONS = {
    "opening_changed": ["inspections.services.duties.settle_duties"],
    "opening_removed": ["inspections.services.removals.close_as_removed"],
    "grant_changed": ["inspections.services.happenings.tell_of_grant"],
    "job_ended": ["inspections.services.happenings.tell_of_job"],
    "custody_passed": ["inspections.services.custody.pass_on"],
    "places_changed": ["inspections.services.places.ask_to_settle_site"],
}
JOBS = {  # kind of long work -> the function that does it, given the job
    "assemble_submittal": "inspections.services.submittals.assemble_submittal",
    "settle_opening": "inspections.services.places.settle_opening",
    "settle_places": "inspections.services.places.settle_places",
    "settle_site": "inspections.services.places.settle_site",
    "pass_on": "inspections.services.custody.pass_on_later",
}
