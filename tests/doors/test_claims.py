"""Claims: what a firm made for an owner passes into the owner's own hands, once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from uuid import UUID

import pytest
from django.db import connection, connections
from rest_framework.test import APIClient

from doors.models import Custody, Grant, LedgerEntry, Member, Opening, Organization, Person, Site
from doors.selectors.sight import sight_of
from doors.services.accounts import make_account
from doors.services.joining import join_by_invitation
from doors.services.ledger import verify_ledger
from doors.tenancy import acting_for
from tests.cast import FACTS, Cast, assemble, findings, visit
from tests.clients import PASSWORD, client_of
from tests.doors.callers import Answer
from tests.doors.test_organizations import OWNER, site_of


@dataclass
class Made:
    """What the firm set up for the owner: two sites, a door, a visit, and an invitation."""

    firm: APIClient
    owner: str
    site: str
    opening: str
    token: str


def set_up(cast: Cast) -> Made:
    """Let the firm make an owner and its first door, record there, and invite the owner."""
    firm = client_of(cast.firm)
    owner = firm.post("/v1/organizations", OWNER).json()["id"]
    site = firm.post("/v1/sites", site_of(owner)).json()["id"]
    firm.post("/v1/sites", site_of(owner, reference="W-2", in_custody_from="2021-05-01"))
    door = {
        "site": site,
        "tag": "M-1",
        "location": "Mill floor",
        "door_type": "accordion",
        "facts": FACTS,
    }
    opening = firm.post("/v1/openings", door).json()["id"]
    _record(cast, opening)
    invited = firm.post(f"/v1/organizations/{owner}/invitations", {"email": "wick@mill.example"})
    assert invited.status_code == 201, invited.json()
    return Made(firm, owner, site, opening, invited.json()["token"])


def _record(cast: Cast, opening_id: str) -> None:
    with acting_for(cast.firm.id, write=True):
        opening = Opening.objects.select_related("site").get(id=opening_id)
        visit(opening, findings(("set_in_motion_force", "33.4", "lbf")))


@pytest.fixture
def made(cast: Cast) -> Made:
    """Everything set up for an owner that is not here yet."""
    return set_up(cast)


def join(made: Made) -> Member:
    """Let the invited human claim."""
    account = make_account(email="wick@mill.example", password=PASSWORD)
    organization_id = join_by_invitation(token=made.token, account=account, name="Ivy Wickett")
    with acting_for(organization_id, write=False):
        return Member.objects.get()


def test_a_human_claims_and_administers(made: Made, cast: Cast) -> None:
    """Everything is there; the firm goes on with its work and manages no more."""
    member = join(made)
    assert (str(member.organization_id), member.role) == (made.owner, "administrator")
    with acting_for(member.organization_id, write=False):
        assert Site.objects.count() == 2
        assert sight_of(UUID(made.site), "manage").custodian_id == member.organization_id
        assert Organization.objects.get(id=made.owner).claimed_at is not None
        assert Person.objects.get().receives_notices
    with acting_for(cast.firm.id, write=False):
        for may in ("read", "plan", "record", "repair", "submit"):
            assert sight_of(UUID(made.site), may).may_read
    refused = made.firm.post("/v1/sites", site_of(made.owner, reference="W-3"))
    assert refused.status_code == 409
    door = {"site": made.site, "tag": "M-2", "location": "x", "door_type": "accordion"}
    assert made.firm.post("/v1/openings", {**door, "facts": FACTS}).status_code == 403
    _record(cast, made.opening)
    patched = made.firm.patch(
        f"/v1/organizations/{made.owner}", {"name": "Ours"}, headers={"If-Match": "*"}
    )
    assert patched.status_code == 403


def test_the_owner_may_end_the_implied_leave(made: Made, cast: Cast) -> None:
    """Like any other it gave."""
    member = join(made)
    owner = client_of(Organization(id=member.organization_id))
    grants = owner.get("/v1/grants").json()["data"]
    (running,) = [each for each in grants if each["ends_on"] is None]
    assert "manage" not in running["actions"]
    today = {"ends_on": datetime.now(UTC).date().isoformat()}
    assert owner.post(f"/v1/grants/{running['id']}/end", today).status_code == 200
    assert made.firm.get(f"/v1/sites/{made.site}").status_code in {200, 404}
    past = {"ends_on": "2020-01-01"}
    answer = owner.post(f"/v1/grants/{running['id']}/end", past)
    assert answer.status_code in {200, 409, 422}


def test_an_owner_that_is_here_takes_it_over(made: Made, cast: Cast) -> None:
    """Custody, the whole record and the firm's leave pass on; the alias leads there for ever."""
    owner = client_of(cast.owner)
    taken = owner.post("/v1/claims", {"token": made.token})
    assert taken.status_code == 201, taken.json()
    assert taken.json()["merged_into"] == str(cast.owner.id)
    assert owner.get(f"/v1/sites/{made.site}").status_code == 200
    visits = owner.get("/v1/visits", {"opening": made.opening})
    assert len(visits.json()["data"]) == 1
    assert owner.get(f"/v1/openings/{made.opening}").json()["tag"] == "M-1"
    alias = made.firm.get(f"/v1/organizations/{made.owner}").json()
    assert (alias["name"], alias["merged_into"]) == (OWNER["name"], str(cast.owner.id))
    assert made.firm.get(f"/v1/sites/{made.site}").status_code == 200
    _record(cast, made.opening)
    assert made.firm.post("/v1/sites", site_of(made.owner, reference="W-3")).status_code == 409


