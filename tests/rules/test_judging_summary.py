"""What the verdicts of a visit come to."""

import json
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.judging import compiling, judge
from rules.model import RequirementSet
from tests.rules.hand_made import (
    at_most,
    check,
    found,
    per_door,
    permission,
    reading,
    resolved,
    sequence,
    the_set,
)

FORCE = at_most("opening_force", "15 lbf")
PASS = reading("opening_force", "14", "lbf")
FAIL = reading("opening_force", "16", "lbf")


def summary(held: RequirementSet, findings: dict[str, Any]) -> dict[str, Any]:
    """The summary of the answer."""
    return judge(held, findings)["summary"]


@pytest.mark.parametrize(
    ("readings", "checks", "word"),
    [
        ([PASS], ["conforms"], "conforms"),
        ([PASS], ["not_applicable"], "not_tested"),  # the facts say that it applies
        ([PASS], [], "not_tested"),
        ([], ["conforms"], "not_tested"),
        ([FAIL], [], "does_not_conform"),
        ([PASS], ["does_not_conform"], "does_not_conform"),
        ([], [], "not_tested"),
    ],
)
def test_worst_verdict_is_the_summary(
    readings: list[dict[str, Any]], checks: list[str], word: str
) -> None:
    """Failure over doubt over silence over conformity; silence never passes."""
    sent = [{"check": "label", "result": result, "reason": "x"} for result in checks]
    assert summary(the_set(FORCE, check("label")), found(*readings, checks=sent))["verdict"] == word


def test_inconclusive_is_worse_than_untested() -> None:
    """A number that cannot be judged weighs more than one that was not taken."""
    held = the_set(per_door("pause_time"), check("label"))
    assert summary(held, found(reading("pause_time", "2", "s")))["verdict"] == "inconclusive"


def test_all_not_applicable_is_no_pass() -> None:
    """A visit of nothing but "does not apply" conforms to nothing."""
    sent = [{"check": "label", "result": "not_applicable", "reason": "x"}]
    answer = summary(the_set(check("label")), found(checks=sent))
    assert (answer["verdict"], answer["complete"]) == ("not_tested", False)
    assert len(answer["untested"]) == 1
    assert answer["counts"]["not_applicable"] == 1


def test_nothing_applies() -> None:
    """Where no requirement binds, nothing was tested."""
    assert summary(the_set(), found(PASS))["verdict"] == "not_tested"


def test_counts_and_untested() -> None:
    """Every binding verdict is counted once; the untested are named."""
    held = the_set(FORCE, check("label"), check("sign"), permission("door_type", "accordion"))
    answer = summary(held, found(PASS, checks=[{"check": "label", "result": "does_not_conform"}]))
    assert answer["counts"] == {
        "conforms": 1,
        "does_not_conform": 1,
        "inconclusive": 1,
        "not_tested": 1,
        "not_applicable": 0,
    }
    assert answer["untested"] == ["invented/sign"]
    assert answer["complete"] is False


@pytest.mark.parametrize(
    ("readings", "checks", "says"),
    [
        ([FAIL], ["conforms"], "The opening does not conform to 1 of the 2 requirements tested."),
        ([PASS], ["conforms"], "The opening conforms to the requirements tested (2)."),
        ([PASS], [], "Not tested as a whole; 1 requirement was tested; 1 not tested."),
        (
            [reading("opening_force", "14", "lbf", instrument={"resolution": "2"})],
            [],
            (
                "Cannot be judged as a whole; 0 requirements were tested; "
                "1 inconclusive, 1 not tested."
            ),
        ),
        (
            [reading("opening_force", "14", "lbf", uncertainty="2")],
            ["conforms"],
            (
                "The opening conforms to the requirements tested (2); "
                "1 within the uncertainty of the limit."
            ),
        ),
    ],
)
def test_the_sentence_counts_what_was_tested(
    readings: list[dict[str, Any]], checks: list[str], says: str
) -> None:
    """How many were tested, how many failed, and what stays open."""
    sent = [{"check": "label", "result": result} for result in checks]
    assert summary(the_set(FORCE, check("label")), found(*readings, checks=sent))["says"] == says


