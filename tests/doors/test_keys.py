"""Keys: shown once, kept as a digest, refused alike whatever is wrong with them."""

from __future__ import annotations

import re
import zlib
from datetime import datetime, timedelta

import pytest
from rest_framework.test import APIClient

from doors.errors import NotVisibleError
from doors.models import Key, Organization, Role
from doors.selectors.keys import key_by_secret
from doors.services.keys import issue_key, revoke_key
from doors.services.organizations import register_organization
from doors.tenancy import acting_for
from tests.cast import Cast
from tests.clients import client_of, expired_key, member_of


@pytest.fixture
def firm(db: None) -> Organization:
    """An inspection firm."""
    return register_organization(name="Brass Lantern Inspections", capabilities=["inspector"])


def test_a_key_tells_whose_it_is(firm: Organization) -> None:
    """With its scopes, and the capabilities of its organization."""
    with acting_for(firm.id, write=True):
        key, text = issue_key(label="telephone 1", scopes=["visits:write", "visits:read"])
    found = key_by_secret(text)
    assert found is not None
    assert (found.key_id, found.organization_id) == (key.id, firm.id)
    assert found.scopes == {"visits:read", "visits:write"}
    assert found.capabilities == {"inspector"}


def test_the_secret_is_kept_nowhere(firm: Organization) -> None:
    """Of 256 random bits the row holds the SHA-256 alone."""
    with acting_for(firm.id, write=True):
        key, text = issue_key(label="telephone 1", scopes=[])
        row = Key.objects.filter(id=key.id).values().get()
    secret = text.split("_")[2]
    assert len(bytes.fromhex(secret)) * 8 == 256
    assert not any(secret in str(value) for value in row.values())


def test_a_key_that_ended_is_as_unknown(firm: Organization) -> None:
    """Revoked and expired answer like a key that never was, at the very next request."""
    expired = expired_key(firm)
    with acting_for(firm.id, write=True):
        key, revoked = issue_key(label="telephone 1", scopes=[])
    assert key_by_secret(revoked) is not None
    with acting_for(firm.id, write=True):
        revoke_key(key_id=key.id)
    assert key_by_secret(expired) is None
    assert key_by_secret(revoked) is None


@pytest.mark.parametrize("wrong", ["", "fdk", "fdk_zz_yy_xx", "Bearer", "fdk_" + "0" * 90, "\x00"])
def test_what_is_no_key_is_no_key(firm: Organization, wrong: str) -> None:
    """Whatever its shape."""
    assert key_by_secret(wrong) is None


def test_one_wrong_character_is_no_key(firm: Organization) -> None:
    """Anywhere: in the look-up part, the secret or the checksum."""
    with acting_for(firm.id, write=True):
        _, text = issue_key(label="telephone 1", scopes=[])
    for place in (6, 30, len(text) - 1):
        other = "0" if text[place] != "0" else "1"
        assert key_by_secret(text[:place] + other + text[place + 1 :]) is None


def test_only_its_own_organization_revokes_a_key(firm: Organization) -> None:
    """For anybody else it does not exist."""
    with acting_for(firm.id, write=True):
        key, text = issue_key(label="telephone 1", scopes=[])
    other = register_organization(name="Far Away Doors", capabilities=["owner"])
    with acting_for(other.id, write=True), pytest.raises(NotVisibleError):
        revoke_key(key_id=key.id)
    with acting_for(firm.id, write=True):
        revoke_key(key_id=key.id)
    assert key_by_secret(text) is None


def test_a_key_is_shown_once(cast: Cast) -> None:
    """Its text stands in the answer that made it, in no list, and opens what was asked for."""
    firm = client_of(cast.firm)
    made = firm.post("/v1/keys", {"label": "telephone 1", "scopes": ["visits:read"]})
    assert made.status_code == 201
    text = made.json()["key"]
    assert text.startswith(f"{made.json()['prefix']}_")
    found = key_by_secret(text)
    assert found is not None
    assert found.scopes == {"visits:read"}
    secret = text.split("_")[2]
    for address in ("/v1/keys", made["Location"]):
        assert secret not in firm.get(address).content.decode()


