"""Lint finds every mistake in a place's file, and says where and why."""

from __future__ import annotations

from datetime import date

import pytest

import rules
from rules.errors import DataError
from rules.lint import check_layer, parse_layer
from rules.predicates import OneOf
from tests.rules.small_library import CITED, LAND, SHIRE, amendment, layer, library

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
    "edition for some doors": (
        amendment("adopt", "2021-01-01", publication='"code-2020"', where="{ fire_door = true }"),
        ("/adopt/0/where", "not_allowed"),
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
