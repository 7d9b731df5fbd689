"""What another edition, day or override changes for one opening."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from rules.asking import requirements
from rules.comparing import compare, under
from rules.differences import Difference, difference
from rules.errors import InputError, UnknownNameError
from rules.judging import judge
from rules.model import CheckSpec, IntervalSpec, LimitSpec, RecordSpec, RetentionSpec, Spec
from rules.quantities import parse_quantity
from rules.vocabulary import Activity, Meaning
from tests.rules.hand_made import (
    at_least,
    at_most,
    between,
    check,
    found,
    per_door,
    reading,
    resolved,
    sequence,
    the_set,
)

YEARLY = IntervalSpec(
    Activity.PERIODIC_INSPECTION, "P1Y", Meaning.FROM_DATE, early="P30D", late="P30D"
)
SPEED = between("closing_speed", "6 in/s", "24 in/s")
DELAY = at_most("start_delay", "10 s")
DROP = sequence("drop", "closes", times=(DELAY,))
TIGHTENED, RELAXED, CHANGED, _ = Difference
FACTS = {"door_type": "accordion", "operation": "power", "fire_door": True, "means_of_egress": True}


def moved(spec: LimitSpec, low: str, high: str) -> LimitSpec:
    """The limit with other bounds."""
    return replace(spec, low=parse_quantity(low), high=parse_quantity(high))


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (at_most("gap", "3 mm"), at_most("gap", "3 mm"), None),
        (at_most("gap", "3 mm"), at_most("gap", "2 mm"), TIGHTENED),
        (at_most("gap", "1 in"), at_most("gap", "25.5 mm"), RELAXED),
        (at_least("clear_width", "32 in"), at_least("clear_width", "28 in"), RELAXED),
        (at_most("gap", "3 mm"), between("gap", "1 mm", "3 mm"), TIGHTENED),
        (SPEED, moved(SPEED, "7 in/s", "20 in/s"), TIGHTENED),
        (SPEED, moved(SPEED, "5 in/s", "20 in/s"), CHANGED),
        (per_door("pause_time"), at_most("pause_time", "5 s"), TIGHTENED),
        (at_most("pause_time", "5 s"), per_door("pause_time"), RELAXED),
        (at_most("gap", "1 mm"), at_most("bottom_gap", "1 mm"), CHANGED),
        (at_most("gap", "1 mm"), replace(at_most("gap", "1 mm"), repeats=3), CHANGED),
        (YEARLY, replace(YEARLY, every="P6M"), TIGHTENED),
        (YEARLY, replace(YEARLY, late="P60D"), RELAXED),
        (YEARLY, replace(YEARLY, every="P2Y", late=""), CHANGED),
        (YEARLY, replace(YEARLY, every="", after="repair"), CHANGED),
        (RetentionSpec("P3Y"), RetentionSpec("P5Y"), TIGHTENED),
        (RetentionSpec("P3Y"), RetentionSpec("P2Y"), RELAXED),
        (RecordSpec(("date",)), RecordSpec(("date", "name")), TIGHTENED),
        (RecordSpec(("date", "name")), RecordSpec(("date",)), RELAXED),
        (check("label"), CheckSpec("label", "Is it there?"), CHANGED),
        (DROP, sequence("drop", "closes", "resets", times=(DELAY,)), TIGHTENED),
        (DROP, sequence("drop", "closes"), RELAXED),
        (DROP, sequence("drop", "closes", times=(at_most("start_delay", "5 s"),)), TIGHTENED),
        (DROP, sequence("drop", "opens", times=(DELAY,)), CHANGED),
        (check("label"), at_most("gap", "1 mm"), CHANGED),
    ],
)
def test_difference(old: Spec, new: Spec, expected: Difference | None) -> None:
    """Asking more is tightened, asking less relaxed; both at once, or neither, is changed."""
    assert difference(old, new) is expected


def test_compare_two_sets() -> None:
    """Added, withdrawn, tightened, relaxed and unchanged, by the names of the requirements; what
    is advisory is left out.
    """
    before = the_set(
        at_most("gap", "3 mm"),
        at_least("clear_width", "32 in"),
        check("label"),
        check("sign"),
        resolved(check("usual"), advisory=True),
    )
    after = the_set(
        at_most("gap", "2 mm"),
        at_least("clear_width", "28 in"),
        check("label"),
        check("seal"),
        resolved(check("other"), advisory=True),
    )
    answer = compare(before, after)
    assert [one["name"] for one in answer["added"]] == ["invented/seal"]
    assert [one["name"] for one in answer["withdrawn"]] == ["invented/sign"]
    (tighter,), (looser,) = answer["tightened"], answer["relaxed"]
    assert (tighter["before"]["says"], tighter["after"]["says"]) == (
        "gap at most 3 mm",
        "gap at most 2 mm",
    )
    assert looser["name"] == "invented/clear_width"
    assert (answer["unchanged"], answer["changed"]) == (1, [])


def test_what_is_only_written_elsewhere_goes_under_a_word_of_its_own() -> None:
    """Another clause, or a particular that no line shows, is restated; its edition alone moves in
    every new edition and is not.
    """
    gap = at_most("gap", "3 mm")
    plain = resolved(gap)
    moved_clause = replace(plain.requirement.citation, clause="9.9")
    moved_edition = replace(plain.requirement.citation, edition="2029")
    for after, word in (
        (replace(plain.requirement, citation=moved_clause), "restated"),
        (replace(plain.requirement, spec=replace(gap, method="a wedge")), "restated"),
        (replace(plain.requirement, spec=replace(gap, repeats=3)), "changed"),
        (replace(plain.requirement, citation=moved_edition), ""),
    ):
        answer = compare(the_set(plain), the_set(replace(plain, requirement=after)))
        assert [one["name"] for one in answer.get(word, [])] == ["invented/gap"] * bool(word)
        assert answer["unchanged"] == (not word)
    moved_on = the_set(
        replace(plain, requirement=replace(plain.requirement, citation=moved_clause))
    )
    (pair,) = compare(the_set(plain), moved_on)["restated"]
    assert (pair["before"]["source"], pair["after"]["source"]) == (
        "Invented Code, 2026, 1.2.3",
        "Invented Code, 2026, 9.9",
    )


def test_stored_verdicts_that_would_differ() -> None:
    """Each stored visit is judged under both sets, or its stored answer taken for the first; only
    what differs is named, on the day of that visit.
    """
    before, after = the_set(at_most("gap", "3 mm"), check("sign")), the_set(at_most("gap", "2 mm"))
    signed = [{"check": "sign", "result": "conforms"}]
    findings = found(reading("gap", "2.5", "mm"), checks=signed, on="2020-01-01")
    (visit,) = compare(before, after, [{"findings": findings}])["visits"]
    says = {one["name"]: one.pop("says") for one in visit["differ"]}
    assert "2.5 mm" in says["invented/gap"]["before"]
    assert "2.5 mm" in says["invented/gap"]["after"]
    assert says["invented/gap"]["before"] != says["invented/gap"]["after"]
    assert says["invented/sign"]["after"] is None
    assert visit == {
        "index": 0,
        "on": "2020-01-01",
        "activity": "periodic_inspection",
        "summary": {"before": "conforms", "after": "does_not_conform"},
        "differ": [
            {"name": "invented/gap", "before": "conforms", "after": "does_not_conform"},
            {"name": "invented/sign", "before": "conforms", "after": None},
        ],
    }
    stored = judge(after, {**findings, "on": "2026-03-01", "checks": []})
    same = compare(before, after, [{"findings": {**findings, "checks": []}, "answer": stored}])
    assert same["visits"][0]["differ"] == []


@pytest.mark.parametrize("visit", [{}, [], {"findings": {}, "colour": 1}, "visit"])
def test_a_visit_has_findings(visit: Any) -> None:  # noqa: ANN401 - anything may be sent
    """What is no visit is refused by its place."""
    with pytest.raises(InputError) as caught:
        compare(the_set(), the_set(), [visit])
    assert caught.value.problems[0].pointer == "/visits/0"


@pytest.mark.parametrize(
    ("visit", "pointer"),
    [
        ({"findings": {"activity": "annual"}}, "/visits/0/findings/activity"),
        ({"findings": []}, "/visits/0/findings"),
        ({"findings": found(), "answer": {}}, "/visits/0/answer"),
        ({"findings": found(), "answer": None}, "/visits/0/answer"),
        (
            {"findings": found(), "answer": {"summary": {"verdict": "x"}, "verdicts": [1]}},
            "/visits/0/answer",
        ),
    ],
)
def test_what_is_wrong_in_a_visit_is_named(visit: dict[str, Any], pointer: str) -> None:
    """The pointer leads through the visit to the mistake."""
    with pytest.raises(InputError) as caught:
        compare(the_set(), the_set(), [visit])
    assert caught.value.problems[0].pointer == pointer


def test_two_editions_of_one_series() -> None:
    """The battery margin of 20 % and of 25 % is one requirement whose number moved, also for a
    door that is older than both editions.
    """
    facts = {**FACTS, "installed_on": "1999-01-01", "release_control": "fire_alarm"}
    case: dict[str, Any] = {"facts": facts, "jurisdiction": "us", "on": date(2026, 3, 1)}
    answer = compare(under("nfpa-72-2010", **case), under("nfpa-72-2022", **case))
    margin = {one["name"]: one for one in answer["tightened"]}["nfpa-72/battery/margin"]
    assert margin["before"]["requirement"] == "nfpa-72-2010/battery/margin"
    assert "1.20" in margin["before"]["says"]
    assert "1.25" in margin["after"]["says"]
    assert answer["before"]["jurisdiction"] == "us"


def test_two_days_in_one_place() -> None:
    """Minnesota's fire code of 2020 shows between the day before and the day it took effect."""
    facts = {**FACTS, "installed_on": "2015-01-01"}
    case: dict[str, Any] = {"facts": facts, "jurisdiction": "us-mn"}
    before = requirements(on=date(2020, 3, 30), **case)
    after = requirements(on=date(2020, 3, 31), **case)
    answer = compare(before, after)
    assert answer["added"] or answer["tightened"] or answer["changed"]
    asking = [i for i in after.items if not (i.advisory or i.requirement.states_a_gap)]
    assert compare(after, after)["unchanged"] == len(asking)


