"""One resolved requirement as JSON: the number, the clause, the layer, and what it was before."""

from __future__ import annotations

import json
from datetime import date

import rules
from tests.rules.small_library import DAY, DOOR, SHIRE, amendment, library

TIGHTENED = SHIRE + amendment(
    "tighten", "2020-01-01", target='"code-2020/force/motion"', high='"13 lbf"'
)


def shown(name: str) -> dict[str, object]:
    """The requirement of that id, through JSON and back."""
    held = rules.requirements(
        facts=DOOR, jurisdiction="shire", on=DAY, library=library(shire=TIGHTENED)
    )
    (item,) = (item for item in held.items if item.requirement.id == name)
    answer: dict[str, object] = json.loads(json.dumps(rules.requirement_json(item)))
    return answer


def test_requirement_says_what_where_and_since_when() -> None:
    """The published number with its unit, the citation, the layer that set it and since when."""
    found = shown("code-2020/force/motion")
    assert found["requirement"] == "code-2020/force/motion"
    assert found["layer"] == "shire"
    assert found["since"] == "2020-01-01"
    assert found["adoption"] == "recorded"
    assert isinstance(found["limit"], dict)
    assert found["limit"]["high"] == {"value": "13", "unit": "lbf"}
    assert isinstance(found["citation"], dict)
    assert found["citation"]["publication"] == "Shire Act"


def test_lineage_shows_how_it_stood_before() -> None:
    """A person can be shown why: who changed it, by which text, and what it was."""
    lineage = shown("code-2020/force/motion")["lineage"]
    assert isinstance(lineage, list)
    assert [step["change"] for step in lineage] == ["add", "tighten"]
    assert lineage[0]["before"] is None
    assert lineage[1]["before"]["limit"]["high"] == {"value": "30", "unit": "lbf"}
    assert lineage[1]["before"]["citation"]["clause"] == "10.1"


def test_every_packaged_requirement_can_be_shown() -> None:
    """Every kind of requirement has a form in JSON."""
    held = rules.requirements(
        facts={"fire_door": True}, jurisdiction="us-mn", on=DAY, library=rules.load()
    )
    kinds = {rules.requirement_json(item)["kind"] for item in held.items}
    assert kinds >= {"limit", "check", "sequence", "interval", "record", "retention"}
    assert json.dumps([rules.requirement_json(item) for item in held.items])


def test_the_edition_that_governs_is_named_beside_the_one_that_was_read() -> None:
    """In 2026 the newest edition of NFPA 80 applies; of its yearly interval an earlier text was
    read, which the citation names.
    """
    found = rules.requirements(
        facts={"door_type": "accordion"}, jurisdiction="us", on=date(2026, 3, 1)
    )
    (yearly,) = [r for r in found.items if r.requirement.id == "nfpa-80-2013/inspection/yearly"]
    said = rules.requirement_json(yearly)
    assert (said["applied_edition"], said["citation"]["edition"]) == ("2022", "2013")
