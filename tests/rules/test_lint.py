"""Lint finds every mistake in a place's file, and says where and why."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rules
from rules.errors import DataError, Problem
from rules.intervals import window_after, window_from_occasion
from rules.lint import check_layer, parse_layer
from rules.loading.specs import read_spec
from rules.loading.table import Table
from rules.model import IntervalSpec
from rules.predicates import OneOf
from rules.recurrence import course
from rules.remarks import remarks
from rules.vocabulary import Kind, Meaning
from tests.rules.small_library import CITED, CODE_2020, LAND, SHIRE, amendment, layer, library

FORCE = '"code-2020/force/motion"'
TOWN = SHIRE.replace('"land"', '"shire"').replace('code = "shire"', 'code = "town"')
ADDED = f"""
[[add]]
id = "letters"
kind = "limit"
title = "Letters of the sign"
basis = "maintenance"
protects = "record"
standing = "verified"
citation = {CITED}
from = 2024-01-01
[add.limit]
quantity = "sign_letter_height"
low = "1 in"
"""


def mistakes(text: str, *, shire: str = SHIRE) -> set[tuple[str, str]]:
    """Places and codes of the mistakes of a town's file under the invented state."""
    try:
        parse_layer(text, library=library(shire=shire))
    except DataError as refused:
        return {(problem.pointer, problem.code) for problem in refused.problems}
    return set()


def test_sound_file_has_no_mistake() -> None:
    """A town that adds, adopts, tightens, relaxes and withdraws rightly is accepted."""
    text = (
        TOWN
        + ADDED
        + amendment("adopt", "2021-01-01", publication='"code-2020"')
        + amendment("adopt", "2021-01-01", requirement='"habit/quarterly"')
        + amendment("tighten", "2021-01-01", target=FORCE, high='"20 lbf"')
        + amendment("relax", "2021-01-01", target='"code/yearly"', every='"P2Y"')
        + amendment("withdraw", "2021-01-01", target='"other-2015/motion"')
    )
    assert mistakes(text) == set()


