"""Which requirements hold for one opening on one day, and how each came to hold."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

import pytest

from rules.asking import requirements
from rules.errors import InputError, UnknownNameError
from rules.layers import Layer, Library
from rules.library import assemble
from rules.model import IntervalSpec, LimitSpec, RequirementSet, Resolved
from rules.vocabulary import Adoption, Change
from tests.rules.small_library import (
    CITED,
    DAY,
    DOOR,
    HABIT,
    LAND,
    OTHER,
    SHIRE,
    amendment,
    layer,
    library,
)


def ask(
    known: Library | None = None,
    facts: Mapping[str, object] = DOOR,
    at: str = "shire",
    on: date = DAY,
    layers: tuple[Layer, ...] = (),
) -> RequirementSet:
    """The set for an invented door in the invented library."""
    return requirements(
        facts=facts, jurisdiction=at, on=on, layers=layers, library=known or library()
    )


def named(found: RequirementSet) -> dict[str, Resolved]:
    """The set by the ids of its requirements."""
    return {item.requirement.id: item for item in found.items}


def high(item: Resolved) -> str:
    """The upper bound as published."""
    assert isinstance(item.requirement.spec, LimitSpec)
    return str(item.requirement.spec.high)


# --- reference editions ----------------------------------------------------------------------


def test_newest_reference_edition_of_the_building_year_governs_construction() -> None:
    """A door of 2021 has the force of the 2020 edition, marked as not adopted."""
    item = named(ask())["code-2020/force/motion"]
    assert (high(item), item.adoption) == ("30 lbf", Adoption.NOT_RECORDED)
    assert item.layer == "land"


def test_older_door_keeps_the_edition_of_its_year() -> None:
    """A door of 2015 keeps the force of the 2010 edition; the newer number is not asked of it."""
    found = named(ask(facts={**DOOR, "installed_on": "2015-01-01"}))
    assert high(found["code-2010/force/motion"]) == "35 lbf"
    assert "code-2020/force/motion" not in found


def test_alteration_makes_a_door_new_again() -> None:
    """The day of alteration decides in place of the installation."""
    facts = {**DOOR, "installed_on": "2015-01-01", "altered_on": "2022-01-01"}
    assert "code-2020/force/motion" in named(ask(facts=facts))


def test_maintenance_follows_the_day_of_the_visit() -> None:
    """Whatever the door's age, the edition of the day of the visit says how often."""
    old = {**DOOR, "installed_on": "2015-01-01"}
    assert "code-2020/yearly" in named(ask(facts=old))
    assert "code-2010/yearly" in named(ask(facts=old, on=date(2019, 12, 31)))


def test_rule_held_since_the_first_edition_that_had_it() -> None:
    """A rule that an edition repeats did not begin anew with it."""
    assert named(ask())["code-2020/yearly"].since == date(2010, 1, 1)
    assert named(ask())["other-2015/motion"].since == date(2015, 1, 1)


def test_rule_for_existing_doors_holds_for_those_before_the_edition_alone() -> None:
    """The existing-door rule of the edition in force on the day, beside the as-built one."""
    old = named(ask(facts={**DOOR, "installed_on": "2015-01-01"}))
    assert high(old["code-2020/old"]) == "50 lbf"
    assert "code-2020/old" not in named(ask())


def test_two_publishers_stand_side_by_side() -> None:
    """Neither publisher's number for one quantity displaces the other's."""
    forces = {
        name: high(item)
        for name, item in named(ask()).items()
        if isinstance(item.requirement.spec, LimitSpec)
        and item.requirement.spec.quantity == "set_in_motion_force"
    }
    assert forces == {"code-2020/force/motion": "30 lbf", "other-2015/motion": "32 lbf"}


# --- what is not known -----------------------------------------------------------------------


def test_unknown_fact_lists_the_requirement_with_the_fact() -> None:
    """A requirement whose deciding fact is missing is listed, and says which."""
    facts = {key: value for key, value in DOOR.items() if key != "fire_door"}
    assert named(ask(facts=facts))["code-2020/yearly"].missing_facts == ("fire_door",)


def test_unknown_building_day_lists_construction_rules_with_it() -> None:
    """Without the day of installation no edition can be told to govern, and none drops out."""
    facts = {key: value for key, value in DOOR.items() if key != "installed_on"}
    found = named(ask(facts=facts))
    assert found["code-2020/force/motion"].missing_facts == ("installed_on",)
    assert found["code-2020/old"].missing_facts == ("installed_on",)
    assert found["code-2020/yearly"].missing_facts == ()


