"""Nothing passes by silence: what was not tested is listed, by the latest word on it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

import pytest

from doors.models import Grant, Organization
from doors.services.grants import end_grant, grant_leave
from doors.services.jobs import run_waiting_jobs
from doors.services.lives import remove_opening
from doors.tenancy import acting_for
from inspections.models import Submittal, UntestedItem
from inspections.services.submittals import ask_for_submittal, file_submittal
from tests.cast import SINCE, TOWN, Cast, conforming, findings, today, visit
from tests.clients import client_of

PERIODIC = "periodic_inspection"
SPEED = "quantity:closing_speed"
NOW = datetime.now(UTC).replace(microsecond=0)


def whole(cast: Cast) -> dict[str, Any]:
    """What meets everything that a yearly inspection asks for."""
    with acting_for(cast.firm.id, write=False):
        return conforming(cast.opening, PERIODIC)


def silent(sent: dict[str, Any], result: str, reason: str) -> dict[str, Any]:
    """What conforms, but for the closing speed."""
    said = {"quantity": "closing_speed", "result": result, "reason": reason}
    others = [r for r in sent["readings"] if r["quantity"] != "closing_speed"]
    return sent | {"readings": [*others, said]}


def listed(cast: Cast, who: Organization | None = None, /, **query: Any) -> list[dict[str, Any]]:
    """The list as somebody reads it, here the owner."""
    answer = client_of(who or cast.owner).get("/v1/untested", query)
    assert answer.status_code == 200, answer.json()
    found: list[dict[str, Any]] = answer.json()["data"]
    return found


def of_speed(rows: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """What is said of the closing speed: result and words, once each."""
    return sorted({(r["result"], r["words"]) for r in rows if r["subject"] == SPEED})


@pytest.mark.parametrize("result", ["not_tested", "not_applicable"])
def test_a_stated_silence_is_listed_with_its_reason(cast: Cast, result: str) -> None:
    """And nothing else is, where the rest was looked at."""
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, silent(whole(cast), result, "no room"))
    rows = listed(cast)
    assert {row["subject"] for row in rows} == {SPEED}
    assert {(row["result"], row["reason"], row["activity"]) for row in rows} == {
        (result, "stated", PERIODIC)
    }
    assert all("no room" in row["words"] for row in rows)
    assert {row["visit"] for row in rows} == {str(made.id)}
    assert {row["tag"] for row in rows} == {"A-1"}


def test_what_nobody_mentions_is_listed_too(cast: Cast) -> None:
    """As many rows as the judgement has requirements untested."""
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, findings(("closing_speed", "12", "in/s")))
    rows = listed(cast)
    assert {row["requirement"] for row in rows} == set(made.judgement["summary"]["untested"])
    assert {row["reason"] for row in rows} == {"not_recorded"}


def test_no_access_is_a_result_of_its_own(cast: Cast) -> None:
    """Every item asked for, with why nobody got there."""
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, findings(no_access="the hall was let"))
    rows = listed(cast, result="no_access")
    asked = [v["requirement"] for v in made.judgement["verdicts"] if v["required"]]
    assert sorted(row["requirement"] for row in rows) == sorted(asked) != []
    assert all("the hall was let" in row["words"] for row in rows)
    assert listed(cast, result="not_tested") == []


def test_a_later_test_ends_it_and_a_later_silence_renews_it(cast: Cast) -> None:
    """The latest word counts."""
    sent = whole(cast)
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, silent(sent, "not_tested", "first"), at=NOW - timedelta(days=3))
        assert UntestedItem.objects.exists()
        visit(cast.opening, sent, at=NOW - timedelta(days=2))
        assert not UntestedItem.objects.exists()
        visit(cast.opening, silent(sent, "not_tested", "third"), at=NOW - timedelta(days=1))
    assert [words for _, words in of_speed(listed(cast))] == ["Not tested: third"]


def test_a_visit_that_did_not_ask_ends_nothing(cast: Cast) -> None:
    """A retest of another item leaves the silence standing."""
    sent = whole(cast)
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, silent(sent, "not_tested", "no room"), at=NOW - timedelta(days=2))
        one = findings(("set_in_motion_force", "12", "lbf"))
        visit(cast.opening, one, activity="repair_retest", at=NOW - timedelta(days=1))
    assert of_speed(listed(cast)) == [("not_tested", "Not tested: no room")]


def test_a_visit_sent_late_does_not_overrule_a_later_one(cast: Cast) -> None:
    """The order in which they were made counts, not that in which they came."""
    sent = whole(cast)
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, sent, at=NOW - timedelta(days=1))
        visit(cast.opening, silent(sent, "not_tested", "late"), at=NOW - timedelta(days=5))
    assert listed(cast) == []


def test_a_correction_counts_in_place_of_what_it_corrects(cast: Cast) -> None:
    """Also where the correction takes back the only word: the one before it holds again."""
    sent = whole(cast)
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, silent(sent, "not_tested", "before"), at=NOW - timedelta(days=5))
        wrong = visit(cast.opening, sent, at=NOW - timedelta(days=2))
        assert not UntestedItem.objects.exists()
        one = findings(("set_in_motion_force", "12", "lbf"))
        visit(
            cast.opening,
            one,
            activity="repair_retest",
            at=NOW - timedelta(days=2),
            supersedes=wrong.id,
            reason="it was a retest",
        )
    assert of_speed(listed(cast)) == [("not_tested", "Not tested: before")]


def test_filters_narrow_it(cast: Cast) -> None:
    """By site, opening, who answers for it, place and activity; a strange value finds nothing."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(no_access="locked"))
    everything = len(listed(cast, limit="200"))
    assert everything
    matching = {
        "site": str(cast.site.id),
        "opening": str(cast.opening.id),
        "owner": str(cast.owner.id),
        "jurisdiction": TOWN,
        "activity": PERIODIC,
    }
    for name, value in matching.items():
        assert len(listed(cast, limit="200", **{name: value})) == everything, name
    assert len(listed(cast, limit="200", jurisdiction="us")) == everything
    nothing = {
        "site": str(cast.neighbours_site.id),
        "opening": str(cast.neighbours_opening.id),
        "owner": str(cast.neighbour.id),
        "jurisdiction": "us-elsewhere",
        "activity": "operation_test",
    }
    for name, value in nothing.items():
        assert listed(cast, **{name: value}) == [], name