CASES = {
    "unknown key": (
        amendment("tighten", "2021-01-01", target=FORCE, high='"20 lbf"', hihg='"1 lbf"'),
        ("/tighten/0/hihg", "unknown_key"),
    ),
    "unknown table": ("[[tigten]]\n", ("/tigten", "unknown_key")),
    "unit of the wrong dimension": (
        amendment("tighten", "2021-01-01", target=FORCE, high='"20 in"'),
        ("/tighten/0/high", "cannot_move"),
    ),
    "unit of the wrong dimension in an addition": (
        ADDED.replace("1 in", "1 lbf"),
        ("/add/0/limit/low", "wrong_dimension"),
    ),
    "unknown unit": (
        amendment("tighten", "2021-01-01", target=FORCE, high='"20 ounces"'),
        ("/tighten/0/high", "unknown_unit"),
    ),
    "unknown target": (
        amendment("tighten", "2021-01-01", target='"code-2020/force/pull"', high='"20 lbf"'),
        ("/tighten/0/target", "unknown_target"),
    ),
    "unknown publication": (
        amendment("adopt", "2021-01-01", publication='"code-2030"'),
        ("/adopt/0/publication", "unknown_target"),
    ),
    "unknown requirement": (
        amendment("adopt", "2021-01-01", requirement='"habit/yearly"'),
        ("/adopt/0/requirement", "unknown_target"),
    ),
    "habits adopted whole": (
        amendment("adopt", "2021-01-01", publication='"habit"'),
        ("/adopt/0/publication", "not_an_edition"),
    ),
    "publication and requirement": (
        amendment("adopt", "2021-01-01", publication='"habit"', requirement='"habit/quarterly"'),
        ("/adopt/0", "missing"),
    ),
    "overlapping editions": (
        amendment("adopt", "2011-01-01", publication='"code-2010"')
        + amendment("adopt", "2021-01-01", publication='"code-2020"'),
        ("/adopt/1/from", "overlap"),
    ),
    "overlapping amendments": (
        amendment("tighten", "2021-01-01", target=FORCE, high='"20 lbf"', until="2022-01-01")
        + amendment("tighten", "2022-01-01", target=FORCE, high='"10 lbf"'),
        ("/tighten/1/from", "overlap"),
    ),
    "missing citation": (
        amendment("tighten", "2021-01-01", target=FORCE, high='"20 lbf"').replace(
            f"citation = {CITED}\n", ""
        ),
        ("/tighten/0/citation", "missing"),
    ),
    "citation of nothing": (
        amendment("tighten", "2021-01-01", target=FORCE, high='"20 lbf"').replace(
            CITED, '{ clause = "7" }'
        ),
        ("/tighten/0/citation/publication", "missing"),
    ),
    "missing standing": (
        amendment("tighten", "2021-01-01", target=FORCE, high='"20 lbf"').replace(
            'standing = "verified"\n', ""
        ),
        ("/tighten/0/standing", "missing"),
    ),
    "missing day": (
        amendment("tighten", "2021-01-01", target=FORCE, high='"20 lbf"').replace(
            "from = 2021-01-01\n", ""
        ),
        ("/tighten/0/from", "missing"),
    ),
    "ends before it begins": (
        amendment("tighten", "2021-01-01", target=FORCE, high='"20 lbf"', until="2020-01-01"),
        ("/tighten/0/until", "out_of_order"),
    ),
    "no number": (
        amendment("tighten", "2021-01-01", target=FORCE),
        ("/tighten/0", "missing"),
    ),
    "tightened outwards": (
        amendment("tighten", "2021-01-01", target=FORCE, high='"40 lbf"'),
        ("/tighten/0", "wrong_direction"),
    ),
    "relaxed inwards": (
        amendment("relax", "2021-01-01", target=FORCE, high='"20 lbf"'),
        ("/relax/0", "wrong_direction"),
    ),
    "relaxed to the same": (
        amendment("relax", "2021-01-01", target=FORCE, high='"30 lbf"'),
        ("/relax/0", "wrong_direction"),
    ),
    "longer interval called tighter": (
        amendment("tighten", "2021-01-01", target='"code/yearly"', every='"P2Y"'),
        ("/tighten/0", "wrong_direction"),
    ),
    "same interval called tighter": (
        amendment("tighten", "2021-01-01", target='"code/yearly"', every='"P12M"'),
        ("/tighten/0", "wrong_direction"),
    ),
    "moving what has no number": (
        amendment("tighten", "2021-01-01", target='"habit/obstruct"', high='"2 s"'),
        ("/tighten/0/target", "cannot_move"),
    ),
    "relaxing a thing that is not there": (
        amendment("relax", "2021-01-01", target='"other-2015/by-name"', high='"20 s"'),
        ("/relax/0/target", "not_inherited"),
    ),
    "withdrawing a thing that is not there": (
        amendment("withdraw", "2021-01-01", target='"other-2015/by-name"'),
        ("/withdraw/0/target", "not_inherited"),
    ),
    "replaced by another kind": (
        ADDED.replace("[[add]]", "[[replace]]")
        .replace("[add.limit]", "[replace.limit]")
        .replace('id = "letters"', 'target = "habit/quarterly"'),
        ("/replace/0/kind", "wrong_kind"),
    ),
    "unknown fact in where": (
        amendment("withdraw", "2021-01-01", target='"code/yearly"', where="{ colour = 1 }"),
        ("/withdraw/0/where/colour", "unknown_fact"),
    ),
    "unknown word": (
        amendment("adopt", "2021-01-01", publication='"code-2020"', existing_doors='"none"'),
        ("/adopt/0/existing_doors", "unknown_word"),
    ),
}


