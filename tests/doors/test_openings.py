"""Openings over HTTP: found by any tag, changed with a version, their past never rewritten."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from rest_framework.test import APIClient

from doors.models import LedgerEntry, Opening
from doors.selectors.openings import facts_on
from doors.services.jobs import run_waiting_jobs
from doors.services.lives import take_out_of_service
from doors.tenancy import acting_for
from inspections.models import Deficiency, Duty
from tests.cast import FACTS, SINCE, ZONE, Cast, conforming, findings, visit
from tests.clients import client_of


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    """The owner of the site."""
    return client_of(cast.owner)


def today() -> date:
    """The day at the site."""
    return datetime.now(ZoneInfo(ZONE)).date()


def _at(cast: Cast, *rest: str) -> str:
    return "/".join([f"/v1/openings/{cast.opening.id}", *rest])


def _new(cast: Cast, **more: Any) -> dict[str, Any]:
    return {
        "site": str(cast.site.id),
        "tag": "A-2",
        "location": "Atrium to court",
        "door_type": "swinging",
        "facts": FACTS | {"operation": "manual", "release_control": "none"},
    } | more


FULL = {
    "reference": "00417",
    "floor": "B1",
    "from_space": "Lobby",
    "to_space": "Atrium",
    "barrier": "W-12",
    "drawing": "A-401 rev 3",
    "permit": "2019-118",
    "serial_number": "SN 0007",
    "rating_minutes": 90,
    "temperature_rise": "250 °F at 30 min",
    "label_agency": "A laboratory",
    "label_number": "R-1",
    "label_legible": True,
    "travel_length": {"value": "24.0", "unit": "ft"},
    "parting": "single",
    "curved": False,
    "pocket_cover": True,
    "sensor_edge": True,
    "floor_track": False,
    "egress_side": "both",
    "operating_device": "handle, lobby side",
    "locking": "none",
    "remarks": "Two lines\nof remarks.",
}


def test_the_whole_inventory_comes_back_as_sent(cast: Cast, owner: APIClient) -> None:
    """Every member, with its units, on the opening itself and in the list."""
    made = owner.post("/v1/openings", _new(cast, **FULL), format="json")
    assert made.status_code == 201, made.content
    assert made["ETag"] == '"v1"'
    assert {name: made.json()[name] for name in FULL} == FULL
    listed = owner.get("/v1/openings", {"reference": "00417"}).json()["data"]
    assert [{name: row[name] for name in FULL} for row in listed] == [FULL]


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"rating_minutes": 0}, "/rating_minutes"),
        ({"rating_minutes": "90"}, "/rating_minutes"),
        ({"travel_length": {"value": "24", "unit": "lbf"}}, "/travel_length/unit"),
        ({"travel_length": {"value": "-1", "unit": "ft"}}, "/travel_length/value"),
        ({"travel_length": {"value": "1" * 5000, "unit": "ft"}}, "/travel_length/value"),
        ({"parting": "two"}, "/parting"),
        ({"label_legible": "yes"}, "/label_legible"),
        ({"door_type": "curtain"}, "/door_type"),
        ({"facts": {"door_type": "accordion"}}, "/facts/door_type"),
        ({"facts": {"in_service": False}}, "/facts/in_service"),
        ({"facts": {"hue": 1}}, "/facts/hue"),
        ({"in_place_since": "2190-01-01"}, "/in_place_since"),
        ({"replaces": "6f9f1c1e-8d2b-4a52-9d3c-0c9a5c1f7e11"}, "/replaces"),
        ({"tag": "A\u202e1"}, "/tag"),
        ({"floor": "1\r\nX: y"}, "/floor"),
    ],
)
def test_a_wrong_member_is_named(
    cast: Cast, owner: APIClient, wrong: dict[str, Any], pointer: str
) -> None:
    """Nothing is stored, and the place of the mistake is told."""
    answer = owner.post("/v1/openings", _new(cast, **wrong), format="json")
    assert answer.status_code in {400, 422}, answer.content
    assert pointer in {error["pointer"] for error in answer.json()["errors"]}
    with acting_for(cast.owner.id, write=False):
        assert Opening.objects.count() == 1


def test_two_doors_of_a_site_share_neither_tag_nor_reference(cast: Cast, owner: APIClient) -> None:
    """409 with the member that clashes, by whatever way it comes."""
    assert owner.post("/v1/openings", _new(cast, reference="7"), format="json").status_code == 201
    for clash, pointer in (
        ({"tag": "A-1"}, "/tag"),
        ({"tag": "A-3", "reference": "7"}, "/reference"),
    ):
        answer = owner.post("/v1/openings", _new(cast, **clash), format="json")
        assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (409, pointer)
    changed = owner.patch(_at(cast), {"reference": "7"}, format="json", HTTP_IF_MATCH="*")
    assert (changed.status_code, changed.json()["errors"][0]["pointer"]) == (409, "/reference")


def test_a_patch_names_the_version_it_saw(cast: Cast, owner: APIClient) -> None:
    """428 without, 412 with another, null empties a member, and the line is written."""
    seen = owner.get(_at(cast))["ETag"]
    assert owner.patch(_at(cast), {"floor": "2"}, format="json").status_code == 428
    done = owner.patch(_at(cast), {"floor": "2", "curved": True}, format="json", HTTP_IF_MATCH=seen)
    assert (done.status_code, done.json()["floor"], done.json()["curved"]) == (200, "2", True)
    again = owner.patch(_at(cast), {"floor": "3"}, format="json", HTTP_IF_MATCH=seen)
    assert again.status_code == 412
    emptied = owner.patch(
        _at(cast), {"floor": None, "curved": None}, format="json", HTTP_IF_MATCH=done["ETag"]
    )
    assert (emptied.json()["floor"], emptied.json()["curved"]) == ("", None)
    assert (
        owner.patch(_at(cast), {"location": None}, format="json", HTTP_IF_MATCH="*").status_code
        == 400
    )
    assert owner.patch(_at(cast), {"tag": "Z"}, format="json", HTTP_IF_MATCH="*").status_code == 400
    with acting_for(cast.owner.id, write=False):
        assert LedgerEntry.objects.filter(kind="opening_changed").count() == 2


def test_facts_hold_from_a_day_on(cast: Cast, owner: APIClient) -> None:
    """What is not named stays, null makes unknown, and what was so before is as it was."""
    begins_on = date(2024, 5, 1)
    sent = {"begins_on": "2024-05-01", "facts": {"occupant_load": 200, "sprinklered": None}}
    made = owner.post(_at(cast, "facts"), sent, format="json")
    assert made.status_code == 201, made.content
    expected = {k: v for k, v in FACTS.items() if k != "sprinklered"} | {"occupant_load": 200}
    assert made.json()["facts"] == expected
    with acting_for(cast.owner.id, write=False):
        opening = Opening.objects.select_related("site").get(id=cast.opening.id)
        before = facts_on(opening, begins_on - timedelta(days=1)).facts
        after = facts_on(opening, begins_on).facts
    assert before == FACTS | {"door_type": "accordion"}
    assert after == expected | {"door_type": "accordion"}
    assert len(owner.get(_at(cast, "facts")).json()["data"]) == 2


def test_a_late_visit_is_judged_by_the_facts_of_its_day(cast: Cast, owner: APIClient) -> None:
    """A visit of before the change does not know it."""
    sent = {"begins_on": "2025-06-01", "facts": {"occupant_load": 999}}
    assert owner.post(_at(cast, "facts"), sent, format="json").status_code == 201
    with acting_for(cast.firm.id, write=True):
        early = visit(cast.opening, findings(), at=datetime(2025, 5, 1, 12, tzinfo=UTC))
        late = visit(cast.opening, findings(), at=datetime(2025, 7, 1, 12, tzinfo=UTC))
    assert early.basis["facts"]["occupant_load"] == FACTS["occupant_load"]
    assert late.basis["facts"]["occupant_load"] == 999


def test_a_day_to_come_is_settled_when_it_comes(cast: Cast, owner: APIClient) -> None:
    """A planned outage suspends nothing before its day; a job of that day does."""
    day = (today() + timedelta(days=3)).isoformat()
    made = owner.post(_at(cast, "outages"), {"begins_on": day, "reason": "works"}, format="json")
    assert made.status_code == 201
    assert owner.get(_at(cast)).json()["state"] == "in_service"
    with acting_for(cast.owner.id, write=False):
        assert "suspended" not in set(Duty.objects.values_list("standing", flat=True))
    assert run_waiting_jobs() == 0


def test_out_of_service_and_back(cast: Cast, owner: APIClient) -> None:
    """Its duties are suspended in the same transaction, and run again from the day it is back."""
    begins_on = (today() - timedelta(days=5)).isoformat()
    made = owner.post(
        _at(cast, "outages"), {"begins_on": begins_on, "reason": "works"}, format="json"
    )
    assert owner.get(_at(cast)).json()["state"] == "out_of_service"
    assert len(owner.get("/v1/openings", {"state": "out_of_service"}).json()["data"]) == 1
    assert owner.get("/v1/openings", {"state": "in_service"}).json()["data"] == []
    with acting_for(cast.owner.id, write=False):
        assert set(Duty.objects.values_list("standing", flat=True)) == {"suspended"}
    twice = owner.post(_at(cast, "outages"), {"begins_on": begins_on, "reason": "x"}, format="json")
    assert twice.status_code == 409
    end = _at(cast, "outages", made.json()["id"], "end")
    assert owner.post(end, {"ends_on": begins_on}, format="json").status_code == 422
    assert owner.post(end, {"ends_on": today().isoformat()}, format="json").status_code == 200
    assert owner.post(end, {"ends_on": today().isoformat()}, format="json").status_code == 409
    assert owner.get(_at(cast)).json()["state"] == "in_service"
    with acting_for(cast.owner.id, write=False):
        assert "suspended" not in set(Duty.objects.values_list("standing", flat=True))


def test_a_door_is_found_by_any_tag_it_ever_bore(cast: Cast, owner: APIClient) -> None:
    """With the days; the packet of a visit's day shows the tag of that day."""
    made = owner.post(_at(cast, "tags"), {"tag": "E2-07", "begins_on": "2025-05-03"}, format="json")
    assert made.status_code == 201
    for query, found in (
        ({"tag": "A-1"}, 1),
        ({"tag": "E2-07"}, 1),
        ({"tag": "A-1", "on": "2025-05-02"}, 1),
        ({"tag": "A-1", "on": "2025-05-03"}, 0),
        ({"tag": "E2-07", "on": "2025-05-03"}, 1),
        ({"tag": "E2-07", "on": "2025-05-02"}, 0),
    ):
        rows = owner.get("/v1/openings", query).json()["data"]
        assert (query, len(rows)) == (query, found)
    assert rows == []
    assert owner.get(_at(cast)).json()["tags"] == [
        {"tag": "A-1", "begins_on": SINCE.isoformat(), "ends_on": "2025-05-03"},
        {"tag": "E2-07", "begins_on": "2025-05-03", "ends_on": None},
    ]
    alone = owner.get("/v1/openings", {"on": "2025-05-03"})
    assert (alone.status_code, alone.json()["errors"][0]["parameter"]) == (400, "on")


