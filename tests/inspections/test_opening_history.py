"""What happened at one opening, of every kind by time: all of it once, to each what is theirs."""

from __future__ import annotations

import copy
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from rest_framework.test import APIClient

from doors.clock import start_of_day
from doors.models import EVERY_SCOPE
from doors.services.blobs import keep_blob, look_at
from doors.services.devices import take_out_battery, take_out_device
from doors.services.grants import grant_leave
from doors.services.keys import issue_key
from doors.services.lives import remove_opening, return_to_service
from doors.services.photos import add_photo, withdraw_photo
from doors.tenancy import acting_for
from inspections.models import Deficiency, InterimMeasure, Visit
from inspections.selectors.history_sources import KINDS
from inspections.services.answers import answer_filing
from inspections.services.deficiencies import record_repair
from inspections.services.interim_measures import stop_interim_measure
from inspections.services.reported_visits import withdraw_reported_visit
from tests.cast import Cast, conforming, findings, today, visit
from tests.clients import client_of
from tests.doors.pictures import png
from tests.inspections.test_sharing import DAY, TOO_STRONG, end_leave, sell
from tests.walls.test_other_tenants import stage  # noqa: F401 (a fixture)
from tests.walls.test_query_counts import as_owner_of_the_tables

Stage = tuple[dict[str, APIClient], dict[str, UUID]]


def history(client: APIClient, opening_id: UUID, limit: int = 200) -> list[dict[str, Any]]:
    """The whole of it, page by page."""
    address, found = f"/v1/openings/{opening_id}/history?limit={limit}", []
    while address:
        answer = client.get(address)
        assert answer.status_code == 200, answer.content
        assert len(answer.json()["data"]) <= limit
        found += answer.json()["data"]
        address = answer.json()["next"]
    return found


