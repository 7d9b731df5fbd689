"""Earlier visits that somebody tells of: never judged, counted by the owner's word alone."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from rest_framework.test import APIClient

from doors.services.jobs import run_waiting_jobs
from doors.tenancy import acting_for
from inspections.models import Deficiency, Duty, Visit
from tests.cast import Cast, findings, visit
from tests.clients import client_of
from tests.doors.pictures import PLACE, jpeg
from tests.doors.test_openings import today

ADDRESS = "/v1/reported-visits"


@pytest.fixture
def firm(cast: Cast) -> APIClient:
    """Whoever tells of them."""
    return client_of(cast.firm)


def told(cast: Cast, **more: Any) -> dict[str, Any]:
    """What somebody tells of an earlier visit."""
    return {
        "opening": str(cast.opening.id),
        "client_ref": "binder 3, sheet 12",
        "activity": "periodic_inspection",
        "performed_on": (today() - timedelta(days=40)).isoformat(),
        "performed_by": "A former firm",
        "outcome": "no_fault_reported",
        "outcome_words": "All good <b>& oiled</b>",
    } | more


def _duties(cast: Cast) -> list[tuple[date, object, object]]:
    with acting_for(cast.owner.id, write=False):
        rows = Duty.objects.filter(activity="periodic_inspection").order_by("requirement")
        return [(d.due_on, d.last_visit_id, d.last_reported_visit_id) for d in rows]


def test_it_is_kept_as_told_and_judged_by_nobody(cast: Cast, firm: APIClient) -> None:
    """No visit, no deficiency, no duty met; seen by whoever sees the door."""
    before = _duties(cast)
    sent = told(cast, outcome="faults_reported")
    made = firm.post(ADDRESS, sent, format="json")
    assert made.status_code == 201, made.content
    assert {name: made.json()[name] for name in sent} == sent
    assert _duties(cast) == before
    with acting_for(cast.owner.id, write=False):
        assert not Visit.objects.exists()
        assert not Deficiency.objects.exists()
    for who, found in ((cast.owner, 1), (cast.firm, 1), (cast.neighbour, 0), (cast.stranger, 0)):
        client = client_of(who)
        listed = client.get(ADDRESS, {"opening": str(cast.opening.id)}).json()["data"]
        assert len(listed) == found
        status = client.get(f"{ADDRESS}/{made.json()['id']}").status_code
        assert status == (200 if found else 404)


def test_it_meets_a_duty_where_the_owner_says_so(cast: Cast, firm: APIClient) -> None:
    """Up to the day the owner names, and marked as what it is; taken back, it counts no more."""
    before = _duties(cast)
    sent = told(cast)
    made = firm.post(ADDRESS, sent, format="json").json()
    owner = client_of(cast.owner)
    assert owner.get(f"{ADDRESS}/policy").json() == {"until": None}
    for until, meets in (
        ((today() - timedelta(days=41)).isoformat(), False),
        (sent["performed_on"], True),
        (None, False),
        (sent["performed_on"], True),
    ):
        answer = owner.post(f"{ADDRESS}/policy", {"until": until}, format="json")
        assert answer.status_code == 200, answer.content
        run_waiting_jobs()
        assert (_duties(cast) != before) is meets
    rows = owner.get("/v1/duties").json()["data"]
    met = [row for row in rows if row["last_reported_visit"] == made["id"]]
    assert met
    assert {row["last_visit"] for row in met} == {None}
    taken_back = firm.post(f"{ADDRESS}/{made['id']}/withdrawal", {"reason": "twice"}, format="json")
    assert taken_back.status_code == 201
    assert _duties(cast) == before
    again = firm.post(f"{ADDRESS}/{made['id']}/withdrawal", {"reason": "twice"}, format="json")
    assert again.status_code == 409


def test_it_goes_on_meeting_a_duty_whoever_records_a_visit(cast: Cast, firm: APIClient) -> None:
    """The owner's word counts, also where the firm's visit, of another kind, settles the duties."""
    sent = told(cast)
    assert firm.post(ADDRESS, sent, format="json").status_code == 201
    policy = {"until": sent["performed_on"]}
    answer = client_of(cast.owner).post(f"{ADDRESS}/policy", policy, format="json")
    assert answer.status_code == 200, answer.content
    run_waiting_jobs()
    met = _duties(cast)
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(("opening_force", "9", "lbf")), activity="repair_retest")
    assert _duties(cast) == met
    assert any(reported for _, _, reported in met)


def test_a_reference_is_used_once(cast: Cast, firm: APIClient) -> None:
    """409 with the member; another organization's reference is its own."""
    assert firm.post(ADDRESS, told(cast), format="json").status_code == 201
    again = firm.post(ADDRESS, told(cast), format="json")
    assert (again.status_code, again.json()["errors"][0]["pointer"]) == (409, "/client_ref")
    assert client_of(cast.owner).post(ADDRESS, told(cast), format="json").status_code == 201


