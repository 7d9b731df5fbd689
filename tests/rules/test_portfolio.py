"""The portfolio engine says of every visit and requirement what the single engine says."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.columns import columns
from rules.errors import InputError
from rules.judging import judge
from rules.model import RequirementSet
from rules.portfolio import BANDS, WORDS, Judged, Limits, Readings, judge_readings
from rules.vocabulary import Governs, VerdictWord
from tests.rules.hand_made import (
    DAY,
    at_least,
    at_most,
    between,
    check,
    found,
    per_door,
    reading,
    repeated,
    resolved,
    the_set,
)

UNITS = {"opening_force": ("lbf", "N", "kgf"), "closing_speed": ("in/s", "mm/s", "ft/s")}
LIMITS = {
    "opening_force": (
        at_most("opening_force", "15 lbf"),
        at_most("opening_force", "67 N"),
        at_least("opening_force", "1.5 kgf"),
        repeated(at_most("opening_force", "15 lbf"), 3, Governs.MEAN),
        repeated(at_most("opening_force", "15 lbf"), 3, Governs.MEDIAN),
        per_door("opening_force"),
    ),
    "closing_speed": (
        between("closing_speed", "6 in/s", "24 in/s"),
        between("closing_speed", "150 mm/s", "2 ft/s"),
        at_most("closing_speed", "1 ft/s"),
    ),
}
# Values on, beside and far from the limits, so that every comparison is tried at its edge.
VALUES = st.sampled_from(("0", "5.9", "6", "14.5", "15", "15.0", "15.0000000001", "66.7", "66.8"))
AMOUNTS = st.one_of(st.none(), st.sampled_from(("0", "0.1", "0.5", "1", "2")))


@st.composite
def sent(draw: st.DrawFn) -> dict[str, Any]:
    """One reading as it is sent."""
    quantity = draw(st.sampled_from(sorted(UNITS)))
    value = draw(st.one_of(VALUES, st.decimals("0", "100", places=2).map(str)))
    one = reading(quantity, value, draw(st.sampled_from(UNITS[quantity])))
    if (uncertainty := draw(AMOUNTS)) is not None:
        one["uncertainty"] = uncertainty
    instrument = {}
    if (resolution := draw(AMOUNTS)) is not None:
        instrument["resolution"] = resolution
    if draw(st.booleans()):
        instrument["calibration_due_on"] = draw(st.sampled_from(("2026-02-28", "2026-03-01")))
    return {**one, "instrument": instrument} if instrument else one


@st.composite
def requirement_set(draw: st.DrawFn) -> RequirementSet:
    """Some limits, some of them advisory, some of unknown application."""
    chosen = draw(st.lists(st.sampled_from([*LIMITS["opening_force"], *LIMITS["closing_speed"]])))
    return the_set(
        *(
            resolved(
                spec,
                f"{number}",
                advisory=draw(st.booleans()),
                missing=draw(st.sampled_from(((), (), ("installed_on",)))),
            )
            for number, spec in enumerate(chosen)
        )
    )


def each(judged: Judged) -> Iterator[tuple[int, str, str, str | None]]:
    """Visit, requirement, verdict and band of every line."""
    for line in judged.lines:
        held = (line.visit, line.requirement, line.verdict, line.band)
        for visit, place, verdict, band in zip(*(c.tolist() for c in held), strict=True):
            yield visit, judged.limits.requirements[place], WORDS[verdict].value, BANDS[band]


def singly(
    sets: Sequence[RequirementSet], visits: Sequence[tuple[int, list[dict[str, Any]]]]
) -> Iterator[tuple[int, str, str, str | None]]:
    """The same from the single engine."""
    for number, (place, readings) in enumerate(visits):
        answer = judge(sets[place], found(*readings))
        for verdict in (*answer["verdicts"], *answer["advisory"]):
            if any(r["quantity"] == verdict["quantity"] for r in readings):
                yield number, verdict["requirement"], verdict["verdict"], verdict["band"]


def together(
    sets: Sequence[RequirementSet], visits: Sequence[tuple[int, list[dict[str, Any]]]]
) -> Judged:
    """The visits through the portfolio engine."""
    readings = Readings.of(columns((DAY, sent) for _, sent in visits))
    of_visit = np.array([place for place, _ in visits], np.int64)
    return judge_readings(Limits.of(sets, readings.measures), of_visit, readings)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_two_engines_one_truth(data: st.DataObject) -> None:
    """Verdict and band are equal for every visit and limit, whatever the units, repeats,
    uncertainties and instruments.
    """
    sets = data.draw(st.lists(requirement_set(), min_size=1, max_size=3))
    visit = st.tuples(st.integers(0, len(sets) - 1), st.lists(sent(), max_size=6))
    visits = data.draw(st.lists(visit, max_size=4))
    assert sorted(each(together(sets, visits)), key=str) == sorted(singly(sets, visits), key=str)


@pytest.mark.parametrize("value", ["5.5", "6", "6.5", "23.5", "24", "24.5", "24.500001"])
@pytest.mark.parametrize("resolution", ["1.8", "1.81"])
def test_edges(value: str, resolution: str) -> None:
    """At exactly U from a limit, and at exactly a tenth of its width, the engines agree."""
    held = the_set(between("closing_speed", "6 in/s", "24 in/s"))
    gauge = {"resolution": resolution}
    sent = reading("closing_speed", value, "in/s", uncertainty="0.5", instrument=gauge)
    visits = [(0, [sent])]
    assert list(each(together([held], visits))) == list(singly([held], visits))


@pytest.mark.parametrize("first", ["14.5", "15.5", "15.6", "14"])
@pytest.mark.parametrize("second", ["14.4", "15.5", "15.7"])
@pytest.mark.parametrize("governs", list(Governs))
@pytest.mark.parametrize("uncertain", [(True, True), (True, False), (False, True), (False, False)])
def test_repeats(first: str, second: str, governs: Governs, uncertain: tuple[bool, bool]) -> None:
    """Two repeats, each with or without its uncertainty, come to the same in both engines."""
    held = the_set(repeated(at_most("opening_force", "15 lbf"), 2, governs))
    pulls = [
        reading("opening_force", value, "lbf", **({"uncertainty": "0.5"} if known else {}))
        for value, known in zip((first, second), uncertain, strict=True)
    ]
    visits = [(0, pulls)]
    assert list(each(together([held], visits))) == list(singly([held], visits))


@settings(max_examples=50, deadline=None)
@given(st.data())
def test_summaries_agree(data: st.DataObject) -> None:
    """The worst binding verdict of each visit is that of the single engine's measured limits, and
    the counts are those of its lines.
    """
    sets = [data.draw(requirement_set())]
    visits = [(0, data.draw(st.lists(sent(), max_size=6))) for _ in range(3)]
    judged = together(sets, visits)
    advisory = {r.requirement.id for r in sets[0].items if r.advisory}
    order = {word.value: code for code, word in WORDS.items()}
    worst = [0, 0, 0]
    lines = list(singly(sets, visits))
    for number, name, word, _ in lines:
        if name not in advisory:
            worst[number] = max(worst[number], order[word])
    assert judged.worst(3).tolist() == worst
    counts = judged.counts()
    for place, name in enumerate(judged.limits.requirements):
        for code, word in WORDS.items():
            expected = sum(1 for line in lines if line[1] == name and line[2] == word)
            assert counts[place, code] == expected


def test_one_requirement_binding_in_one_place_only() -> None:
    """A requirement adopted in one place and advisory in another weighs only where it binds."""
    spec = at_most("opening_force", "15 lbf")
    sets = [the_set(resolved(spec)), the_set(resolved(spec, advisory=True))]
    fails = [reading("opening_force", "16", "lbf")]
    judged = together(sets, [(0, fails), (1, fails)])
    assert [WORDS.get(code) for code in judged.worst(2).tolist()] == [
        VerdictWord.DOES_NOT_CONFORM,
        None,
    ]


def test_no_readings_no_sets() -> None:
    """An empty portfolio comes to nothing."""
    assert list(each(together([the_set()], []))) == []
    assert list(each(together([the_set()], [(0, [reading("gap", "1", "mm")])]))) == []


def test_eighteen_digits() -> None:
    """The longest numbers that a portfolio holds are still told apart."""
    limit = the_set(at_most("opening_force", "0.999999999999999998 lbf"))
    visits = [(0, [reading("opening_force", f"0.99999999999999999{d}", "lbf")]) for d in "89"]
    words = [word for *_, word, _ in each(together([limit], visits))]
    assert words == ["conforms", "does_not_conform"]


@pytest.mark.parametrize(
    "wrong",
    [
        reading("opening_force", "1234567890123456789", "lbf"),
        reading("opening_force", "1e-19", "lbf"),
        reading("opening_force", "1", "lbf", uncertainty={"value": "1", "unit": "N"}),
        reading("opening_force", "-1", "lbf"),
    ],
)
def test_what_a_portfolio_cannot_hold(wrong: dict[str, Any]) -> None:
    """A number that whole numbers of one step cannot write is refused by its place, not rounded."""
    with pytest.raises(InputError) as caught:
        columns([(DAY, []), (DAY, [wrong])])
    assert [problem.pointer for problem in caught.value.problems] == ["/1/readings/0/value"]


def test_columns_leave_statements_out() -> None:
    """What stands in place of a value has no number to judge; a calibration counts by its day."""
    stated: dict[str, object] = {"quantity": "gap", "result": "not_tested", "reason": "x"}
    due = {"calibration_due_on": "2026-03-01"}
    held: list[dict[str, object]] = [stated, reading("gap", "1", "mm", instrument=due)]
    made = columns([(DAY, held), (date(2026, 3, 2), held)])
    assert made.visit == [0, 1]
    assert made.expired == [False, True]


def test_large_portfolio_is_exact_at_the_limit() -> None:
    """Of 3,000 readings a hundredth of a pound apart exactly those up to the limit conform."""
    limit = the_set(at_most("opening_force", "15 lbf"), check("label"))
    visits = [(0, [reading("opening_force", f"{n}e-3", "lbf")]) for n in range(0, 30_000, 10)]
    (row,) = together([limit], visits).counts()
    assert {word: row[code] for code, word in WORDS.items() if row[code]} == {
        VerdictWord.CONFORMS: 1501,
        VerdictWord.DOES_NOT_CONFORM: 1499,
    }
