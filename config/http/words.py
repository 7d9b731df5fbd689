"""What a field of the API means where its name means the same everywhere, said once.

A field that means more, or something else, says so beside itself (`help_text`); a field that is
in neither place fails the tests of the document.
"""

from __future__ import annotations

from typing import Any

WORDS = {
    "actions": "What may be done: some of read, plan, record, repair, submit.",
    "activity": "What the visit is for, in the rules library's word.",
    "address": "Its lines, as on an envelope.",
    "alarm_log": "What was agreed with the alarm side.",
    "assembled_at": "When it was frozen: RFC 3339, UTC.",
    "assembled_by": "Name of the organization that asked for it.",
    "assigned_by": "Name of the organization that handed it on; empty where nobody did.",
    "assignment": "Who is to put it right; null where nobody was named.",
    "at": "RFC 3339 with offset.",
    "attestation": "Who stands for the record, and when.",
    "attested_by": "Name of the person who stands for the record.",
    "author": "Name, at that time, of the organization that wrote it.",
    "authority": "Name of the authority.",
    "because": "Why, in words.",
    "begins_at": "From when it holds: RFC 3339 with offset.",
    "begins_on": "First day it holds, by the calendar of the place.",
    "calibrated_on": "Day of its last calibration.",
    "calibration_due_on": "Last day on which that calibration is good.",
    "capabilities": "What the organization is.",
    "changed_at": "When: RFC 3339, UTC.",
    "channel": "By which way it goes out.",
    "checks": "Items looked at, each with its result.",
    "citation": "Where that is written.",
    "class": "How urgent it is, in the words of the owner's policy.",
    "classes": "Classes of what is wrong, in the organization's own words.",
    "client_ref": "The author's own reference, unique among its own for ever.",
    "code": "Its code, unique.",
    "content_sha256": "SHA-256, in hex, of its frozen content.",
    "corrected_by": "Id of the visit that stands in its place.",
    "created_at": "When it was recorded: RFC 3339, UTC.",
    "data": "The rows, in the order of the list.",
    "deadline_from": "Where its class and its day come from.",
    "decision_rule": "How the uncertainty of a measurement counts; `simple` where absent.",
    "deficiencies": "Deficiencies concerned.",
    "deficiency": "Id of the deficiency.",
    "detail": "What is wrong with this request, in words.",
    "document": "The text, as the rules library reads it: TOML.",
    "document_sha256": "SHA-256, in hex, of `document`.",
    "done": "Steps done, out of `total`.",
    "done_at": "When the work was done: RFC 3339 with offset.",
    "done_by": "Name of the person who did it.",
    "door_type": "Which kind of door it is, in the rules library's word.",
    "due_on": "The day it is due, by the calendar of the site.",
    "ended_at": "When it ended: RFC 3339, UTC; null before that.",
    "ends_at": "Until when it holds: RFC 3339, UTC; null where no end is known.",
    "ends_on": "First day it no longer holds; null where no end is known.",
    "entries": "How many entries the chain has.",
    "entry_sha256": "SHA-256, in hex, of the entry, which holds that of the one before.",
    "errors": "Each bad field or parameter, with its place.",
    "expires_at": "When it ends: RFC 3339, UTC; null where it does not.",
    "facts": "What is so at the door, in the rules library's names and units.",
    "file_sha256": "SHA-256, in hex, of the file's bytes.",
    "file_size": "Size of the file, in bytes.",
    "filed_at": "When it was filed: RFC 3339, UTC.",
    "filed_by": "Name of the organization that filed it.",
    "filed_with": "Name of the authority it was filed with.",
    "filing": "Id of the filing.",
    "filings": "With whom it was filed, as far as you may see.",
    "findings": "What was sent of the visit, as sent.",
    "first_fault": "The first entry that is not what was written; null where there is none.",
    "floor": "Which floor, as people there say it; may be empty.",
    "found": "Deficiencies that this visit found.",
    "found_at": "When it was seen: RFC 3339 with offset.",
    "found_by": "Id of the visit that found it.",
    "governs": "Whether it is the one that decides.",
    "grantee": "Id of the organization that may act.",
    "groups": "Groups of your own that it is in.",
    "id": "Its id, random.",
    "in_place_since": "First day it stood there; today where absent.",
    "inspected": "Who found it.",
    "instruments": "What was measured with.",
    "intact": "Whether every entry is what was written.",
    "interim_measures": "What is done meanwhile.",
    "jurisdiction": "Code of the place.",
    "kind": "Which kind it is.",
    "label": "How it is called.",
    "last_visit": "Id of the latest visit that met it; null before the first.",
    "layer": "Code of the place that set it.",
    "licence": "Number of the licence of who did it; may be empty.",
    "listed_instructions": "Numbers of the door's own listed instructions, with their units.",
    "location": "Where in the building, in words.",
    "longest_days": "The longest time open, in days to a tenth.",
    "name": "What it or they are called.",
    "off_test_at": "When the panel was put back in service: RFC 3339 with offset.",
    "on_test_at": "When the panel was put on test: RFC 3339 with offset.",
    "opened_at": "When it was found: RFC 3339, UTC.",
    "opening": "Id of the opening.",
    "opens_on": "First day on which a visit meets it, by the calendar of the site.",
    "organization": "Name of the organization.",
    "organization_id": "Id of the organization.",
    "organization_name": "Name of the organization; may be empty.",
    "overdue": "Whether it stands after the day it was due.",
    "owner": "Name of the owner.",
    "panel_after": "How the panel was left.",
    "panel_before": "How the panel was found.",
    "parts": "What was replaced, in words.",
    "people": "Who took part.",
    "person": "Id of the person who is told.",
    "policy_version": "Version of the policy that said so.",
    "position": "Its place in the order, from 1.",
    "problem": "What went wrong; null or empty where nothing did.",
    "protects": "What is lost while it is wrong: closing, egress, people or record.",
    "proved": "Deficiencies whose repair this visit proved.",
    "proven_by": "Id of the visit that proved the repair; null before that.",
    "published_at": "When it was published: RFC 3339, UTC; null before that.",
    "qualification": "What the person is qualified for, and by whom.",
    "qualification_no": "The number of that qualification.",
    "quantity": "What was measured, in the rules library's name.",
    "readings": "What was measured.",
    "reason": "Why, in words.",
    "received_at": "When the service received it: RFC 3339, UTC.",
    "recorded_at": "When it was written: RFC 3339, UTC.",
    "reference": "The author's own reference.",
    "remarks": "Anything else, in words.",
    "removed_on": "The day it was taken out; null while it stands.",
    "repaired": "Who repaired it.",
    "repairs": "What was done about it.",
    "repeat": "Which repeat of the same measurement, from 1.",
    "requirement": "Id of the requirement.",
    "requirements": "Ids of the requirements concerned.",
    "resolution": "The smallest step it shows.",
    "responsible": "Name of the person who sees to it.",
    "result": "What came of it; null before the end.",
    "retest_missing": "What is still to be shown before it is proven.",
    "retested": "Who proved the repair; null before that.",
    "role": "What the person did there.",
    "rules": "Which deficiency is of which class; the first that speaks of it decides.",
    "same_firm_words": "The same in words; empty where it is not so.",
    "scopes": "What the key may read and write.",
    "sequences": "Courses of events observed, with their times.",
    "serial": "Its serial number.",
    "site": "Id of the site.",
    "source": "Who says so.",
    "stage": "At which point of a thing's life.",
    "state": "In which state it is now.",
    "status": "The HTTP status.",
    "still_open": "How many still stand.",
    "stopped_at": "When it was ended before its time: RFC 3339.",
    "stopped_because": "Why somebody ended it before its time.",
    "stopped_by": "Name of the organization that ended it before its time.",
    "subject": "What was looked at, as `sequence:egress`.",
    "submittal": "Id of the submittal.",
    "supersedes": "Id of the visit that this one corrects; null where it corrects none.",
    "tag": "What is written on the door.",
    "time_zone": "IANA name, as America/Chicago.",
    "title": "What it is called, in words.",
    "total": "Steps there are.",
    "traces": "Recorded courses of a motion, a force or a voltage, with their units.",
    "tries": "How often it was tried.",
    "unit": "The unit of `value`, as lbf, N, in/s or s.",
    "until": "By which day, on the calendar of the site.",
    "valid_until": "Last day on which the qualification is good.",
    "value": "A decimal number, written as text.",
    "verdict": "The worst of the binding verdicts; it says nothing of safety.",
    "version": "Rises with each change.",
    "warn_before": "How long before an interim measure runs out its people are told; ISO 8601.",
    "within": "By when it is put right; ISO 8601.",
    "words": "What it is, in words.",
}
IN_PATHS = {
    "code": "Code of the place.",
    "sha256": "SHA-256 of the file, in hex.",
}


def add_words(result: dict[str, Any], **_generator: object) -> dict[str, Any]:
    """Describe each field and each part of an address that says nothing itself (a hook)."""
    for name, schema in result["components"]["schemas"].items():
        if not name.startswith("rules_"):
            _describe_fields(schema)
    for operations in result["paths"].values():
        for operation in operations.values():
            _describe_path(operation)
    return result


def _describe_fields(schema: dict[str, Any]) -> None:
    for field, described in schema.get("properties", {}).items():
        if field in WORDS:
            described.setdefault("description", WORDS[field])


def _describe_path(operation: dict[str, Any]) -> None:
    for parameter in operation.get("parameters", ()):
        if parameter["in"] == "path":
            parameter.setdefault("description", _in_path(parameter["name"]))


def _in_path(name: str) -> str:
    thing = name.removesuffix("_id").replace("_", " ")
    return IN_PATHS.get(name, f"Id of the {thing}.")