@given(
    value=st.sampled_from([None, "14", "15", "16"]),
    uncertainty=st.sampled_from([None, "2"]),
    checks=st.lists(
        st.sampled_from(["conforms", "does_not_conform", "not_tested", "not_applicable"]),
        max_size=1,
    ),
    permitted=st.sampled_from(["accordion", "rolling", None]),
    unsupplied=st.booleans(),
    rule=st.sampled_from(["simple", "guarded"]),
)
def test_the_sentence_and_the_counts_count_alike(
    *,
    value: str | None,
    uncertainty: str | None,
    checks: list[str],
    permitted: str | None,
    unsupplied: bool,
    rule: str,
) -> None:
    """Whatever was found, the numbers in the sentence are those in `counts`."""
    facts = {"door_type": permitted} if permitted else {}
    more = [per_door("pause_time")] if unsupplied else []
    held = the_set(FORCE, check("label"), permission("door_type", "accordion"), *more, **facts)
    extra = {"uncertainty": uncertainty} if uncertainty else {}
    readings = [reading("opening_force", value, "lbf", **extra)] if value else []
    sent = [{"check": "label", "result": result, "reason": "x"} for result in checks]
    answer = summary(held, found(*readings, checks=sent, decision_rule=rule))
    counts, says = answer["counts"], answer["says"]
    tested, failed = counts["conforms"] + counts["does_not_conform"], counts["does_not_conform"]
    if failed:
        of_all = "the 1 requirement" if tested == 1 else f"{failed} of the {tested} requirements"
        assert f"does not conform to {of_all} tested" in says
    elif answer["verdict"] == "conforms":
        assert f"conforms to the requirements tested ({tested})" in says
    else:
        was = "requirement was" if tested == 1 else "requirements were"
        assert f"; {tested} {was} tested" in says
    told = {
        "of these by the facts of the opening alone": int(permitted is not None),
        "inconclusive": counts["inconclusive"],
        "not tested": counts["not_tested"],
        "within the uncertainty of the limit": answer["conditional"],
    }
    for words, count in told.items():
        assert (f"{count} {words}" in says) is bool(count)


def test_a_visit_of_nothing_required_is_complete_once_something_was_looked_at() -> None:
    """Where the activity asks for nothing, one finding makes a visit, and none makes none."""
    held = the_set(resolved(FORCE, required=False), resolved(per_door("gap"), required=False))
    assert summary(held, found(PASS))["complete"] is True
    silent = judge(held, found())
    assert silent["summary"]["complete"] is False
    assert silent["verdicts"] == []
    assert silent["summary"]["not_asked"] == ["invented/gap", "invented/opening_force"]
    usual = the_set(resolved(check("label"), required=False, advisory=True))
    assert summary(usual, found())["not_asked"] == []


def test_a_course_with_a_gap_in_its_record_leaves_the_visit_incomplete() -> None:
    """A step or a time left out is not looked at, whatever else was seen of the sequence."""
    held = the_set(
        sequence("signal_closes", "starts", "closes", times=(at_most("start_delay", "9 s"),))
    )
    steps = [{"step": "starts", "seen": True}, {"step": "closes", "seen": True}]
    times = [reading("start_delay", "3", "s")]
    for some, timed, complete in (
        (steps, times, True),
        (steps[:1], times, False),
        (steps, [], False),
    ):
        sent = {"sequence": "signal_closes", "result": "conforms", "steps": some, "times": timed}
        assert summary(held, found(sequences=[sent]))["complete"] is complete


def test_among_verdicts_alike_the_nearest_to_its_limit_governs() -> None:
    """Of two that conform the smaller margin, of two that fail the larger breach, in whatever
    unit; among equals the first id.
    """
    held = the_set(
        resolved(at_most("opening_force", "100 N"), "b"),
        resolved(at_most("opening_force", "20 lbf"), "a"),
        resolved(at_most("opening_force", "20 lbf"), "c"),
    )
    for value, governing in (("14", "a"), ("30", "a"), ("21", "a")):
        (only,) = summary(held, found(reading("opening_force", value, "lbf")))["governing"]
        assert only == {"quantity": "opening_force", "requirement": f"invented/{governing}"}


def test_advisory_stands_apart() -> None:
    """An advisory failure is shown under `advisory` and moves nothing in the summary."""
    held = the_set(FORCE, resolved(at_most("opening_force", "4 lbf"), "usual", advisory=True))
    answer = judge(held, found(PASS))
    assert [v["requirement"] for v in answer["verdicts"]] == ["invented/opening_force"]
    assert [v["verdict"] for v in answer["advisory"]] == ["does_not_conform"]
    assert answer["summary"]["verdict"] == "conforms"
    assert answer["summary"]["complete"] is True


def test_missing_fact_never_drops_out() -> None:
    """A requirement of which it is unknown whether it applies is listed and inconclusive, with
    the margin it would have, whether the activity asks for it or not.
    """
    for required in (True, False):
        held = the_set(resolved(FORCE, missing=("installed_on",), required=required))
        answer = judge(held, found(FAIL))
        (verdict,) = answer["verdicts"]
        assert verdict["verdict"] == "inconclusive"
        assert verdict["reason"] == "fact_missing: installed_on"
        assert verdict["margin"]["value"] == "-1"
        assert answer["summary"]["verdict"] == "inconclusive"
        assert answer["summary"]["missing_facts"] == ["installed_on"]
        assert len(judge(held, found())["verdicts"]) == 1


def test_a_permission_that_may_not_apply_fails_nobody() -> None:
    """The facts refuse the door under a rule of which it is unknown whether it reaches here."""
    rule = resolved(permission("door_type", "accordion"), missing=("health_care",))
    answer = judge(the_set(rule, door_type="rolling"), found())
    (verdict,) = answer["verdicts"]
    assert (verdict["verdict"], verdict["reason"]) == ("inconclusive", "fact_missing: health_care")
    assert answer["summary"]["counts"]["does_not_conform"] == 0


