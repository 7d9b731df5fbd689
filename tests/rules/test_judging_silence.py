"""Silence never passes: over random requirements and random findings, what a summary may say.

Each item is drawn with what it must come to, told by how its finding was made, not by our code.
"""

from __future__ import annotations

import json
from random import Random
from typing import Any, NamedTuple

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.judging import judge
from rules.model import RequirementSet, Spec
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

EXPIRED = {"calibration_due_on": "2026-02-28"}
COARSE = {"resolution": "3"}
Fields = dict[str, Any]

# For each kind: what may be found of it, and the word it must then have. None: nothing is sent.
LIMIT: list[tuple[Fields | None, str]] = [
    (None, "not_tested"),
    ({"value": "15", "unit": "lbf"}, "conforms"),
    ({"value": "6.8", "unit": "kgf", "uncertainty": "0.01"}, "conforms"),
    ({"value": "15.1", "unit": "lbf"}, "does_not_conform"),
    ({"value": "66.9", "unit": "N"}, "does_not_conform"),
    ({"value": "9", "unit": "lbf", "instrument": EXPIRED}, "inconclusive"),
    ({"value": "9", "unit": "lbf", "instrument": COARSE}, "inconclusive"),
    ({"value": "16", "unit": "lbf", "instrument": EXPIRED}, "does_not_conform"),
    ({"result": "not_tested", "reason": "no gauge"}, "not_tested"),
    ({"result": "not_applicable", "reason": "no latch"}, "not_applicable"),
    ({"result": "does_not_conform", "reason": "jams"}, "does_not_conform"),
]
CHECK: list[tuple[Fields | None, str]] = [
    (None, "not_tested"),
    ({"result": "conforms"}, "conforms"),
    ({"result": "does_not_conform"}, "does_not_conform"),
    ({"result": "not_tested", "reason": "behind a rack"}, "not_tested"),
    ({"result": "not_applicable", "reason": "none here"}, "not_applicable"),
]
STEPS = [{"step": "starts", "seen": True}, {"step": "closes", "seen": True}]
UNSEEN = [STEPS[0], {"step": "closes", "seen": False}]
AT_TEN = [{"quantity": "start_delay", "value": "10", "unit": "s"}]
OVER_TEN = [{"quantity": "start_delay", "value": "10.01", "unit": "s"}]
UNCALIBRATED = [{**AT_TEN[0], "instrument": EXPIRED}]
SEQUENCE: list[tuple[Fields | None, str]] = [
    (None, "not_tested"),
    ({"result": "conforms", "steps": STEPS, "times": AT_TEN}, "conforms"),
    ({"result": "conforms", "steps": STEPS, "times": OVER_TEN}, "does_not_conform"),
    ({"result": "conforms", "steps": STEPS, "times": UNCALIBRATED}, "inconclusive"),
    ({"result": "conforms", "steps": STEPS}, "not_tested"),
    ({"result": "conforms", "steps": STEPS[:1], "times": AT_TEN}, "not_tested"),
    ({"result": "conforms", "steps": UNSEEN, "times": AT_TEN}, "does_not_conform"),
    ({"result": "conforms"}, "not_tested"),
    ({"result": "does_not_conform", "steps": STEPS, "times": AT_TEN}, "does_not_conform"),
    ({"result": "not_tested", "reason": "power is out"}, "not_tested"),
]
FORCES = ("opening_force", "set_in_motion_force", "latch_release_force")
WORST = ("not_applicable", "conforms", "not_tested", "inconclusive", "does_not_conform")


class Drawn(NamedTuple):
    """One item with what is found of it, and the word that its verdict must have."""

    kind: str
    name: str
    finding: Fields | None
    word: str
    required: bool
    advisory: bool
    untested: bool
    missing: bool


@st.composite
def drawn(draw: st.DrawFn) -> list[Drawn]:
    """Up to six items of different names."""
    cases = dict.fromkeys(FORCES, ("readings", LIMIT))
    cases |= dict.fromkeys(("label", "sign"), ("checks", CHECK))
    cases |= {"signal_closes": ("sequences", SEQUENCE)}
    names = draw(st.lists(st.sampled_from(sorted(cases)), unique=True, max_size=6))
    items = []
    for name in names:
        kind, findings = cases[name]
        finding, word = draw(st.sampled_from(findings) | st.just(findings[1]))
        advisory, missing = (draw(st.sampled_from([True, *[False] * 3])) for _ in range(2))
        untested = draw(st.booleans())
        required = draw(st.sampled_from([True, True, False]))
        items.append(Drawn(kind, name, finding, word, required, advisory, untested, missing))
    return items


def spec_of(item: Drawn) -> Spec:
    """The requirement's own part."""
    if item.kind == "readings":
        return at_most(item.name, "15 lbf")
    if item.kind == "checks":
        return check(item.name)
    return sequence(item.name, "starts", "closes", times=(at_most("start_delay", "10 s"),))


