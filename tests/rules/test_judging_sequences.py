"""Courses of events step by step: their order in time, what is not provided, what is measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import pytest

import rules
from rules.errors import InputError
from rules.judging import judge
from rules.model import RequirementSet, SequenceSpec, Step
from tests.rules.hand_made import (
    ACCORDION,
    CITED,
    at_most,
    found,
    per_door,
    reading,
    resolved,
    sequence,
    the_set,
)

DAY = date(2026, 3, 1)
ORDERED = sequence("low-battery", "trouble", "closes", "clears")


def of(spec: SequenceSpec, steps: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    """The verdict on a course said to conform, with these steps."""
    sent = {"sequence": spec.sequence, "result": "conforms", "steps": steps, **more}
    (only,) = judge(the_set(spec), found(sequences=[sent]))["verdicts"]
    return only


def at(step: str, moment: object) -> dict[str, Any]:
    """A step that was seen at a moment."""
    return {"step": step, "seen": True, "at": moment}


# --- their order -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("moments", "word", "reason"),
    [
        (("1", "2", "3"), "conforms", None),
        (("1", "1", "1"), "conforms", None),
        ((2, 1, 3), "does_not_conform", "step_out_of_order: closes"),
        (("1", "3", "2.9"), "does_not_conform", "step_out_of_order: clears"),
    ],
)
def test_order_by_the_recorded_moments(
    moments: tuple[object, ...], word: str, reason: str | None
) -> None:
    """Trouble before the close, the close before the mending; at one moment is in order."""
    names = ("trouble", "closes", "clears")
    answer = of(ORDERED, [at(n, m) for n, m in zip(names, moments, strict=True)])
    assert (answer["verdict"], answer["reason"]) == (word, reason)


def test_disorder_says_what_came_before_what() -> None:
    """Both moments stand in the words, exact."""
    answer = of(ORDERED, [at("trouble", "12.5"), at("closes", "7"), at("clears", "90")])
    assert "at 7 s" in answer["message"]
    assert "at 12.5 s" in answer["message"]


def test_order_where_a_moment_is_missing() -> None:
    """Steps without a moment are seen, and say nothing of the order of the others."""
    steps = [at("trouble", "5"), {"step": "closes", "seen": True}, at("clears", "4")]
    assert of(ORDERED, steps)["reason"] == "step_out_of_order: clears"
    assert of(ORDERED, [*steps[:2], {"step": "clears", "seen": True}])["verdict"] == "conforms"


def test_the_order_sent_does_not_matter() -> None:
    """The course gives the order, not the list that was sent."""
    steps = [at("clears", "9"), at("trouble", "1"), at("closes", "5")]
    assert of(ORDERED, steps)["verdict"] == "conforms"


def test_a_step_of_any_moment_is_left_out_of_the_order() -> None:
    """What may be seen at any time is in no disorder."""
    steps = (Step("steady", "x", order="any"), Step("closes", "x"))
    spec = SequenceSpec("signal", "Do.", steps)
    assert of(spec, [at("steady", "9"), at("closes", "1")])["verdict"] == "conforms"


def test_disorder_outweighs_a_gap_and_a_finding_wins() -> None:
    """A course out of order failed, though a step of it is not recorded."""
    answer = of(ORDERED, [at("trouble", "5"), at("closes", "4")])
    assert (answer["verdict"], answer["reason"]) == (
        "does_not_conform",
        "step_out_of_order: closes",
    )


@pytest.mark.parametrize(
    ("step", "pointer"),
    [
        ({"step": "a", "seen": False, "at": "1"}, "at"),
        ({"step": "a", "seen": None, "at": "1"}, "at"),
        ({"step": "a", "seen": True, "at": "-1"}, "at"),
        ({"step": "a", "seen": True, "at": "NaN"}, "at"),
        ({"step": "a", "seen": True, "at": "1e999"}, "at"),
        ({"step": "a", "seen": True, "at": "soon"}, "at"),
        ({"step": "a", "seen": True, "at": True}, "at"),
        ({"step": "a", "seen": True, "provided": False}, "seen"),
        ({"step": "a", "provided": "no"}, "provided"),
        ({"step": "a", "provided": True}, "seen"),
        ({"step": "a"}, "seen"),
        ({"step": "a", "seen": "yes"}, "seen"),
    ],
)
def test_a_step_that_cannot_be_is_refused_with_its_place(
    step: dict[str, Any], pointer: str
) -> None:
    """A moment of what was not seen, a moment that is none, both seen and not there."""
    with pytest.raises(InputError) as refused:
        of(ORDERED, [at("trouble", "1"), step])
    assert [p.pointer for p in refused.value.problems] == [f"/sequences/0/steps/1/{pointer}"]


# --- not recorded, not provided --------------------------------------------------------------


def test_said_not_to_be_recorded() -> None:
    """Null is as silent as a step that is not listed."""
    steps = [at("trouble", "1"), {"step": "closes", "seen": None}, at("clears", "3")]
    answer = of(ORDERED, steps)
    assert (answer["verdict"], answer["reason"]) == ("not_tested", "step_not_recorded: closes")


TROUBLE = SequenceSpec(
    "trouble-mains",
    "Do.",
    (
        Step("local", "shown here", may_be="not_provided"),
        Step("panel", "shown at the panel", may_be="not_provided"),
        Step("monitoring", "arrived", may_be="not_provided"),
    ),
)
ABSENT = {"provided": False}
SEEN = {"seen": True}
UNSEEN = {"seen": False}


@pytest.mark.parametrize(
    ("local", "panel", "monitoring", "word", "reason"),
    [
        (SEEN, SEEN, SEEN, "conforms", None),
        (SEEN, SEEN, ABSENT, "conforms", None),
        (SEEN, UNSEEN, ABSENT, "does_not_conform", "step_not_seen: panel"),
        (SEEN, ABSENT, {"seen": None}, "not_tested", "step_not_recorded: monitoring"),
        (ABSENT, ABSENT, ABSENT, "not_tested", "not_provided"),
    ],
)
def test_each_signal_is_proved_not_proved_or_not_provided(
    local: dict[str, Any], panel: dict[str, Any], monitoring: dict[str, Any], word: str, reason: str
) -> None:
    """From the door to the panel to whoever monitors it; where nothing is there, nothing passes."""
    places = {"local": local, "panel": panel, "monitoring": monitoring}
    answer = of(TROUBLE, [{"step": step, **seen} for step, seen in places.items()])
    assert (answer["verdict"], answer["reason"]) == (word, reason)


def test_what_every_door_has_cannot_be_said_to_be_missing() -> None:
    """No step is waved away by saying that the door has nothing to show it."""
    steps = [at("trouble", "1"), {"step": "closes", "provided": False}, at("clears", "3")]
    answer = of(ORDERED, steps)
    assert (answer["verdict"], answer["reason"]) == ("not_tested", "step_not_recorded: closes")
    assert "every such door has it" in answer["message"]


# --- what is measured while a course runs ----------------------------------------------------


def test_a_number_that_only_instructions_could_ask_weighs_nothing_while_nobody_took_it() -> None:
    """Seen whole, with no number on file and none taken: what was seen decides, and the gap is
    told among the times. A number that was taken cannot be judged.
    """
    spec = sequence("obstruct", "stops", times=(per_door("pause_time"),))
    untaken = of(spec, [{"step": "stops", "seen": True}])
    assert untaken["verdict"] == "conforms"
    assert [(t["verdict"], t["reason"]) for t in untaken["times"]] == [
        ("not_tested", "no_instructions")
    ]
    taken = [reading("pause_time", "2", "s")]
    judged = of(spec, [{"step": "stops", "seen": True}], times=taken)
    assert (judged["verdict"], judged["reason"]) == ("inconclusive", "no_instructions")


@pytest.mark.parametrize(("taken", "word"), [("10", "conforms"), ("10.1", "does_not_conform")])
def test_a_limit_is_held_against_what_was_taken_while_a_course_ran(taken: str, word: str) -> None:
    """A time recorded with its course is a reading like any other, and names the course."""
    held = the_set(
        resolved(at_most("opening_time_to_width", "10 s"), "width"),
        resolved(sequence("egress", "opens"), "course"),
    )
    course = {
        "sequence": "egress",
        "result": "conforms",
        "steps": [{"step": "opens", "seen": True}],
        "times": [reading("opening_time_to_width", taken, "s")],
    }
    answer = judge(held, found(sequences=[course]))
    limit = next(v for v in answer["verdicts"] if v["kind"] == "limit")
    assert (limit["verdict"], limit["reading"]["sequence"]) == (word, "egress")
    assert answer["unmatched"] == []


def test_a_reading_of_its_own_goes_before_what_was_taken_with_a_course() -> None:
    """What was sent as a reading is not weighed twice."""
    held = the_set(at_most("start_delay", "10 s"), sequence("signal", "starts"))
    course = {
        "sequence": "signal",
        "result": "conforms",
        "steps": [{"step": "starts", "seen": True}],
        "times": [reading("start_delay", "11", "s")],
    }
    answer = judge(held, found(reading("start_delay", "9", "s"), sequences=[course]))
    limit = next(v for v in answer["verdicts"] if v["kind"] == "limit")
    assert limit["verdict"] == "conforms"
    assert [one["pointer"] for one in answer["unmatched"]] == ["/sequences/0/times/0"]


def test_a_quantity_without_a_number_stays_unmatched_in_a_course() -> None:
    """Nothing is held against it, and that is told."""
    held = the_set(per_door("pause_time"), sequence("obstruct", "stops"))
    course = {
        "sequence": "obstruct",
        "result": "conforms",
        "steps": [{"step": "stops", "seen": True}],
        "times": [reading("pause_time", "2", "s")],
    }
    answer = judge(held, found(sequences=[course]))
    assert [one["name"] for one in answer["unmatched"]] == ["pause_time"]


# --- the packaged courses --------------------------------------------------------------------


def steps_of(held: RequirementSet, name: str) -> dict[str, None]:
    """Every step that the requirements ask for of one sequence."""
    specs = [one.requirement.spec for one in held.items]
    courses = [s for s in specs if isinstance(s, SequenceSpec) and s.sequence == name]
    assert courses, name
    return {step.step: None for spec in courses for step in spec.steps}


def run(
    name: str,
    seen: Mapping[str, dict[str, Any]] | None = None,
    *,
    place: str = "us",
    instructions: Sequence[dict[str, Any]] = (),
    times: Sequence[dict[str, Any]] = (),
) -> dict[str, dict[str, Any]]:
    """The verdicts on a course at the accordion door, all seen but what is said otherwise."""
    held = rules.requirements(
        facts=ACCORDION, jurisdiction=place, on=DAY, listed_instructions=instructions
    )
    told: dict[str, dict[str, Any]] = {step: {"seen": True} for step in steps_of(held, name)}
    told.update(seen or {})
    steps = [{"step": step, **what} for step, what in told.items()]
    course = {"sequence": name, "result": "conforms", "steps": steps, "times": list(times)}
    answer = rules.judge(held, {"activity": "periodic_inspection", "sequences": [course]})
    both = [*answer["verdicts"], *answer["advisory"]]
    return {one["requirement"]: one for one in both if one["sequence"] == name}


@pytest.mark.parametrize("place", ["us", "de", "gb-eng", "au", "sa", "ca-on"])
@pytest.mark.parametrize(
    ("name", "step"),
    [("obstruction", "stops"), ("obstruction", "resumes"), ("egress-in-fire-mode", "recloses")],
)
def test_a_push_through_fails_in_every_place(place: str, name: str, step: str) -> None:
    """By the inspector's finding, where no text of the place asks for anything."""
    course = "obstruction-course" if name == "obstruction" else "egress-course"
    whole = run(name, place=place)
    assert whole[f"per-door/{course}"]["verdict"] == "conforms"
    failed = run(name, {step: {"seen": False}}, place=place)[f"per-door/{course}"]
    assert (failed["verdict"], failed["reason"]) == ("does_not_conform", f"step_not_seen: {step}")