def test_only_who_told_of_it_takes_it_back(cast: Cast, firm: APIClient) -> None:
    """The owner sees it and is told 403; for others it does not exist."""
    made = firm.post(ADDRESS, told(cast), format="json").json()
    address = f"{ADDRESS}/{made['id']}/withdrawal"
    for who, status in ((cast.owner, 403), (cast.stranger, 404)):
        answer = client_of(who).post(address, {"reason": "x"}, format="json")
        assert answer.status_code == status


def test_its_scan_is_seen_with_it(cast: Cast, firm: APIClient) -> None:
    """A picture drawn anew, a PDF as it is; bytes of others cannot be named."""
    kept = firm.generic("POST", "/v1/blobs", jpeg(with_place=True), content_type="image/jpeg")  # type: ignore[arg-type]
    digest = kept.json()["sha256"]
    made = firm.post(ADDRESS, told(cast, scan_sha256=digest), format="json").json()
    shown = client_of(cast.owner).get(f"{ADDRESS}/{made['id']}/scan")
    assert (shown.status_code, shown["Content-Type"]) == (200, "image/jpeg")
    assert PLACE not in shown.content
    named = told(cast, client_ref="2", scan_sha256=digest)
    answer = client_of(cast.owner).post(ADDRESS, named, format="json")
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "/scan_sha256")
    bare = firm.post(ADDRESS, told(cast, client_ref="3"), format="json").json()
    assert firm.get(f"{ADDRESS}/{bare['id']}/scan").status_code == 404


@pytest.mark.parametrize(
    "wrong",
    [
        {"performed_on": (date(2190, 1, 1)).isoformat()},
        {"performed_on": "2026-02-30"},
        {"activity": "yearly"},
        {"outcome": "pass"},
        {"outcome": "conforms"},
        {"performed_by": "A\u200f firm"},
        {"performed_by": ""},
        {"client_ref": "a\x00b"},
        {"scan_sha256": "0" * 64},
        {"opening": "1"},
        {"verdict": "conforms"},
    ],
)
def test_what_cannot_be_told_is_named(
    cast: Cast, firm: APIClient, wrong: dict[str, object]
) -> None:
    """With the member that is wrong; nothing is kept."""
    answer = firm.post(ADDRESS, told(cast, **wrong), format="json")
    assert answer.status_code in {400, 422}, answer.content
    assert answer.json()["errors"][0]["pointer"] == f"/{next(iter(wrong))}"
    assert firm.get(ADDRESS).json()["data"] == []


def test_a_policy_looks_back_only(cast: Cast) -> None:
    """Visits to come are recorded here; a firm has no such policy."""
    later = {"until": (today() + timedelta(days=2)).isoformat()}
    assert client_of(cast.owner).post(f"{ADDRESS}/policy", later, format="json").status_code == 422
    policy = {"until": "2025-01-01"}
    assert client_of(cast.firm).post(f"{ADDRESS}/policy", policy, format="json").status_code == 403
