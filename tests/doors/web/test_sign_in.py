"""Signing in to pages: one refusal for whatever is wrong, throttled, nothing kept that tells."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client

from config.http import budgets
from config.http.buckets import MemoryStore
from doors.models import EVERY_SCOPE, Account, Member, Role
from doors.services.members import end_member
from doors.tenancy import acting_for
from tests.cast import Cast
from tests.clients import PASSWORD, member_of
from tests.doors.callers import Answer

EMAIL = "noor@firm.example"


def sign_in(client: Client, email: str = EMAIL, password: str = PASSWORD, **more: str) -> Answer:
    """Send the form."""
    return client.post("/sign-in", {"email": email, "password": password, **more})


@pytest.fixture
def account(cast: Cast) -> Account:
    """Who recorders sign in as."""
    return member_of(cast.firm, role=Role.ADMINISTRATOR, email=EMAIL).account


def test_who_signs_in_sees_their_organization(account: Account, cast: Cast) -> None:
    """Whatever case the address is typed in; and no page of it is kept by a cache."""
    client = Client()
    answer = sign_in(client, email=" Noor@Firm.example ")
    assert (answer.status_code, answer["Location"]) == (302, "/account")
    shown = client.get("/account", follow=True)
    assert cast.firm.name in shown.content.decode()
    assert shown["Cache-Control"] == "no-store"


def test_whatever_is_wrong_is_told_alike(account: Account) -> None:
    """A wrong password and an unknown address: one page, but for the address that was typed."""
    wrong = sign_in(Client(), password="not this one 99")
    unknown = sign_in(Client(), email="nobody@firm.example")
    pages = [each.content.decode() for each in (wrong, unknown)]
    assert [each.status_code for each in (wrong, unknown)] == [422, 422]
    plain = [_without_secrets(each) for each in pages]
    assert plain[0].replace(EMAIL, "X") == plain[1].replace("nobody@firm.example", "X")


def test_an_address_that_no_database_keeps_is_nobodys(account: Account) -> None:
    """By whichever page it comes."""
    assert sign_in(Client(), "who\x00ever@mill.example").status_code == 422
    asked = Client().post("/forgotten-password", {"email": "who\x00ever@mill.example"})
    assert asked.status_code == 200


def _without_secrets(text: str) -> str:
    return "\n".join(line for line in text.splitlines() if "csrfmiddlewaretoken" not in line)


@pytest.mark.parametrize(
    ("wanted", "goes"),
    [
        ("/account", "/account"),
        ("https://elsewhere.example/", "/account"),
        ("//elsewhere.example/", "/account"),
        ("/\\elsewhere.example", "/account"),
        ("javascript:alert(1)", "/account"),
        ("", "/account"),
    ],
)
def test_signing_in_leads_to_no_other_site(account: Account, wanted: str, goes: str) -> None:
    """Where one goes on to is a page of ours."""
    assert sign_in(Client(), next=wanted)["Location"] == goes


def test_a_form_from_elsewhere_is_refused(account: Account) -> None:
    """Without the token of the page neither signing in, out, nor claiming happens."""
    client = Client(enforce_csrf_checks=True)
    for address in ("/sign-in", "/sign-out", "/claim"):
        assert client.post(address, {"email": EMAIL, "password": PASSWORD}).status_code == 403


def test_signing_out_is_a_post_and_ends_the_session(account: Account) -> None:
    """A link that a machine follows signs nobody out; afterwards the cookie opens nothing."""
    client = Client()
    sign_in(client)
    kept = client.cookies["sessionid"].value
    assert client.get("/sign-out").status_code == 405
    assert client.post("/sign-out")["Location"] == "/sign-in"
    client.cookies["sessionid"] = kept
    assert client.get("/account")["Location"].startswith("/sign-in?")


def test_a_session_knows_the_account_and_nothing_of_a_tenant(account: Account, cast: Cast) -> None:
    """Its row names no organization; its cookie is for HTTP and this site alone; an id
    that somebody planted is not taken over.
    """
    client = Client()
    client.cookies["sessionid"] = planted = "a" * 32
    sign_in(client)
    first = client.cookies["sessionid"]
    assert first.value != planted
    client.get(f"/account/{cast.firm.id}")
    (row,) = Session.objects.all()
    assert set(row.get_decoded()) == {"_auth_user_id", "_auth_user_backend", "_auth_user_hash"}
    assert (first["httponly"], first["samesite"]) == (True, "Lax")


def test_a_stolen_table_of_sessions_opens_nothing(account: Account) -> None:
    """Of a session's id the row holds a digest."""
    client = Client()
    sign_in(client)
    (row,) = Session.objects.all()
    assert client.cookies["sessionid"].value != row.session_key
    thief = Client()
    thief.cookies["sessionid"] = row.session_key
    assert thief.get("/account").status_code == 302


def test_attempts_are_bounded_for_an_address_alone(
    account: Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beyond the bound even the right password waits; from elsewhere it opens at once."""
    limits = settings.RATE_LIMITS | {"sign_in": (20, 3600)}
    monkeypatch.setattr(settings, "RATE_LIMITS", limits)
    fresh = MemoryStore()
    monkeypatch.setattr(budgets, "store", lambda: fresh)
    client = Client()
    for _ in range(20):
        assert sign_in(client, password="wrong wrong wrong").status_code == 422
    waits = sign_in(client)
    assert waits.status_code == 429
    assert 1 <= int(waits["Retry-After"]) <= timedelta(hours=1).total_seconds()
    assert sign_in(Client(REMOTE_ADDR="192.0.2.9")).status_code == 302


def test_who_serves_no_more_sees_no_more(account: Account, cast: Cast) -> None:
    """At the next request, though still signed in."""
    member_of(cast.firm, role=Role.ADMINISTRATOR)
    client = Client()
    sign_in(client)
    assert client.get(f"/account/{cast.firm.id}").status_code == 200
    with acting_for(cast.firm.id, write=True):
        end_member(member_id=Member.objects.get(account=account).id, reach=EVERY_SCOPE)
    assert client.get(f"/account/{cast.firm.id}").status_code == 404
