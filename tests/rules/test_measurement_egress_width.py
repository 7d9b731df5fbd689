"""Clear width for an occupant load, and the pushes that give it."""

from __future__ import annotations

from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules import measure
from rules.errors import InputError


def inches(value: str) -> dict[str, str]:
    """A length."""
    return {"value": value, "unit": "in"}


def width(**fields: object) -> dict:
    """What the library says of 0.2 in a person and the fields given."""
    return measure({"kind": "egress_width", "width_per_person": inches("0.2"), **fields})


@pytest.mark.parametrize(
    ("load", "needed", "governs"),
    [("160", "32", "occupant_load"), ("161", "32.2", "occupant_load"), ("159", "32", "minimum")],
)
def test_load_or_minimum_governs(load: str, needed: str, governs: str) -> None:
    """Exactly at the minimum the load gives the same width."""
    answer = width(occupant_load=load, minimum=inches("32"))
    assert (answer["required_clear_width"]["value"], answer["governed_by"]) == (needed, governs)


@pytest.mark.parametrize(("load", "pushes"), [("360", 2), ("361", 3), ("1", 1), ("0", 0)])
def test_pushes_are_rounded_up(load: str, pushes: int) -> None:
    """72 in are two pushes of 36 in; a hair more needs a third."""
    assert width(occupant_load=load, increment=inches("36"))["pushes"] == pushes


def test_lengths_may_be_in_different_units() -> None:
    """5.08 mm a person, a minimum in inches, pushes in feet: 300 people need 60 in, 2 pushes."""
    answer = width(
        occupant_load=300,
        width_per_person={"value": "5.08", "unit": "mm"},
        minimum=inches("32"),
        increment={"value": "3", "unit": "ft"},
    )
    assert answer["required_clear_width"] == {"value": "1524", "unit": "mm"}
    assert answer["pushes"] == 2


def test_people_are_counted_whole_from_an_area() -> None:
    """4501 square feet at 15 each are 301 people, never 300.07."""
    assert width(floor_area="4501", area_per_person="15")["occupant_load"] == 301


@given(st.integers(0, 10_000), st.integers(1, 400), st.integers(1, 2000))
def test_the_pushes_give_the_width_and_one_fewer_does_not(
    load: int, hundredths: int, tenths: int
) -> None:
    """The pushes are the least whole number whose distance is the width or more."""
    each, increment = inches(f"{hundredths / 100:.2f}"), inches(f"{tenths / 10:.1f}")
    answer = width(occupant_load=load, width_per_person=each, increment=increment)
    assert answer["pushes"] == ceil(load * hundredths * 10 / (tenths * 100)) or load == 0
    assert answer["pushes"] * tenths * 10 >= load * hundredths
    assert (answer["pushes"] - 1) * tenths * 10 < load * hundredths or load == 0


@pytest.mark.parametrize(
    ("fields", "pointer", "code"),
    [
        ({}, "/floor_area", "required"),
        ({"occupant_load": "3.5"}, "/occupant_load", "out_of_range"),
        ({"occupant_load": "-3"}, "/occupant_load", "out_of_range"),
        ({"occupant_load": "1000001"}, "/occupant_load", "out_of_range"),
        ({"floor_area": "100"}, "/area_per_person", "required"),
        ({"occupant_load": 5, "floor_area": "100"}, "/floor_area", "not_both"),
        ({"floor_area": "1e12", "area_per_person": "1"}, "/floor_area", "out_of_range"),
        ({"floor_area": "100", "area_per_person": "0"}, "/area_per_person", "out_of_range"),
        ({"occupant_load": 10, "increment": inches("0")}, "/increment/value", "out_of_range"),
        ({"occupant_load": 10, "width_per_person": None}, "/width_per_person", "required"),
        ({"occupant_load": 10, "doors": 2}, "/doors", "unknown_field"),
    ],
)
def test_a_wrong_egress_width_is_refused_by_its_place(
    fields: dict, pointer: str, code: str
) -> None:
    """People are whole and not negative; widths are above zero."""
    with pytest.raises(InputError) as refused:
        width(**fields)
    assert [(p.pointer, p.code) for p in refused.value.problems] == [(pointer, code)]
