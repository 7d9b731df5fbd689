"""Organizations: made by a firm for an owner not here yet, and what each knows of others."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest

from doors.models import LedgerEntry, Organization
from doors.tenancy import acting_for
from tests.cast import FACTS, TOWN, ZONE, Cast
from tests.clients import client_of
from tests.doors.callers import caller

OWNER = {"reference": "C-17", "name": "Wickett Mill", "address": ["3 Mill Race", "Quillhaven"]}
FIELDS = {field.name for field in Organization._meta.get_fields()} | {"author_id", "merged_into_id"}


def site_of(owner_id: str, **changed: Any) -> dict[str, Any]:
    """What a firm sends of a building of an owner it made."""
    return {
        "owner_id": owner_id,
        "reference": "W-1",
        "name": "Mill house",
        "address": ["3 Mill Race"],
        "time_zone": ZONE,
        "jurisdiction": TOWN,
        **changed,
    }


def test_a_firm_makes_an_owner_a_site_and_a_door_and_works_there(cast: Cast) -> None:
    """Before anybody of the owner has ever been here."""
    firm = client_of(cast.firm)
    made = firm.post("/v1/organizations", OWNER)
    assert made.status_code == 201, made.json()
    owner = made.json()
    assert (owner["claimed"], owner["capabilities"], made["ETag"]) == (False, ["owner"], '"v1"')
    site = firm.post("/v1/sites", site_of(owner["id"]))
    assert site.status_code == 201, site.json()
    door = {
        "site": site.json()["id"],
        "tag": "M-1",
        "location": "Mill floor",
        "door_type": "accordion",
        "facts": FACTS,
    }
    opening = firm.post("/v1/openings", door)
    assert opening.status_code == 201, opening.json()
    assert firm.get(f"/v1/openings/{opening.json()['id']}").status_code == 200
    listed = {each["id"]: each for each in firm.get("/v1/organizations").json()["data"]}
    assert listed[owner["id"]]["sites"]["manage"] == 1
    assert listed[str(cast.owner.id)]["sites"]["manage"] == 0
    assert listed[str(cast.owner.id)]["sites"]["record"] == 1
    for other in (cast.owner, cast.neighbour, cast.stranger, cast.authority):
        client = client_of(other)
        assert client.get(f"/v1/organizations/{owner['id']}").status_code == 404
        assert client.get(f"/v1/sites/{site.json()['id']}").status_code == 404


def test_the_same_reference_again_answers_what_stands(cast: Cast) -> None:
    """A lost answer costs nothing; another owner under it is refused, and says which stands."""
    firm = client_of(cast.firm)
    first = firm.post("/v1/organizations", OWNER).json()
    again = firm.post("/v1/organizations", OWNER)
    assert (again.status_code, again.json()) == (200, first)
    other = firm.post("/v1/organizations", {**OWNER, "name": "Another"})
    assert (other.status_code, other.json()["code"]) == (409, "already_exists")
    assert other.json()["errors"][0]["pointer"] == "/reference"
    assert first["id"] in other.json()["detail"]
    rival = caller(scopes=["organizations:write"])
    assert rival.post("/v1/organizations", OWNER).status_code == 201


def test_making_an_owner_stands_in_both_ledgers(cast: Cast) -> None:
    """In the maker's chain that it was made, in the new one's what leave was implied."""
    made = client_of(cast.firm).post("/v1/organizations", OWNER).json()
    with acting_for(cast.firm.id, write=False):
        assert LedgerEntry.objects.filter(kind="owner_made", subject=made["id"]).count() == 1
    with acting_for(made["id"], write=False):
        assert [e.kind for e in LedgerEntry.objects.all()] == ["leave_implied"]


@pytest.mark.parametrize("field", sorted(FIELDS - {"name", "address", "language", "reference"}))
def test_no_other_column_can_be_sent(cast: Cast, field: str) -> None:
    """Neither when it is made nor when it is changed: not claimed, merged, or made more."""
    firm = client_of(cast.firm)
    refused = firm.post("/v1/organizations", {**OWNER, field: str(cast.owner.id)})
    assert (refused.status_code, refused.json()["errors"][0]["code"]) == (400, "unknown_field")
    for address in ("/v1/me", f"/v1/organizations/{cast.firm.id}"):
        sent = firm.patch(address, {field: "owner"}, headers={"If-Match": "*"})
        assert (sent.status_code, sent.json()["code"]) == (400, "invalid_body")


def test_an_organization_says_itself_what_it_is_called(cast: Cast) -> None:
    """Under the version it has read; others see the new name, and cannot change it."""
    owner, firm = client_of(cast.owner), client_of(cast.firm)
    address = f"/v1/organizations/{cast.owner.id}"
    named = {"name": "Harrow Mill Trust"}
    assert owner.patch(address, named).status_code == 428
    assert owner.patch(address, named, headers={"If-Match": '"v9"'}).status_code == 412
    changed = owner.patch(address, named, headers={"If-Match": '"v1"'})
    assert (changed.status_code, changed.json()["name"], changed["ETag"]) == (
        200,
        "Harrow Mill Trust",
        '"v2"',
    )
    seen = firm.get(address).json()
    assert (seen["name"], seen["address"], seen["reference"]) == ("Harrow Mill Trust", None, None)
    refused = firm.patch(address, {"name": "Ours"}, headers={"If-Match": "*"})
    assert (refused.status_code, refused.json()["code"]) == (403, "not_allowed")
    stranger = client_of(cast.stranger)
    assert stranger.patch(address, {"name": "X"}, headers={"If-Match": "*"}).status_code == 404


def test_who_made_an_owner_may_mend_its_name_until_it_is_claimed(cast: Cast) -> None:
    """A slip of the firm's is not the owner's first sight of itself."""
    firm = client_of(cast.firm)
    made = firm.post("/v1/organizations", OWNER).json()
    address = f"/v1/organizations/{made['id']}"
    mended = firm.patch(address, {"name": "Wicket Mill"}, headers={"If-Match": '"v1"'})
    assert (mended.status_code, mended.json()["name"]) == (200, "Wicket Mill")
    assert client_of(cast.owner).patch(address, {"name": "X"}).status_code in {404, 428}


@pytest.mark.parametrize(
    "name",
    [
        "Har\u200brow",
        "Har\u00adrow",
        "\u3164",
        "A\u115fB",
        "A\u2060B",
        "\ufeffHarrow",
        "Har\u2028row",
        "Har\U000e0061row",
        "\u2800",
        "Har\u202erow",
        "Har\x00row",
        "",
        " ",
    ],
)
def test_a_name_that_hides_something_is_refused(cast: Cast, name: str) -> None:
    """With its place; nothing is made."""
    refused = client_of(cast.firm).post("/v1/organizations", {**OWNER, "name": name})
    assert refused.status_code == 400
    if "\x00" not in name:  # a NUL is no JSON text at all, so it has no field
        assert refused.json()["errors"][0]["pointer"] == "/name"


def test_names_that_look_alike_are_kept_apart(cast: Cast) -> None:
    """No silent merge: a Cyrillic letter makes another owner, and both stand as typed."""
    firm = client_of(cast.firm)
    latin = firm.post("/v1/organizations", {"reference": "A", "name": "Anna"}).json()
    cyrillic = firm.post("/v1/organizations", {"reference": "\u0410", "name": "\u0410nna"}).json()
    assert latin["id"] != cyrillic["id"]
    assert firm.get(f"/v1/organizations/{cyrillic['id']}").json()["name"] == "\u0410nna"


@pytest.mark.parametrize("whose", ["owner", "neighbour", "stranger", "nobody"])
def test_a_site_is_made_for_nobody_elses_owner(cast: Cast, whose: str) -> None:
    """Whether the id exists is not told, and nothing is stored."""
    owner = str(uuid4()) if whose == "nobody" else str(getattr(cast, whose).id)
    refused = client_of(cast.firm).post("/v1/sites", site_of(owner))
    assert refused.status_code == 422
    assert refused.json()["errors"] == [
        {
            "pointer": "/owner_id",
            "code": "refused",
            "detail": "You have made no owner with this id.",
        }
    ]


def test_a_firm_without_buildings_names_the_owner(cast: Cast) -> None:
    """A site needs somebody who answers for it."""
    sent = site_of("")
    del sent["owner_id"]
    refused = client_of(cast.firm).post("/v1/sites", sent)
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "/owner_id")


def test_only_firms_make_owners(cast: Cast) -> None:
    """An owner or an authority has nobody to make."""
    for who in (cast.owner, cast.authority):
        refused = client_of(who).post("/v1/organizations", OWNER)
        assert (refused.status_code, refused.json()["code"]) == (403, "capability_missing")