SWINGING: dict[str, Any] = {
    **FACTS,
    "door_type": "swinging",
    "operation": "manual",
    "installed_on": "2007-06-01",
}


@pytest.mark.parametrize(
    ("first", "second", "read_later", "added"),
    [
        ("ibc-2006", "ibc-2021", "ibc/egress-force/set-in-motion", []),
        ("nfpa-101-2000", "nfpa-101-2012", "nfpa-101/impairment/fire-alarm", []),
        ("ibc-2018", "ibc-2021", None, ["ibc/egress-force/latch-rotation"]),
    ],
)
def test_what_was_not_read_is_no_change_of_the_code(
    first: str, second: str, read_later: str | None, added: list[str]
) -> None:
    """It stands under a word of its own, both ways, with the gap that is the reason."""
    case: dict[str, Any] = {"facts": SWINGING, "jurisdiction": "us", "on": date(2026, 3, 1)}
    before, after = under(first, **case), under(second, **case)
    answer, back = compare(before, after), compare(after, before)
    read = [one["name"] for one in answer["newly_read"]]
    assert (read_later in read) if read_later else read == []
    assert [one["name"] for one in back["no_longer_read"]] == read
    assert ([one["name"] for one in answer["added"]], answer["withdrawn"]) == (added, [])
    assert any(one["requirement"].startswith(first) for one in answer["not_read"]["before"]) is (
        bool(read)
    )


@pytest.mark.parametrize(("edition", "place"), [("ibc-1066", "us"), ("ibc-2018", "atlantis")])
def test_unknown_names(edition: str, place: str) -> None:
    """An edition or a place that does not exist is refused by name."""
    with pytest.raises(UnknownNameError, match=f"{edition}|{place}"):
        under(edition, facts=FACTS, jurisdiction=place, on=date(2026, 3, 1))
