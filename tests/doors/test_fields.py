"""The shapes of what comes in."""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

import pytest
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from doors.api.fields import (
    CivilDateField,
    DecimalTextField,
    IdField,
    InstantField,
    ProseField,
    StrictSerializer,
    TextField,
)
from doors.api.scalars import FlagField, WholeField

Field = serializers.Field[Any, Any, Any, Any]


def refusal(field: Field, value: object) -> str:
    """Return the code with which `field` refuses `value`."""
    with pytest.raises(ValidationError) as caught:
        field.run_validation(value)
    detail: Any = caught.value.detail
    return str(detail[0].code)


@pytest.mark.parametrize("text", ["0", "-5", "-0", "60.0", "60.000000000000001", "0.1"])
def test_a_decimal_is_kept_as_sent(text: str) -> None:
    """The digits that were written are the digits that are kept."""
    assert DecimalTextField().run_validation(text) == text


@pytest.mark.parametrize(
    ("value", "code"),
    [
        (60, "not_a_string"),
        (Decimal("60.5"), "not_a_string"),
        (True, "not_a_string"),
        ([], "not_a_string"),
        ("60,5", "not_a_number"),
        ("60 N", "not_a_number"),
        (" 60", "not_a_number"),
        ("+60", "not_a_number"),
        ("060", "not_a_number"),
        ("1e3", "not_a_number"),
        ("NaN", "not_a_number"),
        ("Infinity", "not_a_number"),
        ("", "not_a_number"),
        (".5", "not_a_number"),
        ("٦٠", "not_a_number"),
        ("1" * 41, "too_long"),
        (None, "null"),
    ],
)
def test_what_is_no_decimal_text_is_refused(value: object, code: str) -> None:
    """No number is guessed from something else."""
    assert refusal(DecimalTextField(), value) == code


def test_an_instant_keeps_its_moment_and_its_text() -> None:
    """The offset that was sent is part of what was said."""
    sent = "2026-03-01T09:30:00.250-06:00"
    found = InstantField().run_validation(sent)
    assert (found.at, found.as_sent) == (datetime(2026, 3, 1, 15, 30, 0, 250_000, tzinfo=UTC), sent)
    assert InstantField().to_representation(found) == sent


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ("2026-03-01T09:30:00", "offset_missing"),
        ("2026-03-01", "not_an_instant"),
        ("2026-03-01 09:30:00Z", "not_an_instant"),
        ("2026-02-30T09:30:00Z", "not_an_instant"),
        ("2026-03-01T24:00:00Z", "not_an_instant"),
        ("2026-03-01T23:59:60Z", "not_an_instant"),
        ("2026-03-01T09:30:00+05:99", "not_an_instant"),
        ("2026-03-01T09:30:00.1234567Z", "not_an_instant"),
        ("2026-03-01T09:30:00+14:01", "out_of_range"),
        ("9999-03-01T09:30:00Z", "out_of_range"),
        ("0000-03-01T09:30:00Z", "not_an_instant"),
        (1_772_357_400, "not_a_string"),
    ],
)
def test_what_is_no_instant_is_refused(value: object, code: str) -> None:
    """A time without offset, or one that no clock shows, is never completed by a guess."""
    assert refusal(InstantField(), value) == code


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ("2026-02-30", "not_a_date"),
        ("2026-3-1", "not_a_date"),
        ("20260301", "not_a_date"),
        ("2026-03-01T00:00:00Z", "not_a_date"),
        ("1799-12-31", "out_of_range"),
        (20260301, "not_a_string"),
    ],
)
def test_what_is_no_civil_date_is_refused(value: object, code: str) -> None:
    """A civil date is a day, in one form."""
    assert refusal(CivilDateField(), value) == code