@pytest.mark.parametrize(("text", "expected"), CASES.values(), ids=CASES)
def test_mistakes_are_named_by_their_place(text: str, expected: tuple[str, str]) -> None:
    """Each mistake is found, at its key and with its reason."""
    assert expected in mistakes(TOWN + text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (TOWN.replace('"shire"', '"isle"'), ("/jurisdiction/parent", "unknown_place")),
        (TOWN.replace('"shire"', '"town"'), ("/jurisdiction/parent", "cycle")),
        (LAND + "", None),
        (LAND.replace("kind", 'parent = "shire"\nkind'), ("/jurisdiction/parent", "cycle")),
        (TOWN.replace('"town"', '"land"', 1), ("/jurisdiction/parent", "cycle")),
        (TOWN.replace('name = "Shire"\n', ""), ("/jurisdiction/name", "missing")),
        ("jurisdiction = 1\n", ("/jurisdiction", "wrong_type")),
        ("", ("", "missing")),
    ],
)
def test_head_of_a_place(text: str, expected: tuple[str, str] | None) -> None:
    """A place has a code, a name, and a parent that exists and is not below it."""
    assert mistakes(text) == ({expected} if expected else set())


def test_place_keeps_its_parent() -> None:
    """A further document of a packaged place cannot move it elsewhere."""
    text = SHIRE.replace('parent = "land"\n', "")
    assert mistakes(text) == {("/jurisdiction/parent", "wrong_parent")}


def test_amendments_for_other_doors_do_not_overlap() -> None:
    """Two amendments of one rule may stand together where they speak of different doors."""
    text = TOWN + "".join(
        amendment(
            "tighten",
            "2021-01-01",
            target=FORCE,
            high='"20 lbf"',
            where=f"{{ fire_door = {word} }}",
        )
        for word in ("true", "false")
    )
    assert mistakes(text) == set()


def test_event_has_no_period_to_move() -> None:
    """What an event makes owed has no interval that could be tightened."""
    shire = (
        SHIRE
        + ADDED.partition("[add.limit]")[0].replace('"limit"', '"interval"')
        + ('[add.interval]\nactivity = "repair_retest"\nafter = "repair"\n')
    )
    text = TOWN + amendment("tighten", "2025-01-01", target='"shire/letters"', every='"P1M"')
    assert ("/tighten/0/target", "cannot_move") in mistakes(text, shire=shire)


def test_records_kept_longer_are_a_tightening() -> None:
    """A longer retention tightens, a shorter one relaxes."""
    shire = (
        SHIRE
        + ADDED.partition("[add.limit]")[0].replace('"limit"', '"retention"')
        + ('[add.retention]\nkeep = "P3Y"\n')
    )
    longer = TOWN + amendment("tighten", "2025-01-01", target='"shire/letters"', keep='"P6Y"')
    assert mistakes(longer, shire=shire) == set()
    shorter = longer.replace("P6Y", "P2Y")
    assert ("/tighten/0", "wrong_direction") in mistakes(shorter, shire=shire)


def test_one_end_in_and_one_end_out_is_neither() -> None:
    """A range moved sideways is neither tightened nor relaxed: it is replaced."""
    text = TOWN + amendment(
        "tighten", "2025-01-01", target='"habit/speed"', low='"8 in/s"', high='"30 in/s"'
    )
    assert ("/tighten/0", "wrong_direction") in mistakes(text)


def test_what_the_state_withdrew_cannot_be_relaxed() -> None:
    """A rule that the state took away for every door is not there for its towns."""
    shire = SHIRE + amendment("withdraw", "2015-01-01", target='"code/yearly"')
    text = TOWN + amendment("relax", "2021-01-01", target='"code-2020/yearly"', every='"P2Y"')
    assert ("/relax/0/target", "not_inherited") in mistakes(text, shire=shire)


def test_states_own_rule_can_be_moved_by_its_town() -> None:
    """What the state added may be tightened under its name."""
    text = TOWN + amendment("tighten", "2025-01-01", target='"shire/letters"', low='"2 in"')
    assert mistakes(text, shire=SHIRE + ADDED) == set()