@pytest.mark.parametrize(("pause", "word"), [("2", "conforms"), ("6", "does_not_conform")])
def test_numbers_of_an_obstruction_come_from_the_doors_instructions(pause: str, word: str) -> None:
    """Within them, beyond them, and without them."""
    told = {
        "target": "per-door/obstruction-course",
        "times": {"pause_time": {"high": "5 s"}},
        "citation": CITED,
    }
    taken = [reading("pause_time", pause, "s")]
    found_ = run("obstruction", instructions=(told,), times=taken)
    assert found_["per-door/obstruction-course"]["verdict"] == word
    without = run("obstruction", times=taken)["per-door/obstruction-course"]
    assert (without["verdict"], without["reason"]) == ("inconclusive", "no_instructions")


PAUSE = {
    "target": "per-door/obstruction-pause",
    "low": "2 s",
    "high": "5 s",
    "citation": CITED,
}


@pytest.mark.parametrize(("pause", "word"), [("3", "conforms"), ("6", "does_not_conform")])
@pytest.mark.parametrize("within", [True, False])
def test_one_number_on_file_has_one_answer(pause: str, word: str, *, within: bool) -> None:
    """Told of the number alone, it governs the course too; taken in the course or beside it, one
    reading answers both.
    """
    held = rules.requirements(
        facts=ACCORDION, jurisdiction="us", on=DAY, listed_instructions=[PAUSE]
    )
    taken = [reading("pause_time", pause, "s")]
    steps = [{"step": step, "seen": True} for step in steps_of(held, "obstruction")]
    course = {"sequence": "obstruction", "result": "conforms", "steps": steps}
    sent = course | {"times": taken} if within else course
    whole = found(*(() if within else taken), sequences=[sent])
    answer = {v["requirement"]: v["verdict"] for v in rules.judge(held, whole)["verdicts"]}
    assert answer["per-door/obstruction-pause"] == word
    assert answer["per-door/obstruction-course"] == word