def test_excluded_door_is_not_listed() -> None:
    """A fact that is known to exclude takes the requirement out, whatever else is missing."""
    facts = {"door_type": "rolling"}
    assert "code-2020/force/motion" not in named(ask(facts=facts))


def test_memory_and_habit_are_advisory() -> None:
    """What is from memory or common practice is listed, and binds nobody by itself."""
    found = named(ask())
    advisory = {name for name, item in found.items() if item.advisory}
    assert advisory == {"other-2015/remembered", "habit/quarterly", "habit/speed"}


def test_adoption_only_rule_is_absent_until_it_is_adopted_by_name() -> None:
    """A rule outside the reference list stands only where a place names it."""
    assert "other-2015/by-name" not in named(ask())
    whole = library(shire=SHIRE + amendment("adopt", "2016-01-01", publication='"other-2015"'))
    assert "other-2015/by-name" not in named(ask(whole))
    text = amendment("adopt", "2016-01-01", requirement='"other-2015/by-name"')
    item = named(ask(library(shire=SHIRE + text)))["other-2015/by-name"]
    assert (item.layer, item.adoption, item.since) == (
        "shire",
        Adoption.RECORDED,
        date(2016, 1, 1),
    )


# --- adoption --------------------------------------------------------------------------------

MID_YEAR = SHIRE + amendment("adopt", "2022-07-01", publication='"code-2020"').replace(
    "[[adopt]]", '[[adopt]]\nexisting_doors = "this_edition"'
)
KEEPS_2010 = SHIRE + amendment("adopt", "2011-01-01", publication='"code-2010"')


def test_recorded_adoption_goes_before_the_reference() -> None:
    """A state that keeps the 2010 edition has no 2020 rule, and its adoption is on record."""
    item = named(ask(library(shire=KEEPS_2010)))["code-2010/force/motion"]
    assert (item.layer, item.adoption) == ("shire", Adoption.RECORDED)
    assert "code-2020/force/motion" not in named(ask(library(shire=KEEPS_2010)))


def test_adoption_names_what_it_replaced() -> None:
    """The lineage of an adopted rule holds the one of the edition it displaced."""
    text = KEEPS_2010.replace("from = 2011-01-01", "from = 2011-01-01\nuntil = 2022-06-30")
    text += amendment("adopt", "2022-07-01", publication='"code-2020"')
    facts = {**DOOR, "installed_on": "2023-01-01"}
    (step,) = named(ask(library(shire=text), facts))["code-2020/force/motion"].lineage
    assert step.change is Change.ADOPT
    assert step.before is not None
    assert step.before.id == "code-2010/force/motion"


@pytest.mark.parametrize(
    ("installed_on", "expected"),
    [("2022-06-30", "code-2010/force/motion"), ("2022-07-01", "code-2020/force/motion")],
)
def test_mid_year_adoption_divides_doors_by_the_day(installed_on: str, expected: str) -> None:
    """The day before and the day of a mid-year adoption are judged by different editions."""
    text = KEEPS_2010.replace("from = 2011-01-01", "from = 2011-01-01\nuntil = 2022-06-30")
    text += amendment("adopt", "2022-07-01", publication='"code-2020"')
    found = named(ask(library(shire=text), {**DOOR, "installed_on": installed_on}))
    assert [name for name in found if name.endswith("force/motion")] == [expected]


@pytest.mark.parametrize(
    ("on", "edition"), [(date(2022, 6, 30), "code-2010"), (date(2022, 7, 1), "code-2020")]
)
def test_mid_year_adoption_divides_visits_by_the_day(on: date, edition: str) -> None:
    """Maintenance follows the edition adopted on the day of the visit, to the day."""
    text = KEEPS_2010.replace("from = 2011-01-01", "from = 2011-01-01\nuntil = 2022-06-30")
    text += amendment("adopt", "2022-07-01", publication='"code-2020"')
    assert f"{edition}/yearly" in named(ask(library(shire=text), on=on))


def test_place_may_hold_existing_doors_to_its_edition() -> None:
    """`this_edition`: doors that stood before follow the adopted edition as well."""
    facts = {**DOOR, "installed_on": "2012-01-01"}
    found = named(ask(library(shire=MID_YEAR), facts))
    assert high(found["code-2020/force/motion"]) == "30 lbf"
    assert "code-2010/force/motion" not in found