def visit(items: list[Drawn]) -> tuple[RequirementSet, Fields]:
    """The set and the findings."""
    held = the_set(
        *[
            resolved(
                spec_of(item),
                item.name,
                required=item.required,
                advisory=item.advisory,
                untested=item.untested,
                missing=("flats",) if item.missing else (),
            )
            for item in items
        ]
    )
    sent: dict[str, list[Fields]] = {"readings": [], "checks": [], "sequences": []}
    keys = {"readings": "quantity", "checks": "check", "sequences": "sequence"}
    for item in items:
        if item.finding is not None:
            sent[item.kind].append({keys[item.kind]: item.name, **item.finding})
    return held, {"activity": "periodic_inspection", **sent}


def expected(item: Drawn) -> str | None:
    """The word of an item's verdict; None where it is not even listed."""
    seen_to_fail = item.word == "does_not_conform" and "value" not in (item.finding or {})
    if item.missing and not seen_to_fail:
        return "inconclusive"
    if item.finding is None and not item.required:
        return None
    return item.word


@settings(max_examples=300)
@given(drawn())
def test_every_verdict_is_the_one_its_finding_has_by_itself(items: list[Drawn]) -> None:
    """Whatever else is found, required, advisory or missing; advisory ones stand apart."""
    held, sent = visit(items)
    answer = judge(held, sent)
    words = {v["requirement"]: v["verdict"] for v in answer["verdicts"]}
    apart = {v["requirement"]: v["verdict"] for v in answer["advisory"]}
    for item in items:
        timed = item.missing and item.kind == "sequences" and item.word == "does_not_conform"
        if timed:
            continue
        place = apart if item.advisory else words
        assert place.get(f"invented/{item.name}") == expected(item)


@settings(max_examples=300)
@given(drawn())
def test_a_visit_conforms_only_where_everything_required_was_found_to(items: list[Drawn]) -> None:
    """`conforms` needs every binding required item given and conforming, and no other found
    wanting; and where all of them are and do, it is not withheld.
    """
    held, sent = visit(items)
    summary = judge(held, sent)["summary"]
    binding = [item for item in items if not item.advisory]
    good = [i for i in binding if i.finding is not None and i.word == "conforms" and not i.missing]
    silent = [i for i in binding if not i.required and expected(i) in {None, "not_applicable"}]
    assert (summary["verdict"] == "conforms") == (
        bool(good) and len(good) + len(silent) == len(binding)
    )
    assert summary["counts"]["conforms"] == len(good)


@settings(max_examples=200)
@given(drawn())
def test_the_summary_is_the_worst_word_and_counts_every_verdict(items: list[Drawn]) -> None:
    """Never better than the worst binding verdict; every one of them is counted once."""
    held, sent = visit(items)
    answer = judge(held, sent)
    words = [v["verdict"] for v in answer["verdicts"]]
    worst = max(words, key=WORST.index, default="not_tested")
    assert WORST.index(answer["summary"]["verdict"]) >= WORST.index(worst)
    assert answer["summary"]["counts"] == {word: words.count(word) for word in WORST}
    assert {v["requirement"] for v in answer["verdicts"] if v["verdict"] == "not_tested"} <= set(
        answer["summary"]["untested"]
    )


@settings(max_examples=100)
@given(drawn(), st.randoms(use_true_random=False))
def test_the_order_in_which_things_were_found_and_told_again_changes_nothing(
    items: list[Drawn], rnd: Random
) -> None:
    """Judging again gives the same bytes; in another order the same verdicts and summary."""
    held, sent = visit(items)
    once = json.dumps(judge(held, sent))
    assert json.dumps(judge(held, json.loads(json.dumps(sent)))) == once
    for part in ("readings", "checks", "sequences"):
        rnd.shuffle(sent[part])
    again, first = judge(held, sent), json.loads(once)
    assert again["summary"] == first["summary"]
    assert [v["verdict"] for v in again["verdicts"]] == [v["verdict"] for v in first["verdicts"]]


def test_what_may_stay_untested_is_not_passed_by_saying_that_it_does_not_apply() -> None:
    """The duty is met without it, and the summary says that it was not tested."""
    held = the_set(check("label"), resolved(check("sign"), untested=True))
    for word in ("not_tested", "not_applicable"):
        checks = [
            {"check": "label", "result": "conforms"},
            {"check": "sign", "result": word, "reason": "none here"},
        ]
        summary = judge(held, found(checks=checks))["summary"]
        assert (summary["verdict"], summary["complete"]) == ("not_tested", True)
        assert summary["untested"] == ["invented/sign"]


def test_a_permission_or_a_number_not_on_file_is_nobodys_test() -> None:
    """Facts that permit a door, and a limit that nobody can name, are no test of the door."""
    permitted = resolved(permission("occupancy_group", "B"), required=False)
    held = the_set(permitted, occupancy_group="B")
    summary = judge(held, found())["summary"]
    assert (summary["verdict"], summary["complete"]) == ("not_tested", False)
    held = the_set(per_door("pause_time"), at_most("opening_force", "15 lbf"))
    summary = judge(held, found(reading("opening_force", "9", "lbf")))["summary"]
    assert (summary["verdict"], summary["complete"]) == ("inconclusive", True)
