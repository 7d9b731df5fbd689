"""The account page: one's organization, its people, its keys; another's does not exist."""

from __future__ import annotations

import re
from uuid import uuid4

import pytest
from django.test import Client

from doors.models import Key, Role
from doors.selectors.keys import key_by_secret
from doors.services.keys import issue_key
from doors.tenancy import acting_for
from tests.cast import Cast
from tests.clients import member_of


def client_as(cast: Cast, role: str) -> Client:
    """A browser of somebody who serves the firm in this role."""
    client = Client()
    client.force_login(member_of(cast.firm, role=role).account)
    return client


def test_an_administrator_makes_a_key_and_sees_it_once(cast: Cast) -> None:
    """It works; no later page shows it."""
    client = client_as(cast, Role.ADMINISTRATOR)
    home = f"/account/{cast.firm.id}"
    sent = {"label": "van 3", "scopes": ["visits:read", "visits:write"], "lasts": "30"}
    made = client.post(f"{home}/keys", sent)
    found = re.search(r"fdk_[0-9a-f]{16}_[0-9a-f]{64}_[0-9a-f]{8}", made.content.decode())
    assert found is not None
    key = key_by_secret(found[0])
    assert key is not None
    assert (key.scopes, key.organization_id) == ({"visits:read", "visits:write"}, cast.firm.id)
    assert key.expires_at is not None
    assert made["Cache-Control"] == "no-store"
    later = client.get(home).content.decode()
    assert found[0] not in later
    assert "van 3" in later
    assert client.post(f"{home}/keys/{key.key_id}/revocation").status_code == 302
    assert key_by_secret(found[0]) is None


@pytest.mark.parametrize("role", [Role.MANAGER, Role.RECORDER, Role.READER])
def test_nobody_else_makes_or_revokes_one(cast: Cast, role: str) -> None:
    """Their page has no form for it, and what they send is as if there were no such page."""
    client = client_as(cast, role)
    with acting_for(cast.firm.id, write=True):
        key, text = issue_key(label="firm", scopes=["keys:write"])
    home = f"/account/{cast.firm.id}"
    assert "Make a key" not in client.get(home).content.decode()
    sent = {"label": "x", "scopes": ["visits:read"], "lasts": ""}
    assert client.post(f"{home}/keys", sent).status_code == 404
    assert client.post(f"{home}/keys/{key.id}/revocation").status_code == 404
    assert key_by_secret(text) is not None


def test_another_organizations_page_does_not_exist(cast: Cast) -> None:
    """The same page as for one that never was, whatever is sent there."""
    client = client_as(cast, Role.ADMINISTRATOR)
    with acting_for(cast.owner.id, write=True):
        key, text = issue_key(label="owner", scopes=[])
    never = client.get(f"/account/{uuid4()}")
    other = client.get(f"/account/{cast.owner.id}")
    assert (other.status_code, _plain(other.content)) == (404, _plain(never.content))
    sent = {"label": "x", "scopes": ["visits:read"], "lasts": ""}
    assert client.post(f"/account/{cast.owner.id}/keys", sent).status_code == 404
    assert client.post(f"/account/{cast.owner.id}/keys/{key.id}/revocation").status_code == 404
    through = client.post(f"/account/{cast.firm.id}/keys/{key.id}/revocation")
    assert through.status_code == 422
    assert key_by_secret(text) is not None


def _plain(content: bytes) -> str:
    return re.sub(r'name="csrfmiddlewaretoken" value="[^"]*"', "", content.decode())


@pytest.mark.parametrize(
    "sent",
    [
        {"label": "", "scopes": ["visits:read"], "lasts": ""},
        {"label": "x\u200by", "scopes": ["visits:read"], "lasts": ""},
        {"label": "x" * 201, "scopes": ["visits:read"], "lasts": ""},
        {"label": "x", "scopes": ["visits:everything"], "lasts": ""},
        {"label": "x", "lasts": ""},
        {"label": "x", "scopes": ["visits:read"], "lasts": "9999999999"},
        {"label": "x", "scopes": ["visits:read"], "lasts": "\u0663"},
    ],
)
def test_a_form_that_cannot_stand_is_told_why(cast: Cast, sent: dict[str, object]) -> None:
    """The page again with its reason; no key is made."""
    client = client_as(cast, Role.ADMINISTRATOR)
    refused = client.post(f"/account/{cast.firm.id}/keys", sent)
    assert refused.status_code == 422
    assert 'role="alert"' in refused.content.decode()
    with acting_for(cast.firm.id, write=False):
        assert not Key.objects.exists()


def test_names_are_text_on_every_page(cast: Cast) -> None:
    """Markup in a name is shown, never obeyed."""
    client = client_as(cast, Role.ADMINISTRATOR)
    label = "<script>alert(1)</script>"
    made = client.post(
        f"/account/{cast.firm.id}/keys", {"label": label, "scopes": ["visits:read"], "lasts": ""}
    )
    for shown in (made, client.get(f"/account/{cast.firm.id}")):
        assert "<script>alert" not in shown.content.decode()
        assert "&lt;script&gt;" in shown.content.decode()


def test_whoever_is_not_signed_in_signs_in_first(db: None) -> None:
    """And comes back to the page that was wanted."""
    address = f"/account/{uuid4()}"
    answer = Client().get(address)
    assert answer.status_code == 302
    assert answer["Location"] == f"/sign-in?next=%2Faccount%2F{address.rpartition('/')[2]}"
