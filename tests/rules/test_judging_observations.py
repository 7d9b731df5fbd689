"""Looked-at items, observed sequences with their timed limits, and permissions."""

from typing import Any

import pytest

from rules.errors import InputError
from rules.judging import judge
from rules.model import SequenceSpec
from tests.rules.hand_made import (
    at_most,
    check,
    found,
    per_door,
    permission,
    resolved,
    sequence,
    the_set,
)

DELAY = at_most("start_delay", "10 s")


def of_check(*findings: dict[str, Any]) -> dict[str, Any]:
    """The verdict on the check `label`."""
    sent = [{"check": "label", **finding} for finding in findings]
    (only,) = judge(the_set(check("label")), found(checks=sent))["verdicts"]
    return only


def of_sequence(spec: SequenceSpec, *findings: dict[str, Any]) -> dict[str, Any]:
    """The verdict on that sequence."""
    sent = [{"sequence": spec.sequence, **finding} for finding in findings]
    (only,) = judge(the_set(spec), found(sequences=sent))["verdicts"]
    return only


def seen(*steps: str, unseen: tuple[str, ...] = ()) -> list[dict[str, Any]]:
    """Steps as they are sent."""
    return [{"step": s, "seen": True} for s in steps] + [{"step": s, "seen": False} for s in unseen]


def time(quantity: str, value: str, **more: Any) -> dict[str, Any]:
    """A timed part of a sequence as it is sent, in seconds."""
    return {"quantity": quantity, "value": value, "unit": "s", **more}


@pytest.mark.parametrize(
    ("finding", "word", "says"),
    [
        ({"result": "conforms"}, "conforms", "as it should be"),
        ({"result": "does_not_conform", "remarks": "painted over"}, "does_not_conform", "painted"),
        ({"result": "does_not_conform"}, "does_not_conform", "by the inspector"),
        ({"result": "not_tested", "reason": "behind a rack"}, "not_tested", "behind a rack"),
        ({"result": "not_applicable", "reason": "no label due"}, "not_applicable", "no label due"),
    ],
)
def test_check(finding: dict[str, Any], word: str, says: str) -> None:
    """A check says what the person found, in their words, and keeps what was sent."""
    answer = of_check(finding)
    assert answer["verdict"] == word
    assert says in answer["message"]
    assert answer["finding"] == {"index": 0, "check": "label", **finding}


def test_worst_of_two_runs_governs() -> None:
    """A sequence that went well once and then did not does not conform."""
    held = the_set(sequence("drop", "closes"))
    results = ({"result": "conforms", "steps": seen("closes")}, {"result": "does_not_conform"})
    sent = [{"sequence": "drop", **one} for one in results]
    (verdict,) = judge(held, found(sequences=sent))["verdicts"]
    assert (verdict["verdict"], verdict["finding"]["index"]) == ("does_not_conform", 1)
    assert [note["code"] for note in verdict["notes"]] == ["several_findings"]


def test_one_check_has_one_result_in_one_visit() -> None:
    """Said twice alike it stands; said twice otherwise both places are named."""
    answer = of_check({"result": "conforms"}, {"result": "conforms"})
    assert [note["code"] for note in answer["notes"]] == ["several_findings"]
    with pytest.raises(InputError) as caught:
        of_check({"result": "conforms"}, {"result": "conforms"}, {"result": "does_not_conform"})
    told = {problem.pointer: problem for problem in caught.value.problems}
    assert set(told) == {"/checks/0/result", "/checks/2/result"}
    assert {problem.code for problem in told.values()} == {"contradiction"}
    assert "/checks/2/result" in told["/checks/0/result"].message


def test_sequence_conforms_when_all_is_seen_in_time() -> None:
    """Every step seen and every time inside its limit, the limit itself included."""
    spec = sequence("signal_closes", "starts", "closes", times=(DELAY,))
    finding = {"result": "conforms", "steps": seen("starts", "closes")}
    answer = of_sequence(spec, {**finding, "times": [time("start_delay", "10")]})
    assert answer["verdict"] == "conforms"
    assert [(t["quantity"], t["verdict"], t["margin"]["value"]) for t in answer["times"]] == [
        ("start_delay", "conforms", "0")
    ]


