"""What happens at doors, from end to end: each story with the complete state it leaves."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import pytest

from rules.intervals import add, parse_period
from tests.cast import FACTS, today
from tests.journeys.field import OVERDUE, told_of

if TYPE_CHECKING:
    from tests.journeys.field import Field

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres, pytest.mark.redis]

PERIODIC = "periodic_inspection"
YEARLY = "nfpa-80-2013/inspection/yearly"
LOW_BATTERY = "common-practice/low-battery"


def a_year_on(day: date) -> str:
    """The same day of the next year, in words of a duty."""
    return add(day, parse_period("P1Y")).isoformat()


def test_an_operation_test_by_maintenance_leaves_the_years_clock(field: Field) -> None:
    """The short test of the building's own people is accepted and moves no annual duty."""
    opening = field.cast.opening.id
    before = field.begun(opening)
    short = field.conforming(opening, "operation_test")
    field.visit(opening, short, by=field.owner, activity="operation_test")
    after = field.state(opening)
    assert before["duties"] != {}
    assert after == before | {
        "visits": [("operation_test", "conforms", True, False)],
        "wanting": [{}],
        "notices": [OVERDUE] * 2,
        "ledger": [*before["ledger"], "visit_recorded"],
    }


def test_a_years_inspection_in_which_all_is_well(field: Field) -> None:
    """A full sheet, 24 ft in 14.4 s by the stopwatch, 22 and 11 lbf: every margin is said, and the
    next inspection is due in a year.
    """
    opening = field.cast.opening.id
    before = field.begun(opening)
    sheet = field.conforming(opening, set_in_motion_force="22", opening_force="11")
    sheet["readings"] = [r for r in sheet["readings"] if r["quantity"] != "closing_speed"]
    run = {"kind": "stopwatch", "travel": {"value": "24", "unit": "ft"}}
    visit = field.visit(opening, sheet | {"traces": [run | {"times": ["14.4"], "unit": "s"}]})
    speed = told_of(visit, "closing_speed")  # 288 in / 14.4 s, worked by hand
    assert (speed["verdict"], speed["reading"]["value"], speed["reading"]["unit"]) == (
        "conforms",
        "20",
        "in/s",
    )
    margins = {
        v["quantity"]: (v["margin"]["value"], v["margin"]["unit"])
        for v in visit["judgement"]["verdicts"]
        if v["kind"] == "limit" and v["required"]
    }
    assert margins == {
        "clear_width": ("0", "in"),
        "closing_force": ("0", "lbf"),
        "closing_speed": ("4", "in/s"),
        "lateral_load_opening_force": ("0", "lbf"),
        "opening_force": ("4", "lbf"),
        "opening_time_to_width": ("0", "s"),
        "set_in_motion_force": ("8", "lbf"),
    }
    assert field.state(opening) == before | {
        "visits": [(PERIODIC, "conforms", True, False)],
        "wanting": [{}],
        "duties": before["duties"] | {YEARLY: ("upcoming", a_year_on(today()))},
        "notices": [OVERDUE],
        "ledger": [*before["ledger"], "visit_recorded"],
    }


def test_one_drop_of_a_rolling_door_is_no_drop_test(field: Field) -> None:
    """The first drop closes, the second is not recorded: incomplete, no pass and no failure, and
    the inspection stays owed.
    """
    body = {
        "site": str(field.cast.site.id),
        "tag": "R-1",
        "location": "Dock",
        "door_type": "rolling",
        "facts": FACTS | {"means_of_egress": False},
        "in_place_since": "2020-01-01",
    }
    opening = field.owner.post("/v1/openings", body)["id"]
    before = field.begun(opening)
    sheet = field.conforming(opening)
    (drops,) = [s for s in sheet["sequences"] if s["sequence"] == "drop-test"]
    drops["steps"] = [s for s in drops["steps"] if s["step"] == "first-drop-closes"]
    visit = field.visit(opening, sheet)
    assert told_of(visit, "drop-test")["reason"] == "step_not_recorded: reset"
    assert field.state(opening) == before | {
        "visits": [(PERIODIC, "not_tested", False, False)],
        "wanting": [{"drop-test": "not_tested"}],
        "notices": [OVERDUE] * 2,
        "ledger": [*before["ledger"], "visit_recorded"],
    }