def test_expired_adoption_falls_back_to_the_reference() -> None:
    """After the last day of an adoption the newest reference edition applies again."""
    text = KEEPS_2010.replace("from = 2011-01-01", "from = 2011-01-01\nuntil = 2012-12-31")
    item = named(ask(library(shire=text)))["code-2020/yearly"]
    assert item.adoption is Adoption.NOT_RECORDED


def test_city_goes_before_its_state() -> None:
    """The adoption of the lowest place governs the series."""
    city = layer(
        SHIRE.replace('"land"', '"shire"').replace('code = "shire"', 'code = "town"')
        + amendment("adopt", "2020-01-01", publication='"code-2020"')
    )
    found = named(ask(library(shire=KEEPS_2010), layers=(city,)))
    assert found["code-2020/force/motion"].layer == "town"
    assert "code-2010/yearly" not in found


def test_whole_edition_leaves_memory_advisory_and_a_name_makes_it_bind() -> None:
    """Nobody who adopts a book adopts a number that was only remembered, unless by its name."""
    whole = SHIRE + amendment("adopt", "2016-01-01", publication='"other-2015"')
    assert named(ask(library(shire=whole)))["other-2015/remembered"].advisory
    by_name = SHIRE + amendment("adopt", "2016-01-01", requirement='"other-2015/remembered"')
    item = named(ask(library(shire=by_name)))["other-2015/remembered"]
    assert not item.advisory
    assert item.requirement.standing == "from_memory"


def test_town_adopts_a_habit_and_it_begins_that_day() -> None:
    """A quarterly test nobody's text asks for becomes a duty from the day of its adoption."""
    text = SHIRE + amendment("adopt", "2024-01-01", requirement='"habit/quarterly"')
    item = named(ask(library(shire=text)))["habit/quarterly"]
    assert (item.advisory, item.since, item.layer) == (False, date(2024, 1, 1), "shire")
    assert named(ask(library(shire=text), on=date(2023, 12, 31)))["habit/quarterly"].advisory


def test_adoption_by_name_says_by_which_text_and_keeps_the_source() -> None:
    """The order makes the duty; the source of what it asks stays cited beside it."""
    text = SHIRE + amendment("adopt", "2024-01-01", requirement='"habit/quarterly"')
    item = named(ask(library(shire=text)))["habit/quarterly"]
    assert item.adopted_by is not None
    assert item.adopted_by.publication == "Shire Act"
    assert item.requirement.citation.publication != "Shire Act"
    assert named(ask(library(shire=SHIRE)))["habit/quarterly"].adopted_by is None


# --- amendments ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "bound", "expected"),
    [("tighten", '"13 lbf"', "13 lbf"), ("relax", '"40 lbf"', "40 lbf")],
)
def test_limit_moved_by_a_place(change: str, bound: str, expected: str) -> None:
    """A moved limit carries the place, its citation, and how it stood before."""
    text = SHIRE + amendment(change, "2020-01-01", target='"code-2020/force/motion"', high=bound)
    item = named(ask(library(shire=text)))["code-2020/force/motion"]
    assert (high(item), item.layer, item.since) == (expected, "shire", date(2020, 1, 1))
    assert item.requirement.citation.publication == "Shire Act"
    before = item.lineage[-1].before
    assert before is not None
    assert isinstance(before.spec, LimitSpec)
    assert str(before.spec.high) == "30 lbf"


def test_series_name_reaches_whichever_edition_governs() -> None:
    """`series/name` amends the rule in the edition that the door falls under."""
    text = SHIRE + amendment("tighten", "2012-01-01", target='"code/force/motion"', high='"9 lbf"')
    for year in ("2015", "2021"):
        found = named(ask(library(shire=text), {**DOOR, "installed_on": f"{year}-06-01"}))
        (force,) = (item for name, item in found.items() if name.endswith("force/motion"))
        assert high(force) == "9 lbf"


def test_tightening_leaves_a_stricter_edition_alone() -> None:
    """Where an edition's own number is stricter already, it stays."""
    text = SHIRE + amendment("tighten", "2012-01-01", target='"code/force/motion"', high='"33 lbf"')
    assert high(named(ask(library(shire=text)))["code-2020/force/motion"]) == "30 lbf"


def test_construction_amendment_binds_doors_built_after_it() -> None:
    """A tightened force asks nothing of doors that stood before, unless the place says so."""
    text = SHIRE + amendment(
        "tighten", "2024-01-01", target='"code-2020/force/motion"', high='"9 lbf"'
    )
    assert high(named(ask(library(shire=text)))["code-2020/force/motion"]) == "30 lbf"
    retroactive = text.replace("[[tighten]]", '[[tighten]]\nexisting_doors = "this_edition"')
    assert high(named(ask(library(shire=retroactive)))["code-2020/force/motion"]) == "9 lbf"