def test_a_firm_sees_its_own_words_and_no_others(cast: Cast) -> None:
    """Leave to record is no leave to read what others found; the owner sees all."""
    with acting_for(cast.owner.id, write=True):
        grant_leave(grantee_id=cast.stranger.id, actions=["record"], begins_on=SINCE)
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(no_access="locked"), at=NOW - timedelta(days=3))
    assert listed(cast, cast.stranger) == []
    with acting_for(cast.stranger.id, write=True):
        one = findings(("closing_speed", "12", "in/s"))
        visit(cast.opening, one, at=NOW - timedelta(days=2))
    assert listed(cast, cast.stranger, limit="200") == listed(cast, limit="200") != []
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(no_access="locked"), at=NOW - timedelta(days=1))
    assert listed(cast, cast.stranger) == []
    assert {row["result"] for row in listed(cast)} == {"no_access"}


def test_who_lost_its_leave_keeps_what_it_wrote(cast: Cast) -> None:
    """On either database."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(no_access="locked"))
    before = listed(cast, cast.firm, limit="200")
    with acting_for(cast.owner.id, write=True):
        end_grant(grant_id=Grant.objects.get().id, ends_on=today())
    assert listed(cast, cast.firm, limit="200") == before != []


def test_an_opening_that_is_gone_owes_no_test(cast: Cast) -> None:
    """Its visits still say what they said."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(no_access="locked"))
    with acting_for(cast.owner.id, write=True):
        remove_opening(opening_id=cast.opening.id, removed_on=today(), reason="bricked up")
    assert listed(cast) == []


def test_pages_neither_repeat_nor_lose(cast: Cast) -> None:
    """However many rows one visit left with one time."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(no_access="locked"))
        stored = {str(id_) for id_ in UntestedItem.objects.values_list("id", flat=True)}
    client, seen = client_of(cast.owner), []
    address = "/v1/untested?limit=7"
    while address:
        page = client.get(address).json()
        seen += [row["id"] for row in page["data"]]
        address = page["next"]
    assert len(seen) == len(set(seen))
    assert set(seen) == stored


# --- as it was filed -------------------------------------------------------------------------


def packet(cast: Cast) -> UUID:
    """Assemble and file one of the cast's site."""
    with acting_for(cast.firm.id, write=True):
        ask_for_submittal(site_id=cast.site.id)
    run_waiting_jobs()
    with acting_for(cast.firm.id, write=True):
        made = Submittal.objects.latest("assembled_at")
        file_submittal(submittal_id=made.id)
    return made.id


def filed(who: Organization, **query: str) -> list[dict[str, Any]]:
    """The list of what was filed, as somebody reads it."""
    answer = client_of(who).get("/v1/submittals/untested", {"limit": "200", **query})
    assert answer.status_code == 200, answer.json()
    found: list[dict[str, Any]] = answer.json()["data"]
    return found


def test_an_authority_lists_what_was_filed_to_it_and_no_more(cast: Cast) -> None:
    """The frozen content: what happens after the filing is not in it, nor what was not filed."""
    sent = whole(cast)
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, silent(sent, "not_tested", "no room"), at=NOW - timedelta(days=2))
    assert filed(cast.authority) == []
    first = packet(cast)
    rows = filed(cast.authority)
    assert of_speed(rows) == [("not_tested", "Not tested: no room")]
    assert {(row["submittal"], row["tag"]) for row in rows} == {(str(first), "A-1")}
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, sent, at=NOW - timedelta(days=1))
    assert filed(cast.authority) == rows
    assert listed(cast, cast.authority) == []


def test_the_last_packet_that_stands_counts(cast: Cast) -> None:
    """A later one of the same site takes the place of the earlier."""
    sent = whole(cast)
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, silent(sent, "not_tested", "no room"), at=NOW - timedelta(days=2))
    packet(cast)
    assert filed(cast.authority)
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, sent, at=NOW - timedelta(days=1))
    packet(cast)
    assert filed(cast.authority) == []


def test_what_was_filed_is_narrowed_and_its_reading_leaves_a_line(cast: Cast) -> None:
    """By site, owner, place, result and activity; the owner sees that it was read."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(no_access="locked"))
    made = packet(cast)
    everything = filed(cast.authority)
    assert everything
    for name, value in {
        "site": str(cast.site.id),
        "owner": str(cast.owner.id),
        "jurisdiction": TOWN,
        "result": "no_access",
        "activity": PERIODIC,
    }.items():
        assert filed(cast.authority, **{name: value}) == everything, name
    for name, value in {
        "site": str(cast.neighbours_site.id),
        "owner": str(cast.neighbour.id),
        "jurisdiction": "us-elsewhere",
        "result": "not_applicable",
        "activity": "operation_test",
    }.items():
        assert filed(cast.authority, **{name: value}) == [], name
    reads = client_of(cast.owner).get("/v1/authority-reads").json()["data"]
    assert {(r["submittal"], r["what"]) for r in reads} == {(str(made), "untested")}
    assert filed(cast.neighbour) == filed(cast.stranger) == []