def test_another_states_rule_cannot_be_moved() -> None:
    """What a place outside the way down added is no target here."""
    text = LAND.replace("land", "isle") + amendment(
        "tighten", "2025-01-01", target='"shire/letters"', low='"2 in"'
    )
    known = library(shire=SHIRE + ADDED)
    found = {
        problem.code for problem in check_layer(layer(TOWN.replace("shire", "land") + ""), known)
    }
    assert found == set()
    assert ("/tighten/0/target", "not_inherited") in mistakes(
        text.replace("kind", 'parent = "land"\nkind', 1), shire=SHIRE + ADDED
    )


def test_unpackaged_places_above_are_known_where_they_are_given() -> None:
    """A district under a service's own town is judged against that town."""
    town = layer(TOWN + ADDED)
    district = TOWN.replace('"shire"', '"town"').replace('code = "town"', 'code = "district"')
    text = district + amendment("tighten", "2025-01-01", target='"town/letters"', low='"2 in"')
    assert parse_layer(text, library=library(), above=(town,)).parent == "town"


def test_policy_may_not_relax() -> None:
    """An organization can bind itself more strictly, never less."""
    text = '[policy]\ncode = "house"\n' + amendment(
        "relax", "2021-01-01", target=FORCE, high='"50 lbf"'
    )
    assert ("/relax", "not_allowed") in mistakes(text)


@pytest.mark.parametrize(
    ("head", "code"),
    [
        ('[policy]\ncode = "house"\n', "policy:house"),
        ('[variance]\nnumber = "v-7"\nfrom = 2025-01-01\n', "variance:v-7"),
    ],
)
def test_policy_and_variance_are_read(head: str, code: str) -> None:
    """A policy and a variance name what they change; where they stand is told by the call."""
    text = head + amendment("tighten", "2025-01-01", target='"code/force/motion"', high='"9 lbf"')
    assert parse_layer(text, library=library()).code == code
    wrong = text.replace("motion", "pull")
    assert mistakes(wrong) == {("/tighten/0/target", "unknown_target")}


def test_variance_states_its_days_once() -> None:
    """An amendment of a variance without days of its own has those of the head."""
    block = amendment("relax", "2025-01-01", target='"code/force/motion"', high='"40 lbf"')
    text = '[variance]\nnumber = "v-7"\nfrom = 2025-01-01\nuntil = 2025-06-30\n' + block.replace(
        "from = 2025-01-01\n", ""
    )
    (granted,) = parse_layer(text, library=library()).amendments
    assert (granted.since, granted.until) == (date(2025, 1, 1), date(2025, 6, 30))


def test_only_a_place_adopts_an_edition() -> None:
    """A variance or a policy speaks of single requirements."""
    text = '[policy]\ncode = "house"\n' + amendment(
        "adopt", "2021-01-01", publication='"code-2020"'
    )
    assert ("/adopt/0/publication", "not_allowed") in mistakes(text)


DURATIONS = st.one_of(
    st.sampled_from(("P1W", "P1M", "P3M", "P5M", "P6M", "P1Y", "P12M", "P0D", "PT4H", "P100Y")),
    st.builds("P{}D".format, st.integers(0, 400)),
    st.builds("P{}M".format, st.integers(0, 60)),
)
INTERVALS = st.fixed_dictionaries(
    {"activity": st.just("periodic_inspection")},
    optional={
        "every": DURATIONS,
        "meaning": st.sampled_from(sorted(Meaning)),
        "next_from": st.sampled_from(("visit", "due_date")),
        "after": st.sampled_from(("repair", "installation")),
        **dict.fromkeys(("early", "late", "least", "greatest"), DURATIONS),
    },
)
NAMED_DAYS = (date(2000, 1, 1), date(2024, 2, 29), date(2099, 12, 31))


@settings(max_examples=600, deadline=None)
@given(written=INTERVALS, day=st.dates(date(1990, 1, 1), date(2150, 1, 1)))
def test_every_interval_that_lint_accepts_gives_a_window(
    written: dict[str, str], day: date
) -> None:
    """On every day: what its author was not refused, nobody who lives under it is."""
    problems: list[Problem] = []
    spec = read_spec(Kind.INTERVAL, Table(written, "", problems))
    if problems:
        assert {p.pointer.strip("/") for p in problems} <= {*written, "every", "meaning"}
        return
    assert isinstance(spec, IntervalSpec)
    for start in (*NAMED_DAYS, day):
        assert spec.after or course(spec, start, [])
        window = window_from_occasion(start, spec) if spec.after else window_after(start, spec)
        assert start <= window.opens_on <= window.due_on <= window.closes_on