@pytest.mark.parametrize(
    ("steps", "times", "word", "reason"),
    [
        (seen("starts"), ["3"], "not_tested", "step_not_recorded: closes"),
        (seen("starts", unseen=("closes",)), ["3"], "does_not_conform", "step_not_seen: closes"),
        (seen("starts", "closes"), [], "not_tested", "time_not_recorded: start_delay"),
        (seen("starts", "closes"), ["10.1"], "does_not_conform", "time_limit: start_delay"),
        (seen("starts", "closes"), ["3", "10.1"], "does_not_conform", "time_limit: start_delay"),
        (seen("starts"), ["10.1"], "does_not_conform", "time_limit: start_delay"),
        ([], [], "not_tested", "step_not_recorded: starts"),
    ],
)
def test_what_is_not_recorded_never_passes(
    steps: list[dict[str, Any]], times: list[str], word: str, reason: str
) -> None:
    """Said to conform, yet a step or a time is missing, unseen or late: it does not conform, or
    was not tested.
    """
    spec = sequence("signal_closes", "starts", "closes", times=(DELAY,))
    timed = [time("start_delay", value) for value in times]
    answer = of_sequence(spec, {"result": "conforms", "steps": steps, "times": timed})
    assert (answer["verdict"], answer["reason"]) == (word, reason)


def test_second_drop_missing() -> None:
    """A rolling door dropped once has not passed its drop test, which takes two drops."""
    spec = sequence("drop_test", "closes", "resets", "closes_again")
    answer = of_sequence(spec, {"result": "conforms", "steps": seen("closes", "resets")})
    assert (answer["verdict"], answer["reason"]) == (
        "not_tested",
        "step_not_recorded: closes_again",
    )


def test_untestable_battery_threshold() -> None:
    """Not tested with a reason is accepted as not tested, never as a pass; where the requirement
    allows it, the visit is complete all the same.
    """
    spec = sequence("low_battery", "trouble", "closes")
    sent = [{"sequence": "low_battery", "result": "not_tested", "reason": "no safe method"}]
    for untested in (False, True):
        held = the_set(resolved(spec, untested=untested))
        answer = judge(held, found(sequences=sent))
        assert answer["verdicts"][0]["verdict"] == "not_tested"
        assert answer["summary"]["verdict"] == "not_tested"
        assert answer["summary"]["complete"] is untested


def test_obstruction_without_instructions() -> None:
    """A door that resumes is inconclusive while its pause has no number on file; one that never
    resumes fails by the inspector's finding.
    """
    spec = sequence("obstruct", "stops", "resumes", times=(per_door("pause_time"),))
    finding = {"steps": seen("stops", "resumes"), "times": [time("pause_time", "2")]}
    resumes = of_sequence(spec, {"result": "conforms", **finding})
    assert (resumes["verdict"], resumes["reason"]) == ("inconclusive", "no_instructions")
    stuck = of_sequence(spec, {"result": "does_not_conform", "remarks": "drives on", **finding})
    assert stuck["verdict"] == "does_not_conform"


def test_gap_in_the_record_outweighs_missing_instructions() -> None:
    """A step not recorded is not tested even where a number is missing too: somebody must look."""
    spec = sequence("obstruct", "stops", "resumes", times=(per_door("pause_time"),))
    answer = of_sequence(spec, {"result": "conforms", "steps": seen("stops")})
    assert (answer["verdict"], answer["reason"]) == ("not_tested", "step_not_recorded: resumes")


def test_expired_stopwatch() -> None:
    """The instrument rule holds for timed parts too."""
    spec = sequence("signal_closes", "closes", times=(DELAY,))
    watch = {"calibration_due_on": "2025-12-31"}
    for value, word in (("3", "inconclusive"), ("11", "does_not_conform")):
        timed = [time("start_delay", value, instrument=watch)]
        finding = {"result": "conforms", "steps": seen("closes"), "times": timed}
        assert of_sequence(spec, finding)["verdict"] == word


@pytest.mark.parametrize(("uncertainty", "band"), [("1", "clear"), ("2.1", "conditional")])
def test_band_of_a_sequence(uncertainty: str, band: str) -> None:
    """The band of a sequence is that of its times."""
    spec = sequence("signal_closes", "closes", times=(DELAY,))
    timed = [time("start_delay", "8", uncertainty=uncertainty)]
    answer = of_sequence(spec, {"result": "conforms", "steps": seen("closes"), "times": timed})
    assert (answer["verdict"], answer["band"]) == ("conforms", band)


@pytest.mark.parametrize(
    ("facts", "word", "reason"),
    [
        ({"occupancy_group": "B"}, "conforms", None),
        ({"occupancy_group": "H"}, "does_not_conform", None),
        ({}, "inconclusive", "fact_missing: occupancy_group"),
    ],
)
def test_permission(facts: dict[str, object], word: str, reason: str | None) -> None:
    """Whether a door may stand here is judged on the facts, whatever was found or asked for."""
    held = the_set(resolved(permission("occupancy_group", "B"), required=False), **facts)
    (answer,) = judge(held, found())["verdicts"]
    assert (answer["verdict"], answer["reason"]) == (word, reason)