def test_a_tag_is_borne_by_one_door_on_one_day(cast: Cast, owner: APIClient) -> None:
    """Free again once it was given up; a slip of the same day can be mended the same day."""
    other = owner.post("/v1/openings", _new(cast), format="json").json()
    taken = owner.post(f"/v1/openings/{other['id']}/tags", {"tag": "A-1"}, format="json")
    assert taken.status_code == 409
    assert owner.post(_at(cast, "tags"), {"tag": "B-1"}, format="json").status_code == 201
    freed = owner.post(f"/v1/openings/{other['id']}/tags", {"tag": "A-1"}, format="json")
    assert freed.status_code == 201
    early = {"tag": "C-1", "begins_on": "2019-01-01"}
    assert owner.post(_at(cast, "tags"), early, format="json").status_code == 422
    late = {"tag": "C-1", "begins_on": (today() + timedelta(days=1)).isoformat()}
    assert owner.post(_at(cast, "tags"), late, format="json").status_code == 422


def test_a_removed_door_owes_nothing_and_frees_its_tag(cast: Cast, owner: APIClient) -> None:
    """What was open on it is closed as removed with the authority's reference, at once."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(("set_in_motion_force", "33.4", "lbf")))
    sent = {
        "removed_on": today().isoformat(),
        "reason": "wall opened",
        "authority_reference": "P-2026-9",
    }
    gone = owner.post(_at(cast, "removal"), sent, format="json")
    assert (gone.status_code, gone.json()["state"]) == (201, "removed"), gone.content
    with acting_for(cast.owner.id, write=False):
        assert set(Duty.objects.values_list("standing", flat=True)) == {"ended"}
        closed = Deficiency.objects.get()
        assert (closed.state, closed.reason) == ("withdrawn", "opening removed, P-2026-9")
    assert owner.post(_at(cast, "removal"), sent, format="json").status_code == 409
    assert owner.post(_at(cast, "tags"), {"tag": "X"}, format="json").status_code == 409
    again = owner.post("/v1/openings", _new(cast, tag="A-1"), format="json")
    assert again.status_code == 201
    assert len(owner.get("/v1/openings", {"tag": "A-1"}).json()["data"]) == 2


def test_a_replacement_is_another_door_linked_to_the_old(cast: Cast, owner: APIClient) -> None:
    """New id, new duties; both know of each other; only once."""
    sent = {
        "removed_on": today().isoformat(),
        "reason": "worn out",
        "opening": {k: v for k, v in _new(cast, tag="A-1").items() if k != "site"},
    }
    made = owner.post(_at(cast, "replacement"), sent, format="json")
    assert made.status_code == 201, made.content
    assert made.json()["replaces"] == str(cast.opening.id)
    assert owner.get(_at(cast)).json()["replaced_by"] == made.json()["id"]
    with acting_for(cast.owner.id, write=False):
        assert Duty.objects.filter(opening=made.json()["id"]).exists()
    second = owner.post("/v1/openings", _new(cast, replaces=str(cast.opening.id)), format="json")
    assert (second.status_code, second.json()["errors"][0]["pointer"]) == (409, "/replaces")


def test_a_failed_replacement_removes_nothing(cast: Cast, owner: APIClient) -> None:
    """All or nothing."""
    new = {k: v for k, v in _new(cast, facts={"hue": 1}).items() if k != "site"}
    sent = {"removed_on": today().isoformat(), "reason": "worn out", "opening": new}
    assert owner.post(_at(cast, "replacement"), sent, format="json").status_code in {400, 422}
    assert owner.get(_at(cast)).json()["state"] == "in_service"


def test_what_changes_on_a_door_changes_its_tag_of_version(cast: Cast, owner: APIClient) -> None:
    """Nobody is told 304 of a door whose facts, tags or devices have changed."""
    day = today().isoformat()
    for where, sent in (
        ("facts", {"begins_on": day, "facts": {"occupant_load": 5}}),
        ("tags", {"tag": "T-1"}),
        ("outages", {"begins_on": day, "reason": "works"}),
        ("devices", {"begins_on": day, "kind": "release"}),
        ("batteries", {"begins_on": day, "battery_type": "agm"}),
    ):
        seen = owner.get(_at(cast))["ETag"]
        assert owner.get(_at(cast), HTTP_IF_NONE_MATCH=seen).status_code == 304
        answer = owner.post(_at(cast, where), sent, format="json")
        assert answer.status_code == 201, answer.content
        assert owner.get(_at(cast), HTTP_IF_NONE_MATCH=seen).status_code == 200, where


def test_changed_since_finds_what_changed(cast: Cast, owner: APIClient) -> None:
    """A door untouched since then is not sent again."""
    owner.post("/v1/openings", _new(cast), format="json")
    since = datetime.now(UTC).isoformat()
    assert owner.get("/v1/openings", {"changed_since": since}).json()["data"] == []
    owner.post(_at(cast, "tags"), {"tag": "T-9"}, format="json")
    found = owner.get("/v1/openings", {"changed_since": since}).json()["data"]
    assert [row["tag"] for row in found] == ["T-9"]


def test_only_who_manages_the_site_keeps_its_inventory(cast: Cast) -> None:
    """The firm sees the door and may not change it; for a stranger it does not exist."""
    sent = {"tag": "X"}
    assert client_of(cast.firm).post(_at(cast, "tags"), sent, format="json").status_code == 403
    assert client_of(cast.stranger).post(_at(cast, "tags"), sent, format="json").status_code == 404


def test_the_state_turns_with_the_day_at_the_site(cast: Cast, owner: APIClient) -> None:
    """An outage whose first day back is today is over."""
    with acting_for(cast.owner.id, write=True):
        take_out_of_service(
            opening_id=cast.opening.id,
            begins_on=today() - timedelta(days=2),
            ends_on=today(),
            reason="works",
        )
    assert owner.get(_at(cast)).json()["state"] == "in_service"
    with acting_for(cast.firm.id, write=True):
        made = visit(
            cast.opening, conforming(cast.opening, "operation_test"), activity="operation_test"
        )
    assert made.basis["facts"].get("in_service") is not False


@pytest.mark.parametrize("at", ["/v1/openings", "/v1/grants"])
def test_a_site_in_the_body_that_is_not_there_is_named(
    cast: Cast, owner: APIClient, at: str
) -> None:
    """Whoever reads the refusal knows which id finds nothing: it is not the address."""
    unknown = "6f9f1c1e-8d2b-4a52-9d3c-0c9a5c1f7e11"
    door = {"site": unknown, "tag": "Z", "location": "Hall", "door_type": "swinging", "facts": {}}
    leave = {
        "site": unknown,
        "grantee": str(cast.firm.id),
        "actions": ["record"],
        "begins_on": "2026-01-01",
    }
    answer = owner.post(at, door if at == "/v1/openings" else leave)
    assert answer.status_code == 404
    assert answer.json()["errors"][0]["pointer"] == "/site"