def test_a_course_may_be_looked_at_without_measuring() -> None:
    """Its number is asked for by a requirement of its own, which then is not tested; the course
    tells where the number came from.
    """
    answer = run("obstruction", instructions=(PAUSE,))
    assert answer["per-door/obstruction-course"]["verdict"] == "conforms"
    (pause,) = [
        time
        for time in answer["per-door/obstruction-course"]["times"]
        if time["quantity"] == "pause_time"
    ]
    assert (pause["verdict"], pause["reason"]) == ("not_tested", "time_not_recorded")
    held = rules.requirements(
        facts=ACCORDION, jurisdiction="us", on=DAY, listed_instructions=[PAUSE]
    )
    (course,) = (i for i in held.items if i.requirement.id == "per-door/obstruction-course")
    assert (course.layer, course.lineage[-1].citation.clause) == ("listed_instructions", "4.2")


def test_a_number_of_one_publication_is_none_of_another() -> None:
    """How soon a mains fault is told, as the listing says, is not how soon every fault is."""
    told = {"target": "per-door/trouble-delay", "high": "10 s", "citation": CITED}
    held = rules.requirements(
        facts=ACCORDION, jurisdiction="us", on=DAY, listed_instructions=[told]
    )
    (course,) = (i for i in held.items if i.requirement.id == "common-practice/trouble/battery")
    assert isinstance(course.requirement.spec, SequenceSpec)
    assert all(time.supplied_per_door for time in course.requirement.spec.times)