def test_activity_asks_only_for_its_own() -> None:
    """What the activity does not ask for is named under `not_asked`, and judged where found."""
    held = the_set(FORCE, resolved(check("label"), required=False))
    silent = summary(held, found(PASS))
    assert (silent["verdict"], silent["not_asked"]) == ("conforms", ["invented/label"])
    sent = [{"check": "label", "result": "does_not_conform"}]
    spoken = summary(held, found(PASS, checks=sent))
    assert (spoken["verdict"], spoken["not_asked"]) == ("does_not_conform", [])


def test_no_access() -> None:
    """Without access every item is not tested, for that reason, whatever it is."""
    held = the_set(
        FORCE,
        check("label"),
        per_door("pause_time"),
        permission("occupancy_group", "B"),
        resolved(check("sign"), missing=("installed_on",)),
        occupancy_group="H",
    )
    answer = judge(held, {"activity": "periodic_inspection", "no_access": "tenant refused"})
    words = {(v["verdict"], v["reason"]) for v in answer["verdicts"]}
    assert words == {("not_tested", "no_access")}
    assert len(answer["verdicts"]) == 5
    assert "tenant refused" in answer["verdicts"][0]["message"]
    assert (answer["summary"]["verdict"], answer["summary"]["complete"]) == ("not_tested", False)


def test_complete_whatever_the_verdicts() -> None:
    """A visit that looked at everything is complete though the door failed; a number that nobody
    has on file does not make it incomplete, for nobody can be asked to test it.
    """
    held = the_set(FORCE, check("label"), per_door("pause_time"))
    sent = [{"check": "label", "result": "does_not_conform"}]
    assert summary(held, found(FAIL, checks=sent))["complete"] is True
    assert summary(held, found(FAIL))["complete"] is False


def test_unmatched_findings_are_reported() -> None:
    """What no requirement here asks for is kept in sight with its place."""
    held = the_set(FORCE, sequence("signal_closes", "closes"))
    course = {
        "sequence": "signal_closes",
        "result": "conforms",
        "steps": [{"step": "closes", "seen": True}],
        "times": [reading("pause_time", "1", "s")],
    }
    stated = {"quantity": "bottom_gap", "result": "not_tested", "reason": "x"}
    elsewhere = {**course, "sequence": "obstruction", "steps": []}
    findings = found(PASS, reading("gap", "3", "mm"), stated, sequences=[course, elsewhere])
    assert judge(held, findings)["unmatched"] == [
        {"pointer": "/readings/1", "name": "gap"},
        {"pointer": "/readings/2", "name": "bottom_gap"},
        {"pointer": "/sequences/0/times/0", "name": "pause_time"},
        {"pointer": "/sequences/1", "name": "obstruction"},
    ]


def test_wording_never_speaks_of_safety() -> None:
    """The sentence speaks of requirements tested, whatever they come to."""
    held = the_set(FORCE, check("label"))
    for readings in ([PASS], [FAIL], []):
        for checks in ([], [{"check": "label", "result": "conforms"}]):
            says = summary(held, found(*readings, checks=checks))["says"]
            assert "requirement" in says
            assert "safe" not in says.lower()
    whole = summary(held, found(PASS, checks=[{"check": "label", "result": "conforms"}]))["says"]
    assert "conforms to the requirements tested" in whole


def test_same_input_same_bytes() -> None:
    """Judging twice gives the same bytes, and what a caller does to an answer stays with it."""
    held = the_set(FORCE, at_most("opening_force", "20 lbf"), check("label"))
    first = judge(held, found(PASS))
    before = json.dumps(first)
    for verdict in first["verdicts"]:
        verdict["citation"].clear()
        verdict["lineage"].clear()
        verdict["readings"].append("x")
    assert json.dumps(judge(held, found(PASS))) == before


def test_compiled_sets_are_forgotten_in_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """However many sets are judged, only so many stay compiled, and answers do not change."""
    monkeypatch.setattr(compiling, "CACHED_SETS", 2)
    held = [the_set(at_most("opening_force", f"{high} lbf")) for high in (10, 20, 30)]
    for _ in range(2):
        words = [judge(one, found(PASS))["summary"]["verdict"] for one in held]
        assert words == ["does_not_conform", "conforms", "conforms"]
        assert len(compiling._compiled) <= 2  # noqa: SLF001 - what is kept is the point


def test_numbers_and_texts_judge_alike() -> None:
    """A JSON number, read as a decimal, answers as the same text does."""
    held = the_set(FORCE)
    for value, text in ((Decimal("14.50"), "14.50"), (14, "14")):
        number = judge(held, found(reading("opening_force", value, "lbf")))
        written = judge(held, found(reading("opening_force", text, "lbf")))
        assert json.dumps(number["verdicts"]) == json.dumps(written["verdicts"])
