"""An example of each body that the API takes, in the invented town; the tests send every one.

An id in them stands for a thing of that kind, and one instant for a moment ago: `NAMED` says which.
"""

from __future__ import annotations

from typing import Any

from config.http.examples_of_deficiencies import DEFICIENCIES
from config.http.named import NAMED
from config.http.writings import OVERRIDE, SIGN

_VISIT: dict[str, Any] = {
    "opening": NAMED["opening"],
    "client_ref": "tablet-7/2026-03-01/0012",
    "activity": "periodic_inspection",
    "performed_at": "2026-03-01T09:30:00-06:00",
    "sent_at": "2026-03-01T18:04:09-06:00",
    "attestation": {"name": "Noor Vale", "at": "2026-03-01T10:05:00-06:00"},
    "people": [
        {
            "name": "Noor Vale",
            "role": "inspector",
            "qualification": "sliding and swinging fire doors",
        }
    ],
    "instruments": [
        {
            "ref": "gauge",
            "kind": "force gauge",
            "calibration_due_on": "2026-09-30",
            "resolution": {"value": "0.1", "unit": "lbf"},
        }
    ],
    "readings": [
        {"quantity": "closing_speed", "value": "12", "unit": "in/s"},
        {
            "quantity": "set_in_motion_force",
            "value": "13.6",
            "unit": "lbf",
            "instrument": "gauge",
        },
    ],
    "alarm_log": {
        "told": "Monitoring station, front desk",
        "reference": "T-0193",
        "on_test_at": "2026-03-01T09:20:00-06:00",
        "off_test_at": "2026-03-01T10:02:00-06:00",
        "panel_before": "normal",
        "panel_after": "normal",
        "occupants_told": "Announced at 9:15, signs at both sides",
        "signals": [
            {"signal": "Zone 2 smoke alarm", "received_at": "2026-03-01T09:34:00-06:00"},
        ],
        "contractor": {
            "name": "Ines Parr",
            "firm": "Hollow Bell Alarms",
            "licence": "FA-2207",
            "at": "2026-03-01T10:04:00-06:00",
        },
    },
    "initiating_device": {"reference": "FAP 2/14"},
    "attachments": [{"sha256": NAMED["photo_sha256"], "caption": "The track before cleaning"}],
    "remarks": "Left in service.",
}
__all__ = ["EXAMPLES", "NAMED"]