def test_the_new_owner_reads_the_chain_that_was_left(made: Made, cast: Cast) -> None:
    """All of it, and checks it; what happens from now on stands in its own chain alone, and
    nobody else reads the old one.
    """
    owner, alias = client_of(cast.owner), {"organization": made.owner}
    assert owner.get("/v1/ledger", alias).status_code == 404
    owner.post("/v1/claims", {"token": made.token})
    left = owner.get("/v1/ledger", alias).json()["data"]
    assert [each["position"] for each in left] == list(range(1, len(left) + 1))
    kinds = [each["kind"] for each in left]
    assert {"site_opened", "opening_added", "visit_recorded"} <= set(kinds)
    assert kinds[-1] == "organization_merged"
    checked = owner.get("/v1/ledger/verification", alias).json()
    assert (checked["entries"], checked["intact"]) == (len(left), True)
    _record(cast, made.opening)
    assert owner.get("/v1/ledger", alias).json()["data"] == left
    assert owner.get("/v1/ledger").json()["data"][0]["body"] != left[0]["body"]
    for other in (client_of(cast.firm), client_of(cast.neighbour)):
        assert other.get("/v1/ledger", alias).status_code == 404
        assert other.get("/v1/ledger/verification", alias).status_code == 404


def test_the_new_owner_has_the_site_from_its_first_day(made: Made, cast: Cast) -> None:
    """It was one party all along: no day of another's custody is left."""
    client_of(cast.owner).post("/v1/claims", {"token": made.token})
    with acting_for(cast.owner.id, write=False):
        held = {c.site_id: c for c in Custody.objects.exclude(site=cast.site) if c.ends_on is None}
        assert len(held) == 2
        assert {c.owner_id for c in held.values()} == {cast.owner.id}
        assert min(c.begins_on for c in held.values()).isoformat() == "2021-05-01"
        for custody in Custody.objects.filter(owner_id=UUID(made.owner)):
            assert custody.ends_on == custody.begins_on


def test_a_merged_leave_covers_the_merged_sites_alone(made: Made, cast: Cast) -> None:
    """The firm gets nothing on what the new owner had before."""
    neighbour = client_of(cast.neighbour)
    assert neighbour.post("/v1/claims", {"token": made.token}).status_code == 201
    with acting_for(cast.firm.id, write=False):
        assert not Site.objects.filter(id=cast.neighbours_site.id).exists()
        assert Site.objects.filter(id=made.site).exists()
    with acting_for(cast.neighbour.id, write=False):
        running = Grant.objects.filter(ends_on=None)
        assert all(grant.site_id is not None for grant in running)
        assert all("manage" not in grant.actions for grant in running)