@pytest.mark.parametrize(
    ("written", "mistake"),
    [
        ({"every": "P5M", "meaning": "calendar_period"}, ("/every", "not_a_calendar_period")),
        (
            {"every": "P3M", "meaning": "between", "least": "P4M", "greatest": "P2M"},
            ("/least", "out_of_order"),
        ),
        (
            {"every": "P3M", "meaning": "between", "least": "P90D", "greatest": "P4M"},
            ("/least", "out_of_order"),
        ),
        (
            {"every": "P1M", "meaning": "from_date", "early": "P30D", "late": "P1D"},
            ("/early", "out_of_order"),
        ),
        ({"every": "P1M", "late": "PT4H"}, ("/late", "not_a_duration")),
        ({"every": "P3M", "meaning": "between", "least": "P2M"}, ("/meaning", "missing")),
        ({"every": "P3M", "least": "P2M"}, ("/least", "not_allowed")),
        ({"every": "P3M", "meaning": "calendar_period", "early": "P1D"}, ("/early", "not_allowed")),
        ({}, ("/every", "missing")),
    ],
)
def test_an_interval_that_gives_no_window_is_refused(
    written: dict[str, str], mistake: tuple[str, str]
) -> None:
    """A period that the calendar does not have, edges in the wrong order: at its key."""
    problems: list[Problem] = []
    read_spec(Kind.INTERVAL, Table({"activity": "operation_test", **written}, "", problems))
    assert [(p.pointer, p.code) for p in problems] == [mistake]


def test_a_move_is_judged_by_what_stands_above() -> None:
    """The state made 20 lbf of it: 25 lbf is no tightening in its town, whatever is printed."""
    shire = SHIRE + amendment(
        "tighten", "2015-01-01", target='"code/force/motion"', high='"20 lbf"'
    )
    text = TOWN + amendment("tighten", "2021-01-01", target='"code/force/motion"', high='"25 lbf"')
    assert ("/tighten/0", "wrong_direction") in mistakes(text, shire=shire)
    assert mistakes(text.replace("tighten", "relax"), shire=shire) == set()


def test_a_number_that_the_target_does_not_have_is_refused() -> None:
    """A limit has no interval to move beside its number."""
    text = TOWN + amendment("tighten", "2021-01-01", target=FORCE, high='"20 lbf"', every='"P1M"')
    assert mistakes(text) == {("/tighten/0/every", "not_allowed")}


def test_the_last_day_is_inside() -> None:
    """Until the 31st, the next may begin on the 1st."""
    text = TOWN + amendment(
        "tighten", "2021-01-01", target=FORCE, high='"20 lbf"', until="2021-12-31"
    )
    after = amendment("tighten", "2022-01-01", target=FORCE, high='"10 lbf"')
    assert mistakes(text + after) == set()
    assert mistakes(text + after.replace("2022-01-01", "2021-12-31")) == {
        ("/tighten/1/from", "overlap")
    }


def test_mistakes_of_shape_hide_no_others() -> None:
    """A missing citation, and an unknown target there and in the same statement: in one run."""
    broken = amendment("tighten", "2021-01-01", target='"code/force/pull"', hihg='"1 lbf"')
    text = TOWN + broken.replace(f"citation = {CITED}\n", "")
    text += amendment("withdraw", "2021-01-01", target='"code/nothing"')
    assert mistakes(text) == {
        ("/tighten/0/citation", "missing"),
        ("/tighten/0/hihg", "unknown_key"),
        ("/tighten/0", "missing"),
        ("/tighten/0/target", "unknown_target"),
        ("/withdraw/0/target", "unknown_target"),
    }


