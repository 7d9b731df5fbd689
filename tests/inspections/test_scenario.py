"""The invented town of the demonstration, and the sheets that are filled in for it."""

from __future__ import annotations

import re
from collections import Counter
from datetime import date, timedelta
from typing import Any

import pytest

import rules
from doors.models.keys import EVERY_SCOPE
from doors.selectors.keys import key_by_secret
from doors.tenancy import acting_for
from inspections.management.checklist import Wanting, answers, asked_after, asked_in, cautions_of
from inspections.management.history import Past, findings_of, past_of
from inspections.management.loading import fresh_key
from inspections.selectors.scenario import folder, openings, override_document, parties
from tests.cast import Cast

TODAY = date(2026, 11, 25)
VERBS = ("read", "write")


def test_the_town_has_twelve_openings_of_five_types() -> None:
    """Two owners, three buildings, and more than one power-operated door in a way out."""
    planned = [opening for site in openings().site for opening in site.opening]
    assert len(planned) == 12
    assert len({opening.tag for opening in planned}) == 12
    types = Counter(opening.door_type for opening in planned)
    assert len(types) == 5
    assert types["accordion"] >= 2
    accordion = openings().type["accordion"]
    assert (accordion["operation"], accordion["means_of_egress"]) == ("power", True)
    assert len({site.owner for site in openings().site}) == 2


def test_nobody_of_the_town_can_be_reached() -> None:
    """Mail domains are of .example, telephone numbers of the range kept for fiction."""
    text = "".join(path.read_text(encoding="utf-8") for path in folder().iterdir())
    domains = re.findall(r"@[\w.-]+", text)
    assert domains
    assert all(domain.endswith(".example") for domain in domains)
    people = [person for party in parties().organization for person in party.person]
    assert all(re.fullmatch(r"555-01\d\d", person.telephone) for person in people)


def test_the_keys_of_owner_and_firm_reach_their_photos_and_tables() -> None:
    """Whoever tries the API with them sends pictures, reads tables in and takes them out."""
    keys = {party.role: set(party.scopes) for party in parties().organization}
    assert all(scopes <= EVERY_SCOPE for scopes in keys.values())
    needed = {f"{noun}:{verb}" for noun in ("blobs", "exports", "imports") for verb in VERBS}
    assert needed <= keys["firm"] & keys["owner"]


def test_serving_again_ends_the_oldest_key(cast: Cast) -> None:
    """Whoever starts the town a fourth time gets keys, and the last ones still open it."""
    party = next(party for party in parties().organization if party.role == "firm")
    made = []
    for _ in range(4):
        with acting_for(cast.firm.id, write=True):
            made.append(fresh_key(party))
    standing = [key_by_secret(each) is not None for each in made]
    assert standing == [False, False, True, True]


def test_the_override_is_sound_on_any_day() -> None:
    """It changes nothing but to adopt one requirement, from the day it is given."""
    document = override_document(TODAY)
    assert rules.lint(document, name="order") == []
    (amendment,) = rules.parse_layer(document, name="order").amendments
    assert (amendment.target, amendment.since) == (
        "common-practice/quarterly-operation-test",
        TODAY,
    )


def first_door(today: date) -> list[Past]:
    """The past of the first opening."""
    site = openings().site[0]
    return past_of(site, 0, site.opening[0], today)


def test_the_past_is_the_same_every_day() -> None:
    """Days count back from today; what was measured does not depend on it."""
    told = [
        [findings_of(past, [], today)["readings"] for past in first_door(today)]
        for today in (TODAY, TODAY)
    ]
    assert told[0] == told[1]
    later = TODAY + timedelta(days=30)
    moved = [past.at.date() for past in first_door(later) if past.activity != "acceptance_test"]
    stood = [past.at.date() for past in first_door(TODAY) if past.activity != "acceptance_test"]
    assert [day - timedelta(days=30) for day in moved] == stood
    assert moved[-1] < later


def test_calibration_and_qualification_ran_on_every_day_of_the_past() -> None:
    """Nothing was measured with an instrument that had run out."""
    for past in first_door(TODAY):
        sent, on = findings_of(past, [], TODAY), past.at.date().isoformat()
        for instrument in sent["instruments"]:
            assert instrument["calibrated_on"] <= on <= instrument["calibration_due_on"]
        assert sent["people"][0]["valid_until"] >= on


REQUIREMENTS: list[dict[str, Any]] = [
    {
        "kind": "sequence",
        "required_in": ["periodic_inspection"],
        "sequence": {
            "sequence": "closes",
            "steps": [{"step": "starts"}],
            "caution": "Clear the path.",
            "after_parts": ["track"],
        },
    },
    {
        "kind": "sequence",
        "required_in": ["periodic_inspection"],
        "sequence": {
            "sequence": "closes",
            "steps": [{"step": "starts"}, {"step": "ends"}],
            "caution": "Clear the path.",
            "after_parts": [],
        },
    },
    {"kind": "check", "required_in": ["acceptance_test"], "check": {"check": "label"}},
    {"kind": "limit", "required_in": [], "limit": {"quantity": "gap"}},
]


def test_a_thing_that_two_publishers_ask_for_is_answered_once() -> None:
    """With the steps of both, and its caution said once."""
    asked = asked_in(REQUIREMENTS, "periodic_inspection")
    (sequence,) = answers(asked, {})["sequences"]
    assert [step["step"] for step in sequence["steps"]] == ["starts", "ends"]
    assert cautions_of(asked) == ["Clear the path."]


def test_what_is_wanting_is_said_with_the_step_that_was_not_seen() -> None:
    """A thing wanting that nobody asks for is a mistake of the fixtures."""
    (sequence,) = answers(REQUIREMENTS[:2], {"closes": Wanting("Stops short.", "ends")})[
        "sequences"
    ]
    assert sequence["result"] == "does_not_conform"
    assert [step["seen"] for step in sequence["steps"]] == [True, False]
    with pytest.raises(LookupError, match="latches"):
        answers(REQUIREMENTS, {"latches": Wanting("Does not throw.")})


def test_a_retest_covers_what_depends_on_the_mended_part_and_what_failed() -> None:
    """And nothing else."""
    assert asked_after(REQUIREMENTS, ["track"], ["gap"]) == [REQUIREMENTS[0], REQUIREMENTS[3]]
