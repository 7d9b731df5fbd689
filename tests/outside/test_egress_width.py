"""Clear widths and capacities against figures printed by others.

W-numbers are those of the project's table of worked examples.
"""

from __future__ import annotations

from rules import measure


def inches(value: str) -> dict[str, str]:
    """A length."""
    return {"value": value, "unit": "in"}


def test_an_assembly_room_of_4500_square_feet() -> None:
    """W5: at 15 square feet each, 300 people; at 0.15 in each, 45 in. Secondary: a lesson on
    egress (usearticulate.com, "egress basics").
    """
    answer = measure(
        {
            "kind": "egress_width",
            "floor_area": "4500",
            "area_per_person": "15",
            "width_per_person": inches("0.15"),
        }
    )
    assert answer["occupant_load"] == 300
    assert answer["required_clear_width"] == inches("45")


def test_ninety_three_people_need_less_than_the_minimum() -> None:
    """W6: 93 people at 0.2 in need 18.6 in, so that 32 in govern. Secondary: a thread of
    thebuildingcodeforum.com (10572) on the IBC of 2012.
    """
    answer = measure(
        {
            "kind": "egress_width",
            "occupant_load": "93",
            "width_per_person": inches("0.2"),
            "minimum": inches("32"),
        }
    )
    assert answer["width_for_load"] == inches("18.6")
    assert answer["required_clear_width"] == inches("32")
    assert answer["governed_by"] == "minimum"


def test_the_capacity_of_a_clear_width_of_33_inches() -> None:
    """W7: 33 in at 0.15 in each serve 220 people. Secondary, weak: a page that copies the text
    of IBC 1010.
    """
    answer = measure(
        {
            "kind": "egress_width",
            "occupant_load": "100",
            "width_per_person": inches("0.15"),
            "clear_width": inches("33"),
        }
    )
    assert answer["capacity"] == 220