@pytest.mark.parametrize("day", ["0001-01-01", "1799-12-31", "3000-01-01", "9999-12-31"])
@pytest.mark.parametrize("key", ["from", "until"])
def test_days_that_have_no_day_before_or_after_are_refused(key: str, day: str) -> None:
    """An edition displaces what stood the day before."""
    text = amendment("adopt", "2021-01-01", publication='"code-2020"', until="2022-01-01")
    then = {"from": "2021-01-01", "until": "2022-01-01"}[key]
    text = text.replace(f"{key} = {then}", f"{key} = {day}")
    assert (f"/adopt/0/{key}", "out_of_range") in mistakes(TOWN + text)


def test_only_an_earlier_document_of_the_place_is_superseded() -> None:
    """There must be one, it must speak of the same, and it must have begun before."""
    one = TOWN + amendment("tighten", "2021-01-01", target=FORCE, high='"20 lbf"')
    first = layer(one)

    def second(since: str, target: str = FORCE) -> set[tuple[str, str]]:
        text = TOWN + amendment("tighten", since, target=target, high='"10 lbf"', supersedes="true")
        try:
            parse_layer(text, library=library(), above=(first,))
        except DataError as refused:
            return {(problem.pointer, problem.code) for problem in refused.problems}
        return set()

    assert second("2022-01-01") == set()
    assert second("2021-01-01") == {("/tighten/0/from", "overlap")}
    assert second("2022-01-01", '"other-2015/motion"') == {
        ("/tighten/0/supersedes", "unknown_target")
    }


def test_remarks_name_what_reaches_new_doors_alone() -> None:
    """A construction limit without a word on existing doors; not an interval, not with a word."""
    moved = amendment("tighten", "2021-01-01", target=FORCE, high='"20 lbf"')
    yearly = amendment("relax", "2021-01-01", target='"code/yearly"', every='"P2Y"')
    known = library()
    found = remarks(layer(TOWN + moved + yearly), known)
    assert [(remark.pointer, remark.code) for remark in found] == [("/tighten/0", "new_doors_only")]
    assert "from 2021-01-01 on" in found[0].message
    assert remarks(layer(TOWN + moved + 'existing_doors = "this_edition"\n'), known) == []


def test_a_publication_is_linted_as_well() -> None:
    """A contributor's edition: its mistakes by their place."""
    assert rules.lint(CODE_2020, name="code-2020.toml") == []
    found = rules.lint(CODE_2020.replace("lbf", "furlong"), name="code-2020.toml")
    assert {problem.code for problem in found} == {"unknown_unit"}


def test_broken_text_is_one_mistake_with_its_line() -> None:
    """A text that is no TOML is refused with the line, never with a traceback."""
    (problem,) = rules.lint("[jurisdiction\n", name="x.toml")
    assert (problem.code, "line 1" in problem.message) == ("not_toml", True)


def test_mapping_is_read_like_its_text() -> None:
    """The same override as JSON would carry it, its dates as text."""
    found = parse_layer(
        {
            "jurisdiction": {"code": "town", "parent": "shire", "name": "Town"},
            "withdraw": [
                {
                    "target": "code/yearly",
                    "from": "2021-01-01",
                    "standing": "verified",
                    "where": {"door_type": "swinging"},
                    "citation": {"publication": "Act", "edition": "1", "clause": "2"},
                }
            ],
        },
        library=library(),
    )
    assert found.amendments[0].where == OneOf("door_type", ("swinging",))


@pytest.mark.parametrize("document", [[], 7, None])
def test_anything_else_is_refused(document: object) -> None:
    """An override is a text or a mapping."""
    with pytest.raises(DataError):
        parse_layer(document, library=library())  # type: ignore[arg-type]


def test_real_names_are_known_to_the_verb() -> None:
    """The verb lints against the packaged data."""
    text = TOWN.replace('"shire"', '"us-mn"') + amendment(
        "adopt", "2024-01-01", requirement='"common-practice/quarterly-operation-test"'
    )
    assert rules.lint(text, name="town.toml") == []
    assert rules.lint(text.replace("quarterly", "daily"), name="town.toml")[0].code == (
        "unknown_target"
    )