def test_interval_moved_by_a_place() -> None:
    """An interval is tightened by a shorter one, from its day on."""
    text = SHIRE + amendment("tighten", "2025-01-01", target='"code/yearly"', every='"P6M"')
    item = named(ask(library(shire=text)))["code-2020/yearly"]
    assert isinstance(item.requirement.spec, IntervalSpec)
    assert (item.requirement.spec.every, item.since) == ("P6M", date(2025, 1, 1))


def test_withdrawn_rule_is_gone_and_comes_back_after_its_last_day() -> None:
    """A withdrawal takes the rule away between its days, both inside."""
    text = SHIRE + amendment("withdraw", "2025-01-01", target='"code/yearly"', until="2025-12-31")
    known = library(shire=text)
    assert "code-2020/yearly" not in named(ask(known, on=date(2025, 12, 31)))
    assert "code-2020/yearly" in named(ask(known, on=date(2026, 1, 1)))


def test_withdrawal_for_some_doors_waits_for_the_fact() -> None:
    """A withdrawal for one door type leaves the others, and one whose type is unknown."""
    text = SHIRE + amendment(
        "withdraw", "2025-01-01", target='"code/yearly"', where='{ door_type = "swinging" }'
    )
    known = library(shire=text)
    assert "code-2020/yearly" not in named(ask(known))
    assert "code-2020/yearly" in named(ask(known, {**DOOR, "door_type": "rolling"}))
    unknown = {key: value for key, value in DOOR.items() if key != "door_type"}
    assert named(ask(known, unknown))["code-2020/yearly"].missing_facts == ("door_type",)


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


def test_added_rule_is_the_places_own() -> None:
    """What a place adds stands under its code from the day it says."""
    item = named(ask(library(shire=SHIRE + ADDED)))["shire/letters"]
    assert (item.layer, item.adoption, item.lineage[0].change) == (
        "shire",
        Adoption.RECORDED,
        Change.ADD,
    )
    assert "shire/letters" not in named(ask(library(shire=SHIRE + ADDED), on=date(2023, 12, 31)))


def test_replaced_rule_keeps_its_id_and_shows_what_it_was() -> None:
    """A replacement has the old id, the new text, and the old text in its lineage."""
    text = ADDED.replace("[[add]]", "[[replace]]").replace("[add.limit]", "[replace.limit]")
    text = text.replace('id = "letters"', 'target = "habit/speed"')
    text = text.replace('"sign_letter_height"', '"closing_speed"').replace(
        'low = "1 in"', 'high = "9 in/s"'
    )
    item = named(ask(library(shire=SHIRE + text)))["habit/speed"]
    assert (high(item), item.advisory) == ("9 in/s", False)
    assert [step.change for step in item.lineage] == [Change.ADD, Change.REPLACE]


def test_added_rule_for_existing_doors_waits_for_the_building_day() -> None:
    """An addition for doors that stood before it: those, not newer ones; unknown ones say so."""
    existing = 'basis = "construction"\ndoors = "existing"'
    known = library(shire=SHIRE + ADDED.replace('basis = "maintenance"', existing))
    assert "shire/letters" in named(ask(known))
    newer = {**DOOR, "installed_on": "2024-06-01"}
    assert "shire/letters" not in named(ask(known, newer))
    unknown = {key: value for key, value in DOOR.items() if key != "installed_on"}
    assert named(ask(known, unknown))["shire/letters"].missing_facts == ("installed_on",)


def test_every_door_is_new_to_a_text_without_a_day() -> None:
    """A publication that began on no known day cannot have doors that stood before it."""
    more = HABIT.replace('"habit"', '"usage"').replace(
        'basis = "maintenance"', 'basis = "construction"\ndoors = "existing"', 1
    )
    assert "usage/quarterly" not in named(ask(library(more=more)))
    more = more.replace('doors = "existing"', 'doors = "new"')
    assert "usage/quarterly" in named(ask(library(more=more)))


def test_rule_that_lapsed_began_anew() -> None:
    """A rule adopted again after a gap holds since its second adoption."""
    more = OTHER.replace('reference_in = ["land"]\n', "").replace('"other-2015"', '"local-2015"')
    more = more.replace('"other"', '"local"')
    text = SHIRE + amendment("adopt", "2016-01-01", publication='"local-2015"', until="2017-12-31")
    text += amendment("adopt", "2019-01-01", publication='"local-2015"')
    item = named(ask(library(shire=text, more=more)))["local-2015/motion"]
    assert item.since == date(2019, 1, 1)


