"""What happens from a failure until the door is right again, each with the state it leaves."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest

from rules.intervals import add, parse_period
from tests.cast import ZONE, findings
from tests.journeys.field import OVERDUE

if TYPE_CHECKING:
    from tests.journeys.field import Field

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres, pytest.mark.redis]

PERIODIC = "periodic_inspection"
YEARLY = "nfpa-80-2013/inspection/yearly"
RETEST = "nfpa-80-2013/inspection/after-maintenance"
OBSTRUCTION = "sequence:obstruction"
FAILED = ("test_failed", "Ada Quist", "sent")


def ago(**how_long: int) -> datetime:
    """A moment of the past, to the second."""
    return datetime.now(UTC).replace(microsecond=0) - timedelta(**how_long)


def due_again() -> str:
    """The day by which the inspection of three hours ago must be repeated."""
    return add(ago(hours=3).astimezone(ZoneInfo(ZONE)).date(), parse_period("P1Y")).isoformat()


def drove_on(field: Field) -> dict[str, Any]:
    """The visit at which the door did not go on after an obstruction, and its deficiency."""
    opening = field.cast.opening.id
    sheet = field.conforming(opening)
    (seen,) = [s for s in sheet["sequences"] if s["sequence"] == "obstruction"]
    seen["steps"] = [step | {"seen": step["step"] != "resumes"} for step in seen["steps"]]
    seen["result"] = "does_not_conform"
    visit = field.visit(opening, sheet, at=ago(hours=3))
    (found,) = visit["found"]
    return field.owner.get(f"/v1/deficiencies/{found['id']}")


def shown(sheet: dict[str, Any], *names: str) -> dict[str, Any]:
    """A sheet with these sequences alone."""
    kept = [s for s in sheet["sequences"] if s["sequence"] in names]
    return findings(sequences=kept)


def test_a_door_that_does_not_go_on_after_an_obstruction(field: Field) -> None:
    """It fails at once, whatever numbers are not known; the owner is told, its own policy says how
    urgent that is and by when, and nothing guards the opening until somebody sees to it.
    """
    opening = field.cast.opening.id
    policy = {
        "classes": [{"name": "same day", "words": "Nobody is hurt.", "within": "P1D"}],
        "rules": [{"protects": "people", "class": "same day"}],
    }
    field.owner.put("/v1/deficiency-policy", policy)
    before = field.begun(opening)
    wrong = drove_on(field)
    assert (wrong["class"], wrong["protects"], wrong["guarded"]) == ("same day", "people", False)
    day = datetime.fromisoformat(wrong["opened_at"]).date()
    assert wrong["due_on"] in {(day + timedelta(days=n)).isoformat() for n in (0, 1)}
    assert field.state(opening) == before | {
        "visits": [(PERIODIC, "does_not_conform", True, False)],
        "wanting": [{"obstruction": "does_not_conform"}],
        "duties": before["duties"] | {YEARLY: ("upcoming", due_again())},
        "deficiencies": [(OBSTRUCTION, "open", False)],
        "notices": [OVERDUE, FAILED],
        "ledger": [*before["ledger"], "visit_recorded", "deficiency_open"],
    }


def test_a_way_out_is_not_held_shut_meanwhile(field: Field) -> None:
    """Secured shut is refused with its reason; kept closed and opening to a push is the right
    place of a fire door, guards it until its end, and the owner is told before it runs out.
    """
    opening = field.cast.opening.id
    before = field.begun(opening)
    at = f"/v1/deficiencies/{drove_on(field)['id']}/interim-measures"
    measure = {
        "kind": "secured_shut",
        "words": "until the firm has come",
        "responsible": "Ada Quist",
        "begins_at": ago(hours=2).isoformat(),
        "ends_at": (ago(hours=0) + timedelta(hours=20)).isoformat(),
    }
    refused = field.owner.post(at, measure, expect=422)
    assert refused["errors"][0]["pointer"] == "/kind"
    assert refused["detail"] == "A door in a means of egress may not be secured shut."
    kept = field.owner.post(at, measure | {"kind": "closed_and_openable"})
    assert (kept["guarded"], kept["interim_measures"][0]["without_end"]) == (True, False)
    assert field.state(opening) == before | {
        "visits": [(PERIODIC, "does_not_conform", True, False)],
        "wanting": [{"obstruction": "does_not_conform"}],
        "duties": before["duties"] | {YEARLY: ("upcoming", due_again())},
        "deficiencies": [(OBSTRUCTION, "open", True)],
        "notices": [("interim_measure_expiring", "Ada Quist", "sent"), OVERDUE, FAILED],
        "ledger": [
            *before["ledger"],
            "visit_recorded",
            "deficiency_open",
            "interim_measure_recorded",
        ],
    }


def test_a_retest_of_the_failed_thing_alone_proves_no_repair(field: Field) -> None:
    """The controller was replaced: every sequence that hangs on it is shown again, and the answer
    lists what is missing until it has been.
    """
    opening = field.cast.opening.id
    before = field.begun(opening)
    wrong = drove_on(field)
    mended = {
        "done_at": ago(hours=2).isoformat(),
        "done_by": "Ivo Lund",
        "words": "controller replaced",
        "parts": [{"part": "controller", "listed_basis": "listed for this door"}],
    }
    field.firm.post(f"/v1/deficiencies/{wrong['id']}/repairs", mended)
    sheet = field.conforming(opening)
    field.visit(opening, shown(sheet, "obstruction"), activity="repair_retest", at=ago(hours=1))
    assert field.begun(opening)["deficiencies"] == [(OBSTRUCTION, "repaired", False)]
    open_still = field.owner.get(f"/v1/deficiencies/{wrong['id']}")
    assert {m["what"] for m in open_still["retest_missing"]} == {
        "sequence:closes-on-signal",
        "sequence:egress-in-fire-mode",
    }
    rest = shown(sheet, "closes-on-signal", "egress-in-fire-mode", "obstruction")
    field.visit(opening, rest, activity="repair_retest", at=ago(minutes=30))
    proven = field.owner.get(f"/v1/deficiencies/{wrong['id']}")
    assert (proven["retest_missing"], proven["same_firm"]) == ([], True)
    assert field.state(opening) == before | {
        "visits": [
            (PERIODIC, "does_not_conform", True, False),
            *[("repair_retest", "conforms", True, False)] * 2,
        ],
        "wanting": [{"obstruction": "does_not_conform"}, {}, {}],
        "duties": before["duties"]
        | {
            YEARLY: ("upcoming", due_again()),
            RETEST: ("ended", ago(hours=2).astimezone(ZoneInfo(ZONE)).date().isoformat()),
        },
        "deficiencies": [(OBSTRUCTION, "proven", False)],
        "notices": [OVERDUE, ("repair_proven", "Ada Quist", "sent"), FAILED],
        "ledger": [
            *before["ledger"],
            "visit_recorded",
            "deficiency_open",
            "repair_recorded",
            "visit_recorded",
            "visit_recorded",
            "deficiency_proven",
        ],
    }