def test_a_merge_stands_in_both_ledgers_unbroken(made: Made, cast: Cast) -> None:
    """Who went into whom, in the one; what was taken over, in the other."""
    client_of(cast.owner).post("/v1/claims", {"token": made.token})
    for who, kind in ((made.owner, "organization_merged"), (cast.owner.id, "custody_taken")):
        with acting_for(who, write=False):  # type: ignore[arg-type]
            assert LedgerEntry.objects.filter(kind=kind).exists()
            assert verify_ledger()[1] is None


def test_who_invited_claims_nothing_itself(cast: Cast) -> None:
    """A firm that owns buildings too does not take over what it made for another."""
    stranger = client_of(cast.stranger)
    owner = stranger.post("/v1/organizations", OWNER).json()["id"]
    sent = {"email": "wick@mill.example"}
    token = stranger.post(f"/v1/organizations/{owner}/invitations", sent).json()["token"]
    refused = stranger.post("/v1/claims", {"token": token})
    assert (refused.status_code, refused.json()["code"]) == (422, "invitation_invalid")
    assert client_of(cast.owner).post("/v1/claims", {"token": token}).status_code == 201


def test_a_membership_token_claims_nothing(cast: Cast) -> None:
    """Another purpose is as unknown, and is not used up by the attempt."""
    firm = client_of(cast.firm)
    sent = {"email": "noor@firm.example", "role": "reader"}
    token = firm.post(f"/v1/organizations/{cast.firm.id}/invitations", sent).json()["token"]
    refused = client_of(cast.owner).post("/v1/claims", {"token": token})
    assert (refused.status_code, refused.json()["code"]) == (422, "invitation_invalid")
    account = make_account(email="noor@firm.example", password=PASSWORD)
    assert join_by_invitation(token=token, account=account, name="Noor") == cast.firm.id


def test_a_claim_ends_every_other_invitation_to_it(made: Made, cast: Cast) -> None:
    """The second of two tokens opens nothing once the first was used."""
    sent = {"email": "other@mill.example"}
    other = made.firm.post(f"/v1/organizations/{made.owner}/invitations", sent).json()["token"]
    join(made)
    refused = client_of(cast.owner).post("/v1/claims", {"token": other})
    assert (refused.status_code, refused.json()["code"]) == (422, "invitation_invalid")
    again = made.firm.post(f"/v1/organizations/{made.owner}/invitations", sent)
    assert (again.status_code, again.json()["code"]) == (409, "wrong_state")


def test_only_an_owner_claims(made: Made, cast: Cast) -> None:
    """An authority has no buildings to take over."""
    refused = client_of(cast.authority).post("/v1/claims", {"token": made.token})
    assert (refused.status_code, refused.json()["code"]) == (403, "capability_missing")


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_fifty_claims_at_once_one_succeeds() -> None:
    """The others are told what everybody with a worthless token is told."""
    cast = assemble()
    made = set_up(cast)
    clients = [client_of(cast.owner), client_of(cast.neighbour)]

    def claim(number: int) -> Answer:
        try:
            return clients[number % 2].post("/v1/claims", {"token": made.token})
        finally:
            connections.close_all()

    connection.close()
    with ThreadPoolExecutor(12) as pool:
        answers = list(pool.map(claim, range(50)))
    assert sorted(a.status_code for a in answers) == [201] + [422] * 49
    assert {a.json()["code"] for a in answers if a.status_code == 422} == {"invitation_invalid"}
    taken = [o for o in (cast.owner, cast.neighbour) if _has(o.id, made.site)]
    assert len(taken) == 1


def _has(organization_id: UUID, site_id: str) -> bool:
    with acting_for(organization_id, write=False):
        return Site.objects.filter(id=site_id).exists()