VARIANCE = '[variance]\nnumber = "v-7"\nfrom = 2025-01-01\nuntil = 2026-06-30\n' + amendment(
    "relax", "2025-01-01", target='"code/force/motion"', high='"40 lbf"'
)


def test_variance_moves_the_limit_of_one_opening_between_its_days() -> None:
    """A variance speaks of the door as it stands, whatever its age, until it expires."""
    granted = layer(VARIANCE)
    item = named(ask(layers=(granted,)))["code-2020/force/motion"]
    assert (high(item), item.layer) == ("40 lbf", "variance:v-7")
    after = named(ask(layers=(granted,), on=date(2026, 7, 1)))["code-2020/force/motion"]
    assert high(after) == "30 lbf"


def test_two_variances_never_write_one_id() -> None:
    """A number may hold a slash, as an authority writes it; what each adds stays its own."""
    added = """
[variance]
number = "{number}"
from = 2025-01-01
until = 2026-06-30

[[add]]
id = "{name}"
kind = "check"
title = "Looked at"
basis = "maintenance"
protects = "closing"
standing = "verified"
citation = {{ publication = "Grant", edition = "1", clause = "1" }}
[add.check]
check = "looked"
asks = "Is it?"
"""
    granted = tuple(
        layer(added.format(number=number, name=name))
        for number, name in [("7/a", "b"), ("7", "a/b")]
    )
    item = {name: one.layer for name, one in named(ask(layers=granted)).items() if "varia" in name}
    assert item == {"variance:7~1a/b": "variance:7/a", "variance:7/a/b": "variance:7"}


def test_policy_adopts_for_its_own_doors() -> None:
    """An organization's policy makes a habit bind for it."""
    text = '[policy]\ncode = "house"\n' + amendment(
        "adopt", "2024-01-01", requirement='"habit/quarterly"'
    )
    item = named(ask(layers=(layer(text),)))["habit/quarterly"]
    assert (item.advisory, item.layer) == (False, "policy:house")


# --- refusals --------------------------------------------------------------------------------


def test_unknown_place_is_refused() -> None:
    """A jurisdiction that does not exist is named in the refusal."""
    with pytest.raises(UnknownNameError, match="nowhere"):
        ask(at="nowhere")


@pytest.mark.parametrize("on", [datetime(2026, 3, 1, 12, 0), "2026-03-01", None])  # noqa: DTZ001
def test_anything_but_a_civil_date_is_refused(on: object) -> None:
    """A moment with a time is no civil date, nor is a text."""
    with pytest.raises(InputError) as refused:
        ask(on=on)  # type: ignore[arg-type]
    assert refused.value.problems[0].pointer == "/on"


@pytest.mark.parametrize(
    "text",
    [
        LAND.replace("land", "isle"),
        SHIRE.replace('code = "shire"', 'code = "town"').replace('"land"', '"vale"'),
    ],
)
def test_layer_of_another_branch_is_refused(text: str) -> None:
    """A country, or a place under another packaged place, cannot follow this state."""
    other = layer(SHIRE.replace('"shire"', '"vale"'))
    known = assemble([], [layer(LAND), layer(SHIRE), other])
    with pytest.raises(InputError) as refused:
        ask(known, layers=(layer(text),))
    assert refused.value.problems[0].pointer == "/layers/0"


def test_places_side_by_side_and_places_without_rules_are_walked() -> None:
    """A county beside a city, and a district whose town has no rules of its own, lie here."""
    city = SHIRE.replace('code = "shire"', 'code = "city"').replace('"land"', '"shire"')
    county = city.replace('"city"', '"county"')
    district = city.replace('"city"', '"district"').replace('"shire"', '"town"')
    found = ask(layers=(layer(city), layer(county), layer(district)))
    assert found.jurisdiction == "district"


def test_the_last_day_of_an_amendment_is_inside() -> None:
    """A rule of maintenance until the 31st holds on the 31st and no longer on the 1st."""
    shire = SHIRE + amendment("withdraw", "2025-01-01", target='"code/yearly"', until="2025-12-31")
    known = library(shire=shire)
    held = {
        day: any(
            item.requirement.id == "code-2020/yearly"
            for item in requirements(
                facts=DOOR, jurisdiction="shire", on=date.fromisoformat(day), library=known
            ).items
        )
        for day in ("2024-12-31", "2025-01-01", "2025-12-31", "2026-01-01")
    }
    assert list(held.values()) == [True, False, False, True]
