"""What a door's sound and standing may mean: every combination is answered, none with comfort."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from rules.errors import InputError
from rules.practice.signs import NOT_KNOWN, SEEN, signs
from rules.shapes import schema
from rules.vocabulary import DoorType, Operation
from tests.rules.test_retests import packaged_names

ACCORDION = {"door_type": "accordion", "operation": "power"}
CITED = {"publication": "instructions", "edition": "C", "clause": "7"}
OWN = {
    "heard": ["repeated"],
    "may_mean": "Three short tones: the charger has failed.",
    "do_first": ["Call the number on the label."],
    "citation": CITED,
}


def asked(
    *seen: str,
    facts: dict[str, Any] | None = None,
    own: Sequence[dict[str, Any]] = (),
    language: str = "en",
) -> dict[str, Any]:
    """The answer on what is heard and seen at a driven accordion door, or at another."""
    heard, door, mains, alarm = seen
    return signs(
        heard=heard,
        door=door,
        mains=mains,
        alarm=alarm,
        facts=ACCORDION if facts is None else facts,
        own=own,
        language=language,
    )


def told(answer: dict[str, Any]) -> list[str]:
    """Which signs were answered."""
    return [one["sign"] for one in answer["meanings"]]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("door_type", list(DoorType))
def test_every_combination_is_answered(door_type: DoorType, language: str) -> None:
    """Each says what to do first and whom to call, in the shape that ships; none says "safe"."""
    validator = Draft202012Validator(schema("signs"))
    words = [(*SEEN[key], NOT_KNOWN) for key in SEEN]
    for seen, operation in product(product(*words), Operation):
        facts = {"door_type": door_type.value, "operation": operation.value, "hold_open": False}
        answer = asked(*seen, facts=facts, language=language)
        validator.validate(answer)
        assert answer["first"]
        for one in answer["meanings"]:
            assert one["do_first"]
            assert one["do_not"]
            assert one["call"]
            said = " ".join([one["may_mean"], *one["do_first"]]).casefold()
            assert "safe" not in said.split()
            assert "segura" not in said.split()


def test_every_known_combination_has_a_meaning_at_every_door() -> None:
    """With what is heard and seen told whole, custom has something to say at each kind of door."""
    for seen, door_type, operation in product(product(*SEEN.values()), DoorType, Operation):
        facts = {"door_type": door_type.value, "operation": operation.value, "hold_open": False}
        assert asked(*seen, facts=facts)["known"], (seen, door_type, operation)


def test_reports_are_about_what_a_rule_asks() -> None:
    """The subject of a report is one that the packaged rules know."""
    subjects = {
        one["subject"]
        for seen, door_type in product(product(*SEEN.values()), DoorType)
        for one in asked(*seen, facts={"door_type": door_type.value})["meanings"]
    }
    assert len(subjects - {None}) > 5
    assert subjects - {None} <= packaged_names()


@pytest.mark.parametrize(
    ("seen", "sign"),
    [
        (("steady", "closed", "on", "yes"), "fire-mode"),
        (("steady", "closed", "on", "no"), "fire-mode-without-alarm"),
        (("silent", "open", "on", "yes"), "not-closed-on-alarm"),
        (("repeated", "open", "off", "no"), "on-battery"),
        (("repeated", "open", "on", "no"), "trouble"),
        (("repeated", "closed", "off", "no"), "closed-on-low-battery"),
        (("steady", "part_way", "on", "yes"), "stopped-in-fire-mode"),
        (("silent", "open", "off", "no"), "silent-on-battery"),
    ],
)
def test_what_an_accordion_door_may_mean(seen: tuple[str, ...], sign: str) -> None:
    """The facts of the trade: fire mode is steady; on a line failure it stays open, then closes on
    its low battery.
    """
    assert told(asked(*seen)) == [sign]


def test_what_is_not_known_answers_both_and_says_so() -> None:
    """Whether the mains are on is not known: both meanings, each saying what it hangs on."""
    answer = asked("repeated", "open", NOT_KNOWN, "no")
    assert told(answer) == ["on-battery", "trouble"]
    assert [one["hangs_on"] for one in answer["meanings"]] == [["mains"], ["mains"]]


def test_a_door_of_which_nothing_is_known() -> None:
    """No fact is needed; what each meaning hangs on is told."""
    answer = asked("silent", "part_way", "on", "no", facts={})
    assert {"curtain-part-way", "leaf-not-latched", "stopped-with-trouble"} <= set(told(answer))
    assert all(one["missing_facts"] for one in answer["meanings"])
    assert {one["subject"] for one in answer["meanings"]} == {None}


def test_its_own_table_goes_first() -> None:
    """A row of the door's own instructions stands before common practice, with its citation."""
    answer = asked("repeated", "open", "on", "no", own=[OWN], language="es")
    first, second = answer["meanings"]
    assert (first["from"], first["citation"]) == ("listed_instructions", CITED)
    assert first["may_mean"] == OWN["may_mean"]
    assert (second["from"], second["citation"]) == ("common_practice", None)
    Draft202012Validator(schema("signs")).validate(answer)


def test_its_own_table_may_be_of_another_sign() -> None:
    """A row that does not fit what is heard is not told."""
    assert told(asked("steady", "closed", "on", "yes", own=[OWN])) == ["fire-mode"]


@pytest.mark.parametrize(
    ("own", "pointer"),
    [
        ({**OWN, "heard": ["loud"]}, "/own/0/heard"),
        ({**OWN, "colour": "red"}, "/own/0/colour"),
        ({**OWN, "call": ["nobody"]}, "/own/0/call"),
        ({k: v for k, v in OWN.items() if k != "citation"}, "/own/0/citation"),
        ({k: v for k, v in OWN.items() if k != "heard"}, "/own/0"),
        ({k: v for k, v in OWN.items() if k != "do_first"}, "/own/0/do_first"),
    ],
)
def test_a_wrong_row_is_refused_with_its_place(own: dict[str, Any], pointer: str) -> None:
    """Every mistake of a door's own table is named, by the schema as well."""
    with pytest.raises(InputError) as refused:
        asked("repeated", "open", "on", "no", own=[own])
    assert pointer in [one.pointer for one in refused.value.problems]
    document = schema("signs")
    rows = Draft202012Validator({"$defs": document["$defs"], "$ref": "#/$defs/own"})
    assert not rows.is_valid(own)
    assert rows.is_valid(OWN)


def test_a_word_that_is_none_is_refused() -> None:
    """Each with its field."""
    with pytest.raises(InputError) as refused:
        asked("loud", "ajar", "on", "no", language="xx")
    assert [one.pointer for one in refused.value.problems] == ["/heard", "/door", "/language"]
