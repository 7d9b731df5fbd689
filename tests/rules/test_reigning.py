"""Editions adopted for openings of a kind, and a place's own rule for existing doors."""

from __future__ import annotations

import pytest

from rules.asking import requirements
from rules.lint import check_layer
from rules.model import Resolved
from rules.vocabulary import Adoption
from tests.rules.small_library import CITED, DAY, DOOR, SHIRE, amendment, layer, library

# The state binds the older edition on the doors of its hospitals.
WARD = amendment("adopt", "2018-01-01", publication='"code-2010"', where="{ health_care = true }")


def held(shire: str, **facts: object) -> dict[str, Resolved]:
    """What holds at the state with these amendments, by id."""
    found = requirements(
        facts={**DOOR, **facts}, jurisdiction="shire", on=DAY, library=library(shire=SHIRE + shire)
    )
    return {item.requirement.id: item for item in found.items}


def code(found: dict[str, Resolved]) -> dict[str, Adoption]:
    """What the editions of one series bring in, and whether they are adopted."""
    return {name: item.adoption for name, item in found.items() if name.startswith("code-")}


def test_edition_for_openings_of_a_kind_goes_before_the_reference() -> None:
    """Where it binds, no edition of its series applies by mere reference."""
    assert code(held(WARD, health_care=True)) == {
        "code-2010/force/motion": Adoption.RECORDED,
        "code-2010/yearly": Adoption.RECORDED,
    }
    assert code(held(WARD, health_care=False)) == {
        "code-2020/force/motion": Adoption.NOT_RECORDED,
        "code-2020/yearly": Adoption.NOT_RECORDED,
    }


def test_it_stands_beside_what_is_adopted_for_every_opening() -> None:
    """Two authorities may both be right."""
    everywhere = amendment("adopt", "2021-01-01", publication='"code-2020"')
    assert code(held(WARD + everywhere, health_care=True)) == {
        "code-2010/force/motion": Adoption.RECORDED,
        "code-2010/yearly": Adoption.RECORDED,
        "code-2020/force/motion": Adoption.RECORDED,
        "code-2020/yearly": Adoption.RECORDED,
    }


def test_unknown_kind_lists_what_that_edition_alone_has() -> None:
    """The reference holds as ever; a rule of the other edition alone waits for the fact."""
    found = held(WARD, installed_on="2015-01-01")
    assert found["code-2020/yearly"].missing_facts == ()
    assert found["code-2010/force/existing"].missing_facts == ("health_care",)


def test_older_door_keeps_the_reference_of_its_year() -> None:
    """An adoption begins on its day; construction before it is the reference's."""
    found = code(held(WARD, health_care=True, installed_on="2012-01-01"))
    assert found["code-2010/force/motion"] is Adoption.NOT_RECORDED


def test_what_it_brings_in_can_be_amended() -> None:
    """Lint knows what such an edition brings in."""
    text = (
        SHIRE + WARD + amendment("relax", "2021-01-01", target='"code-2010/yearly"', every='"P2Y"')
    )
    known = library()
    assert list(check_layer(layer(text), known)) == []


OWN_RULE = f"""
[[add]]
id = "force/existing"
kind = "limit"
title = "Force that sets an existing leaf in motion here"
basis = "construction"
protects = "egress"
standing = "secondary"
doors = "existing"
from = 2023-01-01
citation = {CITED}
[add.limit]
quantity = "set_in_motion_force"
high = "40 lbf"
"""


@pytest.mark.parametrize(
    ("installed_on", "advisory"), [("2021-05-01", True), ("2024-05-01", False)]
)
def test_reference_stands_back_before_a_places_rule_for_existing_doors(
    installed_on: str,
    advisory: bool,  # noqa: FBT001
) -> None:
    """What no place adopted is shown beside its own rule, and binds nobody."""
    found = held(OWN_RULE, installed_on=installed_on)
    assert ("shire/force/existing" in found) is advisory
    assert found["code-2020/force/motion"].advisory is advisory
    assert found["other-2015/motion"].advisory is advisory
    assert not found["code-2020/yearly"].advisory


def test_adopted_edition_does_not_stand_back() -> None:
    """Two recorded rules on one quantity are both judged."""
    adopted = amendment("adopt", "2020-01-01", publication='"code-2020"')
    found = held(OWN_RULE + adopted)
    assert not found["code-2020/force/motion"].advisory
    assert not found["shire/force/existing"].advisory
