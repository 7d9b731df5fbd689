"""What was not read of a governing edition is told with the door, and asks nothing of it."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

import rules
from rules.errors import DataError
from rules.explain import explain_answer, explain_requirements
from rules.library import assemble
from tests.rules.small_library import CODE_2010, CODE_2020, LAND, layer, publication

DAY = date(2026, 3, 1)
SWINGING = {
    "door_type": "swinging",
    "operation": "manual",
    "fire_door": True,
    "means_of_egress": True,
}
GAP = """
[[requirement]]
id = "text-not-read"
kind = "qualification"
title = "Of this edition the widths were not read"
basis = "construction"
protects = "record"
standing = "secondary"
citation = { clause = "other sections" }
[requirement.qualification]
activities = ["periodic_inspection"]
asks = "Does whoever inspects work from the edition itself?"
not_read = ["width", "force/turn"]
"""


@pytest.mark.parametrize(
    ("installed_on", "edition"),
    [
        ("1995-01-01", "ibc-before-2006"),
        ("2004-01-01", "ibc-before-2006"),
        ("2007-01-01", "ibc-2006"),
        ("2019-01-01", None),
    ],
)
def test_a_door_is_told_which_governing_edition_was_not_read(
    installed_on: str, edition: str | None
) -> None:
    """In the requirements and in what a visit is judged to, in data and in words."""
    facts = {**SWINGING, "installed_on": installed_on}
    held = rules.requirements(facts=facts, jurisdiction="us", on=DAY)
    findings: Any = {"on": "2026-03-01", "activity": "periodic_inspection"}
    answer: Any = rules.judge(held, {**findings, "readings": [], "checks": [], "sequences": []})
    gaps = [item.requirement.id for item in held.items if item.requirement.states_a_gap]
    told = [one["requirement"] for one in answer["summary"]["not_read"]]
    assert gaps == told
    building_code = [name for name in told if name.startswith("ibc")]
    assert building_code == ([f"{edition}/text-not-read"] if edition else [])
    assert not set(told) & set(answer["summary"]["not_asked"])
    for page in (explain_requirements(held), explain_answer(answer)):
        assert ("Not read: the governing edition" in page) is bool(told)


def test_a_gap_is_not_carried_to_the_next_edition() -> None:
    """What was not read of one edition says nothing of another."""
    later = CODE_2020.replace('series = "code"', 'series = "code"\ncarries_from = "code-2010"')
    known = assemble([publication(CODE_2010 + GAP), publication(later)], [layer(LAND)])
    names = [requirement.id for requirement in known.publications["code-2020"].every]
    assert "code-2010/force/existing" in names
    assert "code-2010/text-not-read" not in names


@pytest.mark.parametrize(
    ("written", "pointer"),
    [
        ('["Width"]', "/requirement/3/qualification/not_read"),
        ("[]", "/requirement/3/qualification/not_read"),
        ('"*"', "/requirement/3/qualification/not_read"),
    ],
)
def test_a_gap_names_requirements_or_groups_of_them(written: str, pointer: str) -> None:
    """A mistake in it is told by its place."""
    with pytest.raises(DataError) as caught:
        publication(CODE_2010 + GAP.replace('["width", "force/turn"]', written))
    assert [problem.pointer for problem in caught.value.problems] == [pointer]


def test_only_a_publication_says_what_was_not_read_of_it() -> None:
    """A place or a policy states its own rules whole."""
    own = GAP.replace("[[requirement]]", "[[add]]\nfrom = 2020-01-01").replace(
        "[requirement.", "[add."
    )
    cited = '{ publication = "Ordinance", edition = "2020", clause = "other sections" }'
    with pytest.raises(DataError) as caught:
        layer(LAND + own.replace('{ clause = "other sections" }', cited))
    assert [p.code for p in caught.value.problems] == ["not_allowed"]