def test_a_key_makes_none_that_reaches_further(cast: Cast) -> None:
    """Neither in scopes, nor in time; nor can it change itself."""
    with acting_for(cast.firm.id, write=True) as context:
        ends = context.now + timedelta(days=1)
        own, text = issue_key(
            label="weak", scopes=["keys:write", "keys:read", "visits:read"], expires_at=ends
        )
    weak = client_of(cast.firm)
    weak.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    day = ends.isoformat()
    sent = {"label": "x", "scopes": ["visits:read"], "expires_at": day}
    assert weak.post("/v1/keys", sent).status_code == 201
    for wrong, where in (
        ({**sent, "scopes": ["visits:write"]}, "/scopes"),
        ({**sent, "expires_at": (ends + timedelta(seconds=1)).isoformat()}, "/expires_at"),
        ({"label": "x", "scopes": ["visits:read"]}, "/expires_at"),
        ({**sent, "expires_at": "2020-01-01T00:00:00Z"}, "/expires_at"),
    ):
        refused = weak.post("/v1/keys", wrong)
        assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, where)
    assert weak.patch(f"/v1/keys/{own.id}", {"scopes": []}).status_code == 405


def test_two_keys_of_a_label_may_live(cast: Cast) -> None:
    """The one in use and the one that replaces it; the third waits until one is revoked."""
    firm = client_of(cast.firm)
    sent = {"label": "van 3", "scopes": ["visits:read"]}
    first, second = (firm.post("/v1/keys", sent) for _ in range(2))
    third = firm.post("/v1/keys", sent)
    assert (first.status_code, second.status_code, third.status_code) == (201, 201, 409)
    assert third.json()["errors"][0]["pointer"] == "/label"
    for text in (first.json()["key"], second.json()["key"]):
        assert key_by_secret(text) is not None
    gone = firm.post(f"{first['Location']}/revocation")
    assert (gone.status_code, gone.json()["revoked_at"] is not None) == (200, True)
    assert key_by_secret(first.json()["key"]) is None
    assert firm.post(f"{first['Location']}/revocation").json() == gone.json()
    assert firm.post("/v1/keys", sent).status_code == 201


def test_keys_are_their_own_organizations_alone(cast: Cast) -> None:
    """Another's is not listed, read or revoked; nor is one made for another's member."""
    owner = client_of(cast.owner)
    address = owner.post("/v1/keys", {"label": "canary key", "scopes": ["visits:read"]})["Location"]
    member = member_of(cast.owner, role=Role.ADMINISTRATOR)
    for who in (cast.firm, cast.neighbour, cast.stranger, cast.authority):
        client = client_of(who)
        assert "canary" not in client.get("/v1/keys").content.decode()
        assert client.get(address).status_code == 404
        assert client.post(f"{address}/revocation").status_code == 404
        sent = {"label": "x", "scopes": ["visits:read"], "member": str(member.id)}
        refused = client.post("/v1/keys", sent)
        assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "/member")


@pytest.mark.parametrize(
    "field", ["secret_sha256", "lookup", "organization", "created_at", "revoked_at", "last_used_at"]
)
def test_no_other_column_can_be_sent(cast: Cast, field: str) -> None:
    """A key's secret is never chosen by who asks for it."""
    sent = {"label": "x", "scopes": ["visits:read"], field: "0" * 64}
    refused = client_of(cast.firm).post("/v1/keys", sent)
    assert (refused.status_code, refused.json()["errors"][0]["code"]) == (400, "unknown_field")


def test_the_last_use_is_kept_to_the_minute(firm: Organization) -> None:
    """The first read writes it, the reads of the same minute write nothing, the next one does."""
    with acting_for(firm.id, write=True):
        key, text = issue_key(label="telephone 1", scopes=["visits:read"])
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")

    def used() -> datetime | None:
        assert client.get("/v1/me").status_code == 200
        with acting_for(firm.id, write=False):
            return Key.objects.get(id=key.id).last_used_at

    first = used()
    assert first is not None
    assert used() == first
    with acting_for(firm.id, write=True):
        long_ago = first - timedelta(minutes=2)
        Key.objects.filter(id=key.id).update(last_used_at=long_ago)
    later = used()
    assert later is not None
    assert later >= first


def test_a_secret_recognised_by_its_shape(firm: Organization) -> None:
    """Prefix, public part, 256 bits in hex, and a checksum of what stands before it."""
    with acting_for(firm.id, write=True):
        _, text = issue_key(label="telephone 1", scopes=[])
    body, _, checksum = text.rpartition("_")
    assert re.fullmatch(r"fdk_[0-9a-f]{16}_[0-9a-f]{64}", body)
    assert int(checksum, 16) == zlib.crc32(body.encode())
