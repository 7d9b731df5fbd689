"""Keys: shown once, kept as a digest, refused alike whatever is wrong with them."""

from __future__ import annotations

from datetime import timedelta

import pytest

from doors.errors import NotVisibleError
from doors.models import Key, Organization
from doors.selectors.keys import key_by_secret
from doors.services.keys import issue_key, revoke_key
from doors.services.organizations import register_organization
from doors.tenancy import acting_for


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
    with acting_for(firm.id, write=True) as context:
        past = context.now - timedelta(seconds=1)
        _, expired = issue_key(label="old", scopes=[], expires_at=past)
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
