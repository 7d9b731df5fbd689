"""Examples of the bodies about what is wrong and what is done about it."""

from __future__ import annotations

from typing import Any

from config.http.named import NAMED

DEFICIENCIES: dict[str, dict[str, Any]] = {
    "assign_deficiency": {"person": "Ivo Lund", "until": "2026-04-01"},
    "end_interim_measure": {"stopped_at": NAMED["lately"], "because": "The door is mended."},
    "group_deficiencies": {
        "title": "Followers of one delivery",
        "words": "All were fitted in the same week.",
        "deficiencies": [NAMED["deficiency"]],
    },
    "record_interim_measure": {
        "kind": "attendant",
        "words": "Somebody stands at the door while the building is open.",
        "responsible": "Ada Quist",
        "begins_at": "2026-03-01T10:00:00-06:00",
    },
    "record_repair": {
        "done_at": NAMED["lately"],
        "done_by": "Ivo Lund",
        "words": "Track cleaned, follower replaced.",
        "licence": "R-2211",
        "parts": [{"words": "follower", "listed_basis": "by the door's own listing"}],
    },
    "report_deficiency": {
        "opening": NAMED["opening"],
        "title": "Pocket used for storage",
        "words": "Boxes stand in the pocket; the door would not fold into it.",
        "protects": "closing",
        "found_at": NAMED["lately"],
        "person": "Ada Quist",
    },
    "set_deficiency_policy": {
        "classes": [
            {"name": "at once", "words": "People are in danger.", "within": "P1D"},
            {"name": "soon", "within": "P1M"},
            {"name": "with the next works"},
        ],
        "rules": [
            {"protects": "egress", "class": "at once"},
            {"subject": "sequence:obstruction", "class": "at once"},
            {"protects": "closing", "door_type": "accordion", "class": "soon"},
            {"class": "with the next works"},
        ],
        "warn_before": "PT24H",
    },
    "withdraw_deficiency": {"reason": "Written down for the wrong door."},
}