EXAMPLES: dict[str, dict[str, Any]] = {
    **DEFICIENCIES,
    "acknowledge_notice": {"by": "Ada Quist"},
    "add_opening": {
        "site": NAMED["site"],
        "tag": "A-2",
        "location": "Lobby to corridor",
        "floor": "1",
        "door_type": "accordion",
        "facts": {"operation": "power", "fire_door": True, "means_of_egress": True},
    },
    "add_person": {
        "name": "Noor Vale",
        "email": "noor@lantern.example",
        "telephone": "+1 555 0100",
        "position": "Inspector",
        "receives_notices": True,
    },
    "add_site": {
        "reference": "HM-2",
        "name": "Harrow Mill South",
        "address": ["3 High Street", "Quillhaven"],
        "time_zone": "America/Chicago",
        "jurisdiction": "us-quillhaven",
    },
    "add_photo": {
        "sha256": NAMED["photo_sha256"],
        "caption": "The label on the leading edge",
        "taken_on": "2026-03-01",
    },
    "answer_submittal": {
        "state": "returned",
        "remarks": "Two openings of the third floor were not tested; say why, or test them.",
    },
    "assemble_submittal": {"site": NAMED["site"]},
    "change_me": {"address": ["1 High Street", "Quillhaven"], "language": "en"},
    "change_opening": {"location": "Lobby to atrium, north side", "rating_minutes": 90},
    "change_organization": {"name": "Harrow Mill Estates"},
    "change_person": {"position": "Lead inspector"},
    "change_role": {"role": "recorder"},
    "change_webhook": {"events": ["visit.recorded", "submittal.returned"], "state": "enabled"},
    "change_site": {"name": "Harrow Mill North"},
    "claim_organization": {"token": NAMED["claim_token"]},
    "draft_override": {
        "jurisdiction": "us-quillhaven",
        "title": "Quarterly operation test",
        "document": OVERRIDE,
    },
    "end_grant": {"ends_on": "2100-01-01"},
    "file_submittal": {"jurisdiction": "us-quillhaven"},
    "fit_battery": {
        "battery_type": "agm",
        "begins_on": "2026-01-01",
        "nominal_voltage": {"value": "24", "unit": "V"},
        "quantity": 2,
        "replace_by": "2029-01-01",
    },
    "fit_device": {
        "kind": "hold_open",
        "begins_on": "2026-01-01",
        "words": "Magnet on the wall",
        "reference": "FAP 2/14",
        "zone": "2-14",
    },
    "grant_leave": {
        "grantee": NAMED["stranger"],
        "site": NAMED["site"],
        "actions": ["record", "submit"],
        "begins_on": "2026-01-01",
        "reason": "Yearly inspection",
    },
    "invite": {"email": "ivo@mill.example", "role": "reader"},
    "issue_key": {
        "label": "Tablet 7",
        "scopes": ["openings:read", "visits:read", "visits:write"],
        "expires_at": "2100-01-01T00:00:00Z",
    },
    "make_owner": {
        "reference": "C-17",
        "name": "Wickett Mill",
        "address": ["3 Mill Race", "Quillhaven"],
    },
    "make_door_fail": {},
    "make_door_code": {"label": "On the strike, lobby side"},
    "set_sign_table": {"entries": [SIGN]},
    "make_sandbox": {"name": "Trial of our app", "place": "us"},
    "make_webhook": {
        "name": "Our scheduling system",
        "url": NAMED["webhook_url"],
        "events": ["visit.recorded", "deficiency.opened", "submittal.returned"],
    },
    "measure_trace": {
        "trace": {
            "kind": "stopwatch",
            "travel": {"value": "24", "unit": "ft"},
            "times": ["14.4", "14.5", "14.4"],
            "unit": "s",
        }
    },
    "offer_custody": {"buyer": NAMED["neighbour"], "begins_on": "2100-01-01"},
    "plan_duty": {"planned_on": "2100-03-01", "by": "Brass Lantern Inspections"},
    "place_site": {"jurisdictions": ["us-quillhaven"], "begins_on": "2100-01-01"},
    "record_facts": {"begins_on": "2026-01-01", "facts": {"occupant_load": 140}},
    "record_visit": _VISIT,
    "record_visits": {
        "sent_at": "2026-03-01T18:04:09-06:00",
        "visits": [_VISIT, _VISIT | {"client_ref": "tablet-7/2026-03-01/0013"}],
    },
    "remove_opening": {"removed_on": "2026-01-01", "reason": "The wall was taken down."},
    "replace_opening": {
        "removed_on": "2026-01-01",
        "reason": "Worn beyond repair",
        "opening": {
            "tag": "A-1",
            "location": "Lobby to atrium",
            "door_type": "accordion",
            "facts": {"operation": "power", "fire_door": True},
        },
    },
    "export": {"kind": "openings", "form": "csv", "site": NAMED["site"]},
    "import_table": {
        "kind": "openings",
        "source_sha256": NAMED["table_sha256"],
        "mapping": {"reference": "reference"},
        "values": {"door_type": {"Swing": "swinging"}},
        "site": NAMED["site"],
        "date_order": "mdy",
        "dry_run": True,
    },
    "withdraw_import": {"reason": "the wrong building's table"},
    "report_visit": {
        "opening": NAMED["opening"],
        "client_ref": "binder 2024, sheet 12",
        "activity": "periodic_inspection",
        "performed_on": "2024-05-03",
        "performed_by": "A former firm",
        "outcome": "no_fault_reported",
        "outcome_words": "Closed and latched; strike oiled.",
    },
    "set_reported_visit_policy": {"until": "2025-12-31"},
    "withdraw_photo": {"reason": "It shows another door."},
    "withdraw_reported_visit": {"reason": "Told twice"},
    "set_notice_policy": {
        "lead_days": [60, 30, 7],
        "holidays_of": {"country": "US", "subdivision": "MN"},
        "contacts": [{"person": NAMED["person"], "kinds": ["reminders", "failures"]}],
    },
    "set_site_notice_policy": {"overdue_days": [1, 4, 8], "acknowledge_minutes": 30},
    "set_reminders": {"stopped": ["before_due"]},
    "set_sandbox_clock": {"now": "2027-03-01T09:00:00-06:00"},
    "retag_opening": {"tag": "A-1-N"},
    "return_to_service": {"ends_on": "2026-01-01"},
    "take_out_battery": {"ends_on": "2026-01-01"},
    "take_out_device": {"ends_on": "2026-01-01"},
    "take_out_of_service": {
        "begins_on": "2021-01-01",
        "ends_on": "2021-02-01",
        "reason": "Works in the lobby",
    },
}


def add_examples(result: dict[str, Any], **_generator: object) -> dict[str, Any]:
    """Give each body its example (a hook of the generator)."""
    for operations in result["paths"].values():
        for operation in operations.values():
            example = EXAMPLES.get(operation["operationId"])
            for kind, content in operation.get("requestBody", {}).get("content", {}).items():
                if example is not None and kind.endswith("json"):
                    content["example"] = example
    return result
