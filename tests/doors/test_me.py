"""`/v1/me`: who asks, for whom they may act, and within which limits."""

from __future__ import annotations

import rules
from doors.models import Person, Role
from doors.services.keys import issue_key
from doors.tenancy import acting_for
from tests.cast import Cast
from tests.clients import client_of, member_of
from tests.doors.callers import caller


def test_any_key_may_ask_who_it_is(db: None) -> None:
    """Also one that reaches nothing else; a change needs the scope."""
    asking = caller(scopes=["visits:read"])
    me = asking.get("/v1/me")
    assert (me.status_code, me.json()["organization"]["id"]) == (200, str(asking.organization.id))
    assert me.json()["key"]["scopes"] == ["visits:read"]
    refused = asking.patch("/v1/me", {"name": "X"}, headers={"If-Match": '"v1"'})
    assert (refused.status_code, refused.json()["code"]) == (403, "scope_missing")


def test_it_says_for_whom_one_may_act(cast: Cast) -> None:
    """The firm on the owner's site by its grant, the owner on its own, the stranger nowhere."""
    found = {who: client_of(getattr(cast, who)).get("/v1/me").json()["acts_for"] for who in WHO}
    assert (found["firm"]["organizations"], found["firm"]["sites"]["record"]) == (1, 1)
    assert found["firm"]["sites"]["manage"] == 0
    assert (found["owner"]["organizations"], found["owner"]["sites"]["manage"]) == (1, 1)
    assert found["stranger"]["organizations"] == 0
    assert set(found["stranger"]["sites"].values()) == {0}


WHO = ("firm", "owner", "stranger")


def test_it_says_the_limits_and_the_library(cast: Cast) -> None:
    """What an integrator must keep within, in units."""
    me = client_of(cast.firm).get("/v1/me").json()
    assert me["limits"]["body_bytes"] == 1_000_000
    assert (me["limits"]["page_rows"], me["limits"]["most_page_rows"]) == (50, 200)
    assert set(me["limits"]["requests"]["key"]) == {"requests", "seconds"}
    assert me["library_version"] == rules.__version__
    assert me["member"] is None


def test_it_says_whose_key_it_is(cast: Cast) -> None:
    """A member's key speaks for the member, within the role."""
    member = member_of(cast.firm, role=Role.RECORDER)
    with acting_for(cast.firm.id, write=True):
        _, text = issue_key(label="phone", scopes=["visits:write"], member_id=member.id)
        name = Person.objects.get(id=member.person_id).name
    asking = client_of(cast.firm)
    asking.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    me = asking.get("/v1/me").json()
    assert me["member"] == {"id": str(member.id), "name": name, "role": "recorder"}


def test_the_tag_it_gives_is_good_for_a_change(cast: Cast) -> None:
    """Read, then change: the very tag that was read; and it never answers 304, since more stands
    in it than the version tells.
    """
    owner = client_of(cast.owner)
    me = owner.get("/v1/me")
    changed = owner.patch(
        "/v1/me", {"language": "fr-CA", "address": []}, headers={"If-Match": me["ETag"]}
    )
    assert (changed.status_code, changed.json()["organization"]["language"]) == (200, "fr-CA")
    assert changed.json()["organization"]["address"] == []
    again = owner.get("/v1/me", headers={"If-None-Match": changed["ETag"]})
    assert again.status_code == 200
    stale = owner.patch("/v1/me", {"language": "en"}, headers={"If-Match": me["ETag"]})
    assert stale.status_code == 412