def test_a_civil_date_is_a_day() -> None:
    """A leap day is a day."""
    assert CivilDateField().run_validation("2028-02-29") == date(2028, 2, 29)


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ("", "blank"),
        (" North", "outer_space"),
        ("North\n", "control_character"),
        ("No\trth", "control_character"),
        ("No\x7frth", "control_character"),
        ("\u202egnp.exe", "direction_control"),
        ("a\u2066b", "direction_control"),
        ("x" * 201, "too_long"),
        (5, "not_a_string"),
    ],
)
def test_a_name_holds_nothing_that_cannot_be_seen(value: object, code: str) -> None:
    """What could hide, break a header or be mistaken for another name is refused."""
    assert refusal(TextField(), value) == code


def test_names_are_kept_in_one_normal_form() -> None:
    """Two ways to write one letter are one name; other scripts are not touched."""
    assert TextField().run_validation("Cafe\u0301") == "Caf\u00e9"
    assert TextField().run_validation("\u0410\u043d\u043d") == "\u0410\u043d\u043d"


def test_prose_may_have_lines_and_directions() -> None:
    """Free text is kept as written; only control characters are refused."""
    text = "first\r\n\tsecond \u200f\u05e9\u05dc\u05d5\u05dd\u200f "
    assert ProseField().run_validation(text) == text
    assert refusal(ProseField(), "bell\x07") == "control_character"


def test_an_id_and_a_flag_have_one_form() -> None:
    """Neither numbers nor other spellings pass."""
    text = "6f9f1c1e-8d2b-4a52-9d3c-0c9a5c1f7e11"
    assert IdField().run_validation(text) == UUID(text)
    assert refusal(IdField(), text.replace("-", "")) == "not_an_id"
    assert refusal(IdField(), 5) == "not_a_string"
    assert FlagField().run_validation(data=False) is False
    assert refusal(FlagField(), 1) == "not_a_flag"
    assert refusal(FlagField(), "true") == "not_a_flag"


def test_a_whole_number_is_one() -> None:
    """Neither its text, nor a fraction, nor a flag stands for it; bounds hold."""
    assert WholeField(min_value=1).run_validation(5) == 5
    for value in ("5", Decimal("5.0"), True, 5.0):
        assert refusal(WholeField(), value) == "not_whole"
    assert refusal(WholeField(min_value=1), 0) == "min_value"


class Inner(StrictSerializer):
    """A value inside another."""

    value = DecimalTextField()
    made_here = serializers.CharField(read_only=True)


class Outer(StrictSerializer):
    """A list of values."""

    inner = Inner(many=True)


def test_unknown_fields_are_refused_beside_other_mistakes() -> None:
    """A misspelt, an extra and a read-only field are named, at their depth."""
    body = Outer(data={"inner": [{"value": 1}, {"value": "1", "made_here": "x"}], "x": 1})
    assert not body.is_valid()
    assert body.errors["x"][0].code == "unknown_field"
    assert body.errors["inner"][0]["value"][0].code == "not_a_string"
    assert body.errors["inner"][1]["made_here"][0].code == "unknown_field"


class Chosen(StrictSerializer):
    """One fixed word, and several."""

    one = serializers.ChoiceField(choices=["open", "shut"])
    several = serializers.ListField(
        child=serializers.ChoiceField(choices=["red", "green"]), min_length=1, max_length=2
    )


def test_a_word_that_is_none_of_the_fixed_ones_is_told_which_they_are() -> None:
    """Whoever writes the app reads in the refusal what may stand there."""
    checked = Chosen(data={"one": "ajar", "several": ["red", "blue"]})
    assert not checked.is_valid()
    errors: Any = checked.errors
    assert errors["one"] == ["One of open, shut."]
    assert errors["several"][1] == ["One of red, green."]


def test_a_list_says_how_many_it_takes() -> None:
    """In plain words, and none of a framework."""
    for several, words in ([], "At least 1 of them."), (["red"] * 3, "At most 2 of them."):
        checked = Chosen(data={"one": "open", "several": several})
        assert not checked.is_valid()
        errors: Any = checked.errors
        assert errors["several"] == [words]
