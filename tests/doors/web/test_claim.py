"""The claim page: nothing happens by opening it; by its form a token is used, once."""

from __future__ import annotations

import pytest
from django.test import Client

from doors.models import Account, Organization, Role
from doors.selectors.invitations import invited_by_token
from doors.selectors.members import memberships_of
from doors.tenancy import acting_for
from tests.cast import Cast
from tests.clients import PASSWORD, client_of, member_of
from tests.doors.callers import Answer
from tests.doors.test_organizations import OWNER

NAME = str(OWNER["name"])
EMAIL = "wick@mill.example"


@pytest.fixture
def token(cast: Cast) -> str:
    """Of an invitation to claim what the firm made."""
    firm = client_of(cast.firm)
    owner = firm.post("/v1/organizations", OWNER).json()["id"]
    invited = firm.post(f"/v1/organizations/{owner}/invitations", {"email": EMAIL})
    return str(invited.json()["token"])


def accept(client: Client, token: str, **more: str) -> Answer:
    """Send the second form."""
    sent = {"token": token, "step": "accept", "name": "Ivy Wickett", "password": PASSWORD}
    return client.post("/claim", sent | more)


def test_a_human_claims_by_the_page(token: str) -> None:
    """Reads what it is for, makes an account, and is in the organization that is now theirs."""
    client = Client()
    assert client.get("/claim").status_code == 200
    asked = client.post("/claim", {"token": token})
    assert NAME in asked.content.decode()
    assert EMAIL in asked.content.decode()
    assert invited_by_token(token) is not None
    done = accept(client, token)
    assert done.status_code == 302
    shown = client.get(done["Location"])
    assert (shown.status_code, NAME in shown.content.decode()) == (200, True)
    account = Account.objects.get(email=EMAIL)
    (place,) = memberships_of(account.id)
    assert place.role == "administrator"
    with acting_for(place.organization_id, write=False):
        assert Organization.objects.get(id=place.organization_id).claimed_at is not None


def test_opening_the_page_uses_nothing_up(token: str) -> None:
    """A mail scanner follows every link, with the token in whatever place."""
    for address in ("/claim", f"/claim?token={token}", f"/claim?token={token}&step=accept"):
        for method in ("get", "head"):
            assert getattr(Client(), method)(address).status_code == 200
    assert invited_by_token(token) is not None
    assert not Account.objects.exists()


@pytest.mark.parametrize("wrong", ["", "fdi_", "fdi_" + "0" * 64, "x" * 200, "\u0410"])
def test_what_opens_nothing_is_told_in_one_way(token: str, wrong: str) -> None:
    """Whatever is wrong with it, at either step."""
    for sent in ({"token": wrong}, {"token": wrong, "step": "accept", "name": "X"}):
        refused = Client().post("/claim", sent)
        assert refused.status_code == 422
        assert "unknown, used, expired, or not for you" in refused.content.decode()


@pytest.mark.parametrize(
    "more", [{"password": "short"}, {"name": ""}, {"name": "Ivy\u200b"}, {"name": "x" * 201}]
)
def test_what_is_missing_leaves_nothing_behind(token: str, more: dict[str, str]) -> None:
    """The token stays good, and there is no half-made account."""
    assert accept(Client(), token, **more).status_code == 422
    assert not Account.objects.exists()
    assert invited_by_token(token) is not None
    assert accept(Client(), token).status_code == 302


def test_who_has_an_account_signs_in_with_it(token: str, cast: Cast) -> None:
    """Its password is asked for, not set anew; a wrong one uses nothing up."""
    member_of(cast.firm, role=Role.READER, email=EMAIL)
    client = Client()
    assert "Your password" in client.post("/claim", {"token": token}).content.decode()
    assert accept(client, token, password="wrong wrong wrong").status_code == 422
    assert invited_by_token(token) is not None
    assert accept(client, token).status_code == 302
    account = Account.objects.get(email=EMAIL)
    assert account.check_password(PASSWORD)
    assert len(memberships_of(account.id)) == 2


def test_another_account_that_is_signed_in_claims_nothing(token: str, cast: Cast) -> None:
    """An invitation is for the address it was sent to."""
    client = Client()
    client.force_login(member_of(cast.neighbour, role=Role.ADMINISTRATOR).account)
    refused = accept(client, token)
    assert refused.status_code == 422
    assert invited_by_token(token) is not None


def test_a_token_is_used_once(token: str) -> None:
    """The second time it opens nothing."""
    assert accept(Client(), token).status_code == 302
    again = accept(Client(), token)
    assert again.status_code == 422
    assert "unknown, used, expired" in again.content.decode()
