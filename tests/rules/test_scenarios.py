"""Visits as the trade describes them, judged against the packaged requirements."""

from datetime import date
from typing import Any

import pytest

from rules.asking import requirements
from rules.judging import judge
from tests.rules.hand_made import reading

DAY = date(2026, 3, 1)
ACCORDION: dict[str, object] = {
    "door_type": "accordion",
    "operation": "power",
    "fire_door": True,
    "means_of_egress": True,
    "accessible_route": False,
    "installed_on": "2019-05-01",
    "occupant_load": 120,
}
ROLLING: dict[str, object] = {
    "door_type": "rolling",
    "operation": "manual",
    "fire_door": True,
    "means_of_egress": False,
    "installed_on": "2019-05-01",
}
EXPIRED = {"calibration_due_on": "2026-02-24"}


def judged(facts: dict[str, object], **findings: Any) -> dict[str, Any]:
    """The answer on a yearly visit in the United States."""
    held = requirements(facts=facts, jurisdiction="us", on=DAY)
    return judge(held, {"activity": "periodic_inspection", **findings})


def on(answer: dict[str, Any], requirement: str) -> dict[str, Any]:
    """The one binding verdict on a requirement, whatever edition it stands in."""
    (found,) = [v for v in answer["verdicts"] if v["requirement"].endswith(requirement)]
    return found


def test_2_yearly_visit_all_good() -> None:
    """24 ft in 14.4 s is 20.0 in/s; 22 and 11 lbf: each conforms, with its margin."""
    answer = judged(
        ACCORDION,
        readings=[
            reading("closing_speed", "20.0", "in/s"),
            reading("set_in_motion_force", "22", "lbf"),
            reading("opening_force", "11", "lbf"),
        ],
    )
    for requirement, margin in (
        ("sliding-door-course/closing-speed", "4"),
        ("ibc-2018/special-purpose/set-in-motion", "8"),
        ("ibc-2018/special-purpose/open-to-width", "4"),
    ):
        verdict = on(answer, requirement)
        assert (verdict["verdict"], verdict["margin"]["value"]) == ("conforms", margin)
    assert answer["summary"]["complete"] is False  # the checks and sequences were left out


def test_4_fails_the_obstruction() -> None:
    """A door that does not resume fails by the inspector's finding, though no number stands."""
    steps = [{"step": s, "seen": s != "resumes"} for s in ("stops", "pauses", "resumes")]
    sent = {"sequence": "obstruction", "result": "does_not_conform", "steps": steps}
    answer = judged(ACCORDION, sequences=[{**sent, "remarks": "stays where it was stopped"}])
    assert on(answer, "operation/obstruction")["verdict"] == "does_not_conform"
    assert answer["summary"]["verdict"] == "does_not_conform"


def test_10_one_drop_of_two() -> None:
    """A rolling door with one drop recorded is incomplete, not passed."""
    steps = [{"step": "first-drop-closes", "seen": True}, {"step": "reset", "seen": True}]
    sent = {"sequence": "drop-test", "result": "conforms", "steps": steps}
    answer = judged(ROLLING, sequences=[sent])
    verdict = on(answer, "operation/drop-test")
    assert (verdict["verdict"], verdict["reason"]) == (
        "not_tested",
        "step_not_recorded: second-drop-closes",
    )
    assert answer["summary"]["complete"] is False


def test_lateral_load_left_to_the_acceptance_test() -> None:
    """What may stay untested in a yearly visit is not tested, with its reason, and never a pass;
    without a reason it leaves the visit incomplete.
    """
    stated = {
        "quantity": "lateral_load_opening_force",
        "result": "not_tested",
        "reason": "no rig for 250 lbf on site",
    }
    verdict = on(judged(ACCORDION, readings=[stated]), "special-purpose/lateral-load")
    assert (verdict["verdict"], verdict["reason"]) == ("not_tested", "stated")
    assert "no rig" in verdict["message"]


@pytest.mark.parametrize(
    ("value", "unit", "instrument", "word", "margin"),
    [
        ("15.0", "lbf", None, "conforms", "0"),
        ("66.9", "N", None, "does_not_conform", "-0.039718"),
        ("6.8", "kgf", None, "conforms", "0.008566"),
        ("15.0", "lbf", EXPIRED, "inconclusive", "0"),
        ("66.9", "N", EXPIRED, "does_not_conform", "-0.039718"),
        ("6.8", "kgf", EXPIRED, "inconclusive", "0.008566"),
    ],
)
def test_a24_at_the_limit_in_other_units_with_an_expired_gauge(
    value: str, unit: str, instrument: dict[str, str] | None, word: str, margin: str
) -> None:
    """The published unit decides; a gauge whose calibration ran out five days before takes every
    would-be conformity back, and fails no door by itself.
    """
    sent = reading("opening_force", value, unit)
    if instrument:
        sent["instrument"] = instrument
    verdict = on(judged(ACCORDION, readings=[sent]), "ibc-2018/special-purpose/open-to-width")
    assert (verdict["verdict"], verdict["margin"]["value"]) == (word, margin)
    flagged = "calibration_expired" in {note["code"] for note in verdict["notes"]}
    assert flagged == (instrument is not None)


def test_a24_stopwatch_at_the_upper_end() -> None:
    """24 ft in 12.0 s is 24.0 in/s with U = 0.4 in/s: at the limit it conforms, conditionally."""
    sent = reading("closing_speed", "24.0", "in/s", uncertainty="0.4")
    verdict = on(judged(ACCORDION, readings=[sent]), "sliding-door-course/closing-speed")
    assert (verdict["verdict"], verdict["band"]) == ("conforms", "conditional")
    assert verdict["probability_of_conformity"] == "0.50000"


def test_unknown_installation_day_never_passes() -> None:
    """Without the day of installation nobody can tell which edition governs: the limits are
    listed and inconclusive, whatever was measured.
    """
    facts = {name: fact for name, fact in ACCORDION.items() if name != "installed_on"}
    answer = judged(facts, readings=[reading("set_in_motion_force", "22", "lbf")])
    found = [v for v in answer["verdicts"] if v.get("quantity") == "set_in_motion_force"]
    assert found
    assert {v["verdict"] for v in found} == {"inconclusive"}
    assert all("installed_on" in v["reason"] for v in found)
    assert "installed_on" in answer["summary"]["missing_facts"]