def told(rows: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """What is where, by kind and thing."""
    return [(row["kind"], row["id"]) for row in rows]


def live(cast: Cast, ids: dict[str, UUID]) -> None:
    """All that the fixture has left out, so that of every kind something has happened."""
    opening, on = cast.opening.id, today()
    with acting_for(cast.authority.id, write=True):
        answer_filing(submittal_id=ids["submittal"], state="returned", remarks="Test the rest.")
    with acting_for(cast.firm.id, write=True):
        withdraw_photo(opening_id=opening, photo_id=ids["photo"], reason="Another door")
        withdraw_reported_visit(reported_id=ids["reported"], reason="Told twice")
        measure = InterimMeasure.objects.get(id=ids["measure"])
        stop_interim_measure(
            deficiency_id=measure.deficiency_id,
            measure_id=measure.id,
            stopped_at=measure.begins_at,
            because="No longer needed",
        )
        now = datetime.now(UTC) - timedelta(minutes=20)
        record_repair(
            deficiency_id=ids["deficiency"], done_at=now, done_by="Ivo Lund", words="Cleaned."
        )
        retest = conforming(cast.opening, "periodic_inspection")
        visit(cast.opening, retest, activity="repair_retest", at=now + timedelta(minutes=5))
        visit(cast.opening, findings(("closing_speed", "60", "in/s")), at=now)
    with acting_for(cast.owner.id, write=True):
        return_to_service(opening_id=opening, outage_id=ids["outage"], ends_on=date(2025, 2, 1))
        take_out_device(opening_id=opening, device_id=ids["device"], ends_on=on)
        take_out_battery(opening_id=opening, battery_id=ids["battery"], ends_on=on)
        remove_opening(opening_id=opening, removed_on=on, reason="The wall was taken down.")


def test_everything_stands_in_it_once_and_by_time(stage: Stage, cast: Cast) -> None:  # noqa: F811
    """Of every kind something, each with its words, its author and an address that answers."""
    clients, ids = stage
    live(cast, ids)
    rows = history(clients["owner"], cast.opening.id)
    assert {row["kind"] for row in rows} == set(KINDS)
    assert len(set(told(rows))) == len(rows)
    moments = [datetime.fromisoformat(row["at"]) for row in rows]
    assert moments == sorted(moments, reverse=True)
    for row in rows:
        assert clients["owner"].get(row["path"]).status_code == 200, row
        assert row["what"][0].isupper(), row
        assert row["what"][-1] in ".!?", row
        if row["by_day"]:
            began = start_of_day(date.fromisoformat(row["on"]), cast.site.time_zone)
            assert datetime.fromisoformat(row["at"]) == began
    who = {row["kind"]: row["who"] for row in rows}
    assert who["deficiency_proven"] == who["visit_recorded"] == cast.firm.name
    assert who["submittal_answered"] == cast.authority.name
    assert who["custody_began"] == cast.owner.name
    words = {row["kind"]: row["what"] for row in rows}
    assert (
        words["submittal_answered"] == f"{cast.authority.name} answered: returned: Test the rest."
    )
    assert words["photo_withdrawn"] == "A picture was withdrawn: Another door."
    assert words["visit_corrected"].startswith("A visit was corrected: misread. Periodic")


@pytest.mark.parametrize("limit", [1, 2, 7])
def test_pages_of_any_size_make_the_same_whole(
    stage: Stage,  # noqa: F811
    cast: Cast,
    limit: int,
) -> None:
    """Also where many things of many kinds happened at one instant, and on one day."""
    clients, ids = stage
    live(cast, ids)
    alike(cast)
    whole = told(history(clients["owner"], cast.opening.id))
    assert told(history(clients["owner"], cast.opening.id, limit)) == whole
    assert len(set(whole)) == len(whole)


def alike(cast: Cast) -> None:
    """Copies of a visit and a deficiency at one instant, which begins a day at the site."""
    midnight = start_of_day(date(2025, 1, 1), cast.site.time_zone)
    with as_owner_of_the_tables():
        one = Visit._base_manager.filter(opening=cast.opening, supersedes=None)[0]
        other = Deficiency._base_manager.filter(opening=cast.opening)[0]
        twins, wrongs = [], []
        for at in range(9):
            twin, wrong = copy.copy(one), copy.copy(other)
            twin.pk, twin.client_ref, twin.performed_at = uuid4(), f"twin-{at}", midnight
            wrong.pk, wrong.subject, wrong.opened_at = uuid4(), f"twin-{at}", midnight
            twins.append(twin)
            wrongs.append(wrong)
        Visit._base_manager.bulk_create(twins)
        Deficiency._base_manager.bulk_create(wrongs)


def test_what_comes_meanwhile_repeats_and_loses_nothing(cast: Cast) -> None:
    """Whoever pages on gets the rest of what stood."""
    owner, address = client_of(cast.owner), f"/v1/openings/{cast.opening.id}/history?limit=2"
    with acting_for(cast.owner.id, write=True):
        for days in range(1, 5):
            visit(cast.opening, findings(), at=datetime.now(UTC) - days * DAY)
    whole = told(history(owner, cast.opening.id))
    first = owner.get(address).json()
    with acting_for(cast.owner.id, write=True):
        visit(cast.opening, findings())
    rest = owner.get(first["next"]).json()
    assert told(first["data"] + rest["data"]) == whole[:4]


def test_a_cursor_is_good_for_its_own_history_alone(cast: Cast) -> None:
    """Neither for another's nor made up."""
    owner, neighbour = client_of(cast.owner), client_of(cast.neighbour)
    address = f"/v1/openings/{cast.opening.id}/history?limit=1"
    cursor = owner.get(address).json()["next"].partition("cursor=")[2]
    other = f"/v1/openings/{cast.neighbours_opening.id}/history"
    for asked in (f"{other}?limit=1&cursor={cursor}", f"{other}?cursor=x"):
        assert neighbour.get(asked).status_code == 400


def test_who_sold_a_building_keeps_its_own_time_and_no_more(cast: Cast) -> None:
    """The buyer has the whole of it; who sold it has its visits, and none that came after."""
    with acting_for(cast.firm.id, write=True):
        own = visit(cast.opening, findings(TOO_STRONG), at=datetime.now(UTC) - 3 * DAY)
    sell(cast, today())
    with acting_for(cast.neighbour.id, write=True):
        newer = visit(cast.opening, findings(), at=start_of_day(today(), cast.site.time_zone))
    rows = told(history(client_of(cast.owner), cast.opening.id))
    assert ("visit_recorded", str(own.id)) in rows
    assert {kind for kind, _ in rows} == {"visit_recorded", "deficiency_opened", "custody_began"}
    assert str(newer.id) not in {id_ for _, id_ in rows}
    whole = history(client_of(cast.neighbour), cast.opening.id)
    assert {str(own.id), str(newer.id)} <= {row["id"] for row in whole}
    assert "facts_recorded" in {row["kind"] for row in whole}


def test_a_firm_whose_leave_has_ended_keeps_what_it_wrote(cast: Cast) -> None:
    """Its visit and its picture; neither the door's facts nor what the owner did."""
    with acting_for(cast.firm.id, write=True):
        own = visit(cast.opening, findings(), at=datetime.now(UTC) - 3 * DAY)
        kept = keep_blob(look_at(content=png(), media_type="image/png")).blob
        photo = add_photo(opening_id=cast.opening.id, sha256=kept.sha256)
    with acting_for(cast.owner.id, write=True):
        visit(cast.opening, findings(), at=datetime.now(UTC) - 2 * DAY)
    end_leave(cast, today())
    rows = told(history(client_of(cast.firm), cast.opening.id))
    assert rows == [("photo_added", str(photo.id)), ("visit_recorded", str(own.id))]


def test_who_is_let_read_but_no_history_sees_no_visits(cast: Cast) -> None:
    """As everywhere: the door and what is wrong with it, not what others found."""
    with acting_for(cast.owner.id, write=True):
        visit(cast.opening, findings(TOO_STRONG))
        grant_leave(grantee_id=cast.stranger.id, actions=["record"], begins_on=today())
    kinds = {row["kind"] for row in history(client_of(cast.stranger), cast.opening.id)}
    assert {"facts_recorded", "deficiency_opened"} <= kinds
    assert not kinds & {"visit_recorded", "submittal_filed"}


def test_an_authority_sees_nothing_of_it(stage: Stage, cast: Cast) -> None:  # noqa: F811
    """Also where packets of its site were filed to it: exactly as if there were no such door."""
    clients, _ = stage
    for who in ("authority", "neighbour", "stranger"):
        answers = [
            clients[who].get(f"/v1/openings/{id_}/history") for id_ in (cast.opening.id, uuid4())
        ]
        assert [answer.status_code for answer in answers] == [404, 404]
        assert answers[0].json().keys() == answers[1].json().keys()


def test_a_key_reads_of_each_noun_what_it_may(stage: Stage, cast: Cast) -> None:  # noqa: F811
    """A key for doors alone finds what hangs on the door, and no visit."""
    with acting_for(cast.owner.id, write=True):
        _, text = issue_key(label="doors", scopes=["openings:read"])
        _, other = issue_key(label="visits", scopes=sorted(EVERY_SCOPE - {"openings:read"}))
    doors, visits = APIClient(), APIClient()
    doors.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    visits.credentials(HTTP_AUTHORIZATION=f"Bearer {other}")
    kinds = {row["kind"] for row in history(doors, cast.opening.id)}
    assert {"facts_recorded", "photo_added", "opening_added"} <= kinds
    assert not any(kind.startswith(("visit", "deficiency", "submittal")) for kind in kinds)
    assert visits.get(f"/v1/openings/{cast.opening.id}/history").status_code == 403
    with acting_for(cast.owner.id, write=True):
        _, text = issue_key(label="sites", scopes=["openings:read", "sites:read"])
    doors.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    assert doors.get(f"/v1/sites/{cast.site.id}/custody").status_code == 403
    assert "custody_began" not in {row["kind"] for row in history(doors, cast.opening.id)}


def test_a_packet_of_the_site_belongs_to_the_doors_that_stood_then(
    stage: Stage,  # noqa: F811
    cast: Cast,
) -> None:
    """One that came later has none of it."""
    clients, _ = stage
    body = {"tag": "B-1", "location": "Attic", "door_type": "swinging", "facts": {}}
    made = clients["owner"].post("/v1/openings", {**body, "site": str(cast.site.id)}, format="json")
    kinds = {row["kind"] for row in history(clients["owner"], UUID(made.json()["id"]))}
    assert kinds == {"opening_added", "facts_recorded", "tag_given", "custody_began"}
