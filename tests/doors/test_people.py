"""People: known to their own organization alone, changed under a version, ended and never lost."""

from __future__ import annotations

import pytest

from doors.models import LedgerEntry, Member, Person, Role
from doors.services.keys import issue_key
from doors.tenancy import acting_for
from tests.cast import Cast
from tests.clients import client_of, member_of

NOOR = {
    "name": "Noor Vale",
    "email": "noor@firm.example",
    "telephone": "+1 555 0100",
    "position": "Inspector",
    "language": "en",
    "receives_notices": True,
}
FIELDS = {field.name for field in Person._meta.get_fields()} | {"organization_id"}


def test_a_person_is_kept_as_sent_and_read_back(cast: Cast) -> None:
    """Every field round."""
    firm = client_of(cast.firm)
    made = firm.post("/v1/people", NOOR)
    assert (made.status_code, made["ETag"]) == (201, '"v1"')
    read = firm.get(made["Location"])
    assert {name: read.json()[name] for name in NOOR} == NOOR
    assert read.json()["ended_at"] is None


def test_a_person_changes_under_the_version_that_was_read(cast: Cast) -> None:
    """Of two who read the same, one is told to read again."""
    firm = client_of(cast.firm)
    address = firm.post("/v1/people", NOOR)["Location"]
    assert firm.patch(address, {"position": "Lead"}).status_code == 428
    changed = firm.patch(address, {"position": "Lead"}, headers={"If-Match": '"v1"'})
    assert (changed.json()["position"], changed["ETag"]) == ("Lead", '"v2"')
    late = firm.patch(address, {"position": "Boss"}, headers={"If-Match": '"v1"'})
    assert (late.status_code, late.json()["code"]) == (412, "precondition_failed")
    assert firm.get(address, headers={"If-None-Match": '"v2"'}).status_code == 304


def test_who_has_left_is_ended_and_kept(cast: Cast) -> None:
    """Nothing is mailed to them, they sign in no more, and their record is closed."""
    firm = client_of(cast.firm)
    member_of(cast.firm, role=Role.ADMINISTRATOR)
    leaving = member_of(cast.firm, role=Role.RECORDER, email="noor@firm.example")
    address = f"/v1/people/{leaving.person_id}"
    ended = firm.post(f"{address}/end")
    assert (ended.status_code, ended.json()["receives_notices"]) == (200, False)
    assert ended.json()["ended_at"] is not None
    assert firm.get(address).json()["name"] == "Lou Marsh"
    assert firm.get(f"/v1/members/{leaving.id}").json()["ends_at"] is not None
    again = firm.post(f"{address}/end")
    assert (again.status_code, again.json()["code"]) == (409, "wrong_state")
    revived = firm.patch(address, {"receives_notices": True}, headers={"If-Match": "*"})
    assert (revived.status_code, revived.json()["code"]) == (409, "wrong_state")


def test_nobody_ends_a_person_whose_role_reaches_further(cast: Cast) -> None:
    """A key for people alone throws no administrator out."""
    member_of(cast.firm, role=Role.ADMINISTRATOR)
    boss = member_of(cast.firm, role=Role.ADMINISTRATOR)
    weak = client_of(cast.firm)
    with acting_for(cast.firm.id, write=True):
        _, text = issue_key(label="weak", scopes=["people:write"])
    weak.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    refused = weak.post(f"/v1/people/{boss.person_id}/end")
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "/role")
    with acting_for(cast.firm.id, write=False):
        assert Member.objects.get(id=boss.id).ends_at is None
        assert Person.objects.get(id=boss.person_id).ended_at is None


def test_people_are_their_own_organizations_alone(cast: Cast) -> None:
    """Not a grantee, not an owner, not an authority reads a name or a number of them."""
    made = client_of(cast.owner).post("/v1/people", {**NOOR, "name": "Canary Person"}).json()
    for who in (cast.firm, cast.neighbour, cast.stranger, cast.authority):
        client = client_of(who)
        assert "Canary" not in client.get("/v1/people").content.decode()
        address = f"/v1/people/{made['id']}"
        assert client.get(address).status_code == 404
        assert client.patch(address, {}, headers={"If-Match": "*"}).status_code == 404
        assert client.post(f"{address}/end").status_code == 404


@pytest.mark.parametrize("field", sorted(FIELDS - set(NOOR)))
def test_no_other_column_can_be_sent(cast: Cast, field: str) -> None:
    """Neither whose the person is, nor when they left, nor a version of one's own."""
    firm = client_of(cast.firm)
    refused = firm.post("/v1/people", {**NOOR, field: "1"})
    assert (refused.status_code, refused.json()["errors"][0]["code"]) == (400, "unknown_field")
    address = firm.post("/v1/people", NOOR)["Location"]
    refused = firm.patch(address, {field: "1"}, headers={"If-Match": '"v1"'})
    assert (refused.status_code, refused.json()["errors"][0]["code"]) == (400, "unknown_field")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("email", "noor"),
        ("email", "noor@firm.example\nBcc: x@y.example"),
        ("email", "no\u043er@firm.example"),
        ("email", '"a,b"@firm.example'),
        ("email", "a" * 250 + "@firm.example"),
        ("telephone", "1" * 41),
        ("language", "EN"),
        ("language", "english"),
        ("receives_notices", "yes"),
        ("receives_notices", 1),
        ("name", "Noor\u200bVale"),
        ("name", None),
        ("name", ["Noor"]),
    ],
)
def test_what_cannot_stand_is_refused_at_its_place(cast: Cast, field: str, value: object) -> None:
    """Nothing is cut, guessed or stored."""
    firm = client_of(cast.firm)
    refused = firm.post("/v1/people", {**NOOR, field: value})
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (400, f"/{field}")
    assert firm.get("/v1/people").json()["data"] == []


def test_the_ledger_names_no_person(cast: Cast) -> None:
    """What happened stands in the chain; who it was does not, since a chain is never cleared."""
    client_of(cast.firm).post("/v1/people", NOOR)
    with acting_for(cast.firm.id, write=False):
        entry = LedgerEntry.objects.get(kind="person_added")
    assert not any(word in entry.body for word in ("Noor", "noor@", "0100"))