def test_a_number_on_file_must_be_taken() -> None:
    """With instructions on file, silence on their number is no pass."""
    told = {
        "target": "per-door/obstruction-course",
        "times": {"pause_time": {"high": "5 s"}},
        "citation": CITED,
    }
    answer = run("obstruction", instructions=(told,))["per-door/obstruction-course"]
    assert (answer["verdict"], answer["reason"]) == ("not_tested", "time_not_recorded: pause_time")


@pytest.mark.parametrize(
    ("name", "seen", "reason"),
    [
        (
            "low-battery",
            {"closes": {"seen": True, "at": 3}, "trouble-first": {"seen": True, "at": 4}},
            "step_out_of_order: closes",
        ),
        (
            "reset",
            {"cleared": {"seen": True, "at": 60}, "opens-after": {"seen": True, "at": 20}},
            "step_out_of_order: opens-after",
        ),
        ("reset", {"refuses": {"seen": False}}, "step_not_seen: refuses"),
        ("mains-loss", {"stays-open": {"seen": False}}, "step_not_seen: stays-open"),
        ("second-push", {"opens-further": {"seen": False}}, "step_not_seen: opens-further"),
        ("manual-in-fire-mode", {"recloses": {"seen": False}}, "step_not_seen: recloses"),
        ("fire-mode-signal", {"not-silenced": {"seen": False}}, "step_not_seen: not-silenced"),
        ("trouble-mains", {"panel": {"seen": False}}, "step_not_seen: panel"),
    ],
)
def test_the_courses_of_a_driven_door_step_by_step(
    name: str, seen: dict[str, Any], reason: str
) -> None:
    """Seen whole each conforms; what fails names its step. Custom, so it binds nobody."""
    (whole,) = run(name).values()
    assert whole["verdict"] == "conforms"
    (failed,) = run(name, seen).values()
    assert (failed["verdict"], failed["reason"]) == ("does_not_conform", reason)
    assert failed["standing"] == "common_practice"


def test_every_course_says_what_to_do_and_heed() -> None:
    """No two steps of a course have one name; those moved by power or weight carry a caution."""
    library = rules.load().requirements.values()
    courses = [one for one in library if isinstance(one.spec, SequenceSpec)]
    for one in courses:
        spec = one.spec
        assert isinstance(spec, SequenceSpec)
        assert spec.do
        assert len({step.step for step in spec.steps}) == len(spec.steps)
        if one.id.startswith(("common-practice/", "per-door/")) and spec.after_parts:
            assert spec.caution or spec.sequence == "fire-mode-signal", one.id
