"""What would change is answered and nothing is changed: stored verdicts stay, byte for byte."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

import rfc8785

from doors.services.overrides import draft_override, publish_override
from doors.tenancy import acting_for
from inspections.models import Duty, Reading, Visit
from inspections.selectors.findings import judged_again
from tests.cast import TOWN, Cast, conforming, findings, today, visit
from tests.clients import client_of
from tests.inspections.test_measurements import TRACES

NOW = datetime.now(UTC).replace(microsecond=0)
LIGHTER = f"""
[jurisdiction]
code = "{TOWN}"
parent = "us"
name = "Quillhaven"
kind = "city"

[[tighten]]
target = "ibc/special-purpose/set-in-motion"
high = "20 lbf"
from = {{day}}
standing = "verified"
existing_doors = "this_edition"
citation = {{{{ publication = "Quillhaven Fire Ordinance", edition = "2026", clause = "9" }}}}

[[adopt]]
requirement = "common-practice/quarterly-operation-test"
from = {{day}}
standing = "verified"
citation = {{{{ publication = "Quillhaven Fire Ordinance", edition = "2026", clause = "7-3" }}}}
"""


def ask(cast: Cast, **query: str) -> dict[str, Any]:
    """What the owner is answered."""
    answer = client_of(cast.owner).get(f"/v1/openings/{cast.opening.id}/what-if", query)
    assert answer.status_code == 200, answer.json()
    found: dict[str, Any] = answer.json()
    return found


def published(cast: Cast, day: str) -> UUID:
    """An override of the town, published to begin on a day."""
    with acting_for(cast.authority.id, write=True):
        document = LIGHTER.format(day=day)
        draft = draft_override(jurisdiction_code=TOWN, title="Lighter", document=document)
        return publish_override(override_id=draft.id).id


def stored(cast: Cast) -> dict[UUID, bytes]:
    """Every judgement as it is kept, in its canonical bytes."""
    with acting_for(cast.owner.id, write=False):
        return {v.id: rfc8785.dumps(v.judgement) for v in Visit.objects.all()}


def varied_visits(cast: Cast) -> None:
    """Visits that use everything a judgement is made of: past, instruments, traces, sequences."""
    with acting_for(cast.firm.id, write=True):
        full = conforming(cast.opening, "periodic_inspection", set_in_motion_force="25")
        visit(cast.opening, full, at=NOW - timedelta(days=40))
        force = {"quantity": "set_in_motion_force", "value": "11.3", "unit": "lbf"}
        gauge = {"ref": "G", "kind": "gauge", "resolution": {"value": "0.5", "unit": "lbf"}}
        trace = TRACES["travel-0"]
        sent = findings(instruments=[gauge], traces=[trace], decision_rule="guarded")
        sent["readings"] = [force | {"instrument": "G", "uncertainty": "0.4"}]
        visit(cast.opening, sent, at=NOW - timedelta(days=20))
        visit(cast.opening, findings(no_access="locked"), activity="operation_test")


def test_every_stored_visit_judged_again_gives_the_same_bytes(cast: Cast) -> None:
    """From its own record and the published rules alone, whatever came between."""
    published(cast, today().isoformat())
    varied_visits(cast)
    with acting_for(cast.firm.id, write=True):  # the past of its readings is another now
        late = findings(("set_in_motion_force", "5", "lbf"), ("closing_speed", "24", "in/s"))
        visit(cast.opening, late, at=NOW - timedelta(days=60))
        assert Reading.objects.filter(quantity="closing_speed").count() > 1
    with acting_for(cast.owner.id, write=False):
        again = {v.id: rfc8785.dumps(judged_again(v)) for v in Visit.objects.all()}
    assert len(again) == 4
    assert again == stored(cast)


def test_an_override_changes_no_stored_verdict(cast: Cast) -> None:
    """Published after the visit, it is told what it would change, and what is kept stays."""
    varied_visits(cast)
    before = stored(cast)
    override = published(cast, today().isoformat())
    found = ask(cast, override=str(override))
    assert stored(cast) == before
    with acting_for(cast.owner.id, write=False):
        assert {v.id: rfc8785.dumps(judged_again(v)) for v in Visit.objects.all()} == before
    assert len(found["requirements"]["tightened"]) == 1  # what it changes, though it holds
    assert found["on"] == found["since"] == today().isoformat()


def test_an_override_that_begins_later_is_told_of_beforehand(cast: Cast) -> None:
    """What is tightened, which verdict turns with both reasons, and which duty is new."""
    varied_visits(cast)
    begins = (today() + timedelta(days=30)).isoformat()
    override = published(cast, begins)
    with acting_for(cast.owner.id, write=False):
        duties = list(Duty.objects.order_by("id").values())
    found = ask(cast, override=str(override))
    assert found["on"] == begins
    (tightened,) = found["requirements"]["tightened"]
    assert tightened["before"]["requirement"] == "ibc-2018/special-purpose/set-in-motion"
    full = next(v for v in found["visits"] if v["activity"] == "periodic_inspection")
    assert full["performed_on"] <= today().isoformat()
    turned = {one["name"]: one for each in found["visits"] for one in each["differ"]}
    assert not turned or all(one["before"] != one["after"] for one in turned.values())
    assert {d["activity"] for d in found["duties"]} == {"operation_test"}
    (new,) = found["duties"]
    assert new["before"] is None
    assert new["after"]["due_on"] > begins
    with acting_for(cast.owner.id, write=False):
        assert list(Duty.objects.order_by("id").values()) == duties


def test_a_verdict_that_would_turn_says_why_on_both_sides(cast: Cast) -> None:
    """25 lbf conforms to 30 and would not to 20."""
    with acting_for(cast.firm.id, write=True):
        sent = conforming(cast.opening, "periodic_inspection", set_in_motion_force="25")
        made = visit(cast.opening, sent)
    override = published(cast, (today() + timedelta(days=30)).isoformat())
    (told,) = ask(cast, override=str(override))["visits"]
    assert told["visit"] == str(made.id)
    assert told["summary"] == {"before": "conforms", "after": "does_not_conform"}
    (turned,) = [one for one in told["differ"] if one["name"].endswith("set-in-motion")]
    assert (turned["before"], turned["after"]) == ("conforms", "does_not_conform")
    assert "30" in turned["says"]["before"]
    assert "20" in turned["says"]["after"]


def test_another_edition_is_supposed_for_a_door_that_stands(cast: Cast) -> None:
    """What it adds, withdraws, tightens and relaxes; the door itself keeps its own."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, conforming(cast.opening, "periodic_inspection"))
    before = stored(cast)
    found = ask(cast, edition="ibc-2006")
    assert found["edition"] == "ibc-2006"
    sides = found["requirements"]
    assert sides["before"]["requirements_digest"] != sides["after"]["requirements_digest"]
    moved = ("added", "withdrawn", "tightened", "relaxed", "changed", "restated")
    assert any(sides[kind] for kind in moved)
    assert stored(cast) == before


def test_without_a_supposition_today_is_held_against_the_last_visit(cast: Cast) -> None:
    """Nothing changed between the two: nothing is told."""
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, conforming(cast.opening, "periodic_inspection"))
    found = ask(cast)
    assert found["since"] == made.performed_on.isoformat()
    assert found["duties"] == []
    assert [v["differ"] for v in found["visits"]] == [[]]


def test_what_nobody_published_is_refused(cast: Cast) -> None:
    """An edition that is none by its name; a place that the opening does not lie in."""
    client, at = client_of(cast.owner), f"/v1/openings/{cast.opening.id}/what-if"
    answer = client.get(at, {"edition": "ibc-1066"})
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["parameter"] == "edition"
    with acting_for(cast.authority.id, write=True):
        text = LIGHTER.format(day="2101-01-01")
        draft = draft_override(jurisdiction_code=TOWN, title="x", document=text)
    assert client.get(at, {"override": str(draft.id)}).status_code == 404
