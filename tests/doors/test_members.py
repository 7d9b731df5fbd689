"""Members: each in a role, a set of scopes; nobody reaches beyond, nobody is locked out."""

from __future__ import annotations

import pytest

from doors.errors import LastAdministratorError
from doors.models import EVERY_SCOPE, ROLES, Key, Member, Role
from doors.selectors.keys import key_by_secret
from doors.selectors.members import memberships_of
from doors.services.keys import issue_key
from doors.services.members import change_role, end_member
from doors.services.people import add_person
from doors.tenancy import acting_for
from tests.cast import Cast
from tests.clients import client_of, member_of


def test_the_roles_nest() -> None:
    """Each role may what the one below it may; the administrator may everything."""
    assert ROLES[Role.ADMINISTRATOR] == EVERY_SCOPE
    assert ROLES[Role.READER] < ROLES[Role.RECORDER] < ROLES[Role.MANAGER] < EVERY_SCOPE
    for noun in ("keys", "members", "grants", "invitations", "people"):
        assert f"{noun}:write" not in ROLES[Role.MANAGER]
    assert all(scope.endswith(":read") for scope in ROLES[Role.READER])


def test_a_members_key_follows_the_role_at_once(cast: Cast) -> None:
    """A narrower role narrows the keys that stand; the end of the membership ends them."""
    member_of(cast.firm, role=Role.ADMINISTRATOR)
    member = member_of(cast.firm, role=Role.MANAGER)
    with acting_for(cast.firm.id, write=True):
        _, text = issue_key(
            label="phone", scopes=["sites:write", "visits:write"], member_id=member.id
        )
    firm = client_of(cast.firm)
    address = f"/v1/members/{member.id}"
    changed = firm.patch(address, {"role": "recorder"}, headers={"If-Match": '"v1"'})
    assert (changed.status_code, changed["ETag"]) == (200, '"v2"')
    found = key_by_secret(text)
    assert found is not None
    assert found.scopes == {"visits:write"}
    assert firm.post(f"{address}/end").status_code == 200
    assert key_by_secret(text) is None
    assert memberships_of(member.account_id) == []
    assert firm.post(f"{address}/end").json()["code"] == "wrong_state"


def test_no_key_gives_or_takes_a_role_beyond_itself(cast: Cast) -> None:
    """Neither raising a friend, nor lowering an administrator."""
    member_of(cast.firm, role=Role.ADMINISTRATOR)
    boss = member_of(cast.firm, role=Role.ADMINISTRATOR)
    friend = member_of(cast.firm, role=Role.READER)
    weak = client_of(cast.firm)
    with acting_for(cast.firm.id, write=True):
        scopes = ROLES[Role.RECORDER] | {"members:write"}
        _, text = issue_key(label="weak", scopes=scopes)
    weak.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    for member, role in ((friend, "administrator"), (friend, "manager"), (boss, "reader")):
        sent = weak.patch(f"/v1/members/{member.id}", {"role": role}, headers={"If-Match": "*"})
        assert (sent.status_code, sent.json()["errors"][0]["pointer"]) == (422, "/role")
    assert weak.post(f"/v1/members/{boss.id}/end").status_code == 422
    raised = weak.patch(f"/v1/members/{friend.id}", {"role": "recorder"}, headers={"If-Match": "*"})
    assert raised.status_code == 200


def test_the_last_one_who_lets_others_in_stays(cast: Cast) -> None:
    """Ended, lowered or with the last key revoked: a clear 409, and it still stands."""
    only = member_of(cast.stranger, role=Role.ADMINISTRATOR)
    with acting_for(cast.stranger.id, write=True):
        for attempt in (
            lambda: end_member(member_id=only.id, reach=EVERY_SCOPE),
            lambda: change_role(
                member_id=only.id, role=Role.READER, reach=EVERY_SCOPE, expected=None
            ),
        ):
            with pytest.raises(LastAdministratorError):
                attempt()
    stranger = client_of(cast.stranger)  # a key that makes keys: now there are two ways in
    assert stranger.post(f"/v1/members/{only.id}/end").status_code == 200
    with acting_for(cast.stranger.id, write=False):
        last = Key.objects.get()
    refused = stranger.post(f"/v1/keys/{last.id}/revocation")
    assert (refused.status_code, refused.json()["code"]) == (409, "last_administrator")
    assert stranger.get("/v1/me").status_code == 200


def test_members_are_their_own_organizations_alone(cast: Cast) -> None:
    """And are changed under their version by nobody else."""
    member = member_of(cast.owner, role=Role.READER, email="canary@owner.example")
    for who in (cast.firm, cast.neighbour, cast.stranger, cast.authority):
        client = client_of(who)
        assert "canary@" not in client.get("/v1/members").content.decode()
        address = f"/v1/members/{member.id}"
        assert client.get(address).status_code == 404
        sent = client.patch(address, {"role": "reader"}, headers={"If-Match": "*"})
        assert sent.status_code == 404
        assert client.post(f"{address}/end").status_code == 404


@pytest.mark.parametrize("field", ["account", "person", "organization", "ends_at", "version"])
def test_no_other_column_can_be_sent(cast: Cast, field: str) -> None:
    """A member is changed in its role alone."""
    member = member_of(cast.firm, role=Role.READER)
    refused = client_of(cast.firm).patch(
        f"/v1/members/{member.id}", {field: "x"}, headers={"If-Match": "*"}
    )
    assert (refused.status_code, refused.json()["errors"][0]["code"]) == (400, "unknown_field")


def test_one_account_serves_several_organizations(cast: Cast) -> None:
    """In each its own role; none learns of the other."""
    member = member_of(cast.firm, role=Role.MANAGER)
    with acting_for(cast.owner.id, write=True) as context:
        Member.objects.create(
            organization=cast.owner,
            account_id=member.account_id,
            person=add_person(name="Lou Marsh"),
            role=Role.READER,
            begins_at=context.now,
        )
    found = {m.organization_name: m.role for m in memberships_of(member.account_id)}
    assert found == {cast.firm.name: "manager", cast.owner.name: "reader"}
    answer = client_of(cast.firm).get("/v1/members").content.decode()
    assert cast.owner.name not in answer