def test_a_battery_threshold_that_cannot_be_tested_safely(field: Field) -> None:
    """Not tested, with the reason, is accepted and is no pass; the year's clock moves, and whoever
    reviews the packet finds it among the exceptions.
    """
    opening = field.cast.opening.id
    told = {"target": LOW_BATTERY, "citation": {"publication": "Instructions", "edition": "C"}}
    instructions = {"begins_on": "2020-01-01", "facts": {}, "listed_instructions": [told]}
    field.owner.post(f"/v1/openings/{opening}/facts", instructions)
    before = field.begun(opening)
    sheet = field.conforming(opening)
    why = "no safe method is at hand to lower the voltage"
    untested = {"sequence": "low-battery", "result": "not_tested", "reason": why}
    visit = field.visit(opening, sheet | {"sequences": [*sheet["sequences"], untested]})
    verdict = told_of(visit, "low-battery")
    assert (verdict["verdict"], verdict["reason"]) == ("not_tested", "stated")
    assert why in verdict["message"]
    assert field.state(opening) == before | {
        "visits": [(PERIODIC, "not_tested", True, False)],
        "wanting": [{"low-battery": "not_tested"}],
        "duties": before["duties"] | {YEARLY: ("upcoming", a_year_on(today()))},
        "notices": [OVERDUE],
        "ledger": [*before["ledger"], "visit_recorded"],
    }
    assert field.assembled()["counts"]["exceptions"] == ["not tested: 1", "overdue: 1"]


def test_at_the_limit_in_mixed_units_with_a_gauge_out_of_date(field: Field) -> None:
    """15.0 lbf and 24.0 in/s are at their limits and inside; 66.9 N is 15.04 lbf and outside in
    the published unit; 6.8 kgf is inside. The gauge's calibration ended five days ago: what would
    conform cannot be told, and nothing fails because of the gauge.
    """
    opening = field.cast.opening.id
    before = field.begun(opening)
    ended = (today() - timedelta(days=5)).isoformat()
    sheet = field.conforming(opening)
    forces = {
        "closing_force": ("15.0", "lbf"),
        "opening_force": ("6.8", "kgf"),
        "lateral_load_opening_force": ("66.9", "N"),
    }
    kept = [r for r in sheet["readings"] if r["quantity"] not in {*forces, "closing_speed"}]
    by_gauge = [
        {"quantity": q, "value": v, "unit": u, "instrument": "G"} for q, (v, u) in forces.items()
    ]
    run = {"kind": "stopwatch", "travel": {"value": "24", "unit": "ft"}}
    sent = sheet | {
        "instruments": [{"ref": "G", "kind": "force gauge", "calibration_due_on": ended}],
        "readings": [*kept, *by_gauge],
        "traces": [run | {"times": ["12.0"], "unit": "s"}],
    }
    visit = field.visit(opening, sent)
    said = {
        q: (v["verdict"], v["reason"], v["band"], v["margin"]["value"], _noted(v))
        for q in [*forces, "closing_speed"]
        for v in [told_of(visit, q)]
    }
    expired = {"calibration_expired"}
    assert said == {
        "closing_force": ("inconclusive", *expired, None, "0", expired),
        "opening_force": ("inconclusive", *expired, None, "0.008566", expired),
        "lateral_load_opening_force": (
            "does_not_conform",
            None,
            None,
            "-0.039718",  # 66.9 N / 4.4482216152605 N = 15.039718 lbf
            {*expired, "inside_printed_si_only"},
        ),
        "closing_speed": ("conforms", None, "conditional", "0", set()),
    }
    beyond = told_of(visit, "lateral_load_opening_force")["message"]
    assert field.state(opening) == before | {
        "visits": [(PERIODIC, "does_not_conform", True, False)],
        "wanting": [
            {
                "closing_force": "inconclusive",
                "lateral_load_opening_force": "does_not_conform",
                "opening_force": "inconclusive",
            }
        ],
        "duties": before["duties"] | {YEARLY: ("upcoming", a_year_on(today()))},
        "deficiencies": [("quantity:lateral_load_opening_force", "open", False)],
        "notices": [OVERDUE, ("test_failed", "Ada Quist", "sent")],
        "ledger": [*before["ledger"], "visit_recorded", "deficiency_open"],
    }
    assert beyond.startswith("66.9 N (15.039718 lbf) is outside the limit of at most 15 lbf")


def _noted(verdict: dict[str, Any]) -> set[str]:
    """What a verdict remarks on the reading itself, not on how often it was taken."""
    return {note["code"] for note in verdict["notes"]} - {"fewer_repeats"}
