"""A way back from a forgotten password that tells nobody who has an account, and a change of it."""

from __future__ import annotations

import re
import time
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.conf import settings
from django.core import mail
from django.test import Client

from config.http import budgets
from config.http.buckets import MemoryStore
from doors.models import Account, Job, Member, Organization, Role
from doors.services.jobs import run_waiting_jobs
from doors.tenancy import Purpose, acting_for, looking_up
from doors.web.passwords import ANSWERED_AFTER
from inspections.models import Owing
from tests.cast import Cast
from tests.clients import PASSWORD, client_of, member_of
from tests.doors.callers import Answer
from tests.doors.web.test_sign_in import EMAIL, sign_in

OTHER = "copper kettle by night 4"
TOKEN = re.compile(r"/new-password#(fdp_\S+)")


@pytest.fixture
def account(cast: Cast) -> Account:
    """An administrator of the firm."""
    return member_of(cast.firm, role=Role.ADMINISTRATOR, email=EMAIL).account


def forget(email: str = EMAIL, *, address: str = "127.0.0.1") -> Answer:
    """Ask for a link."""
    return Client(REMOTE_ADDR=address).post("/forgotten-password", {"email": email})


def mailed() -> str:
    """The token of the one mail that the worker sent."""
    run_waiting_jobs()
    (message,) = mail.outbox
    assert message.to == [EMAIL]
    found = TOKEN.search(str(message.body))
    assert found is not None
    return found[1]


def set_new(token: str, password: str = OTHER) -> Answer:
    """Send the form behind the link."""
    return Client().post("/new-password", {"token": token, "password": password})


def test_a_link_by_mail_leads_to_another_password(account: Account) -> None:
    """The old one opens nothing any more, the new one does, and the link is spent."""
    assert forget(" Noor@Firm.example ").status_code == 200
    token = mailed()
    assert Client().get("/new-password").status_code == 200
    assert set_new(token)["Location"] == "/sign-in?changed=1"
    assert sign_in(Client()).status_code == 422
    assert sign_in(Client(), password=OTHER).status_code == 302
    again = set_new(token, "another quiet orchard 9")
    assert (again.status_code, "unknown, used or expired" in again.content.decode()) == (422, True)


def test_it_ends_every_session(account: Account) -> None:
    """Also the one of whoever knew the old password."""
    client = Client()
    sign_in(client)
    forget()
    assert set_new(mailed()).status_code == 302
    assert client.get("/account")["Location"].startswith("/sign-in?")


def test_signing_in_spends_the_link(account: Account) -> None:
    """Who remembered needs it no more, and nobody finds it later in the mail."""
    forget()
    token = mailed()
    sign_in(Client())
    assert set_new(token).status_code == 422
    assert sign_in(Client()).status_code == 302


def test_a_link_is_good_for_an_hour(account: Account) -> None:
    """No longer."""
    forget()
    token = mailed()
    now = datetime.now(UTC)
    with time_machine.travel(now + timedelta(minutes=61), tick=False):
        assert set_new(token).status_code == 422
    with time_machine.travel(now + timedelta(minutes=59), tick=False):
        assert set_new(token).status_code == 302


@pytest.mark.parametrize("wrong", ["", "fdp_", "fdp__", "fdp_x_y-z", "x" * 300, "\u0410", "\x00"])
def test_what_opens_nothing_is_told_in_one_way(account: Account, wrong: str) -> None:
    """Whatever is wrong with it; of another's id with this secret too."""
    forget()
    token = mailed()
    other = f"fdp_{'0' * 32}_{token.rpartition('_')[2]}"
    for each in (wrong, other, token[:-1] + ("0" if token[-1] != "0" else "1")):
        refused = set_new(each)
        assert refused.status_code == 422
        assert "unknown, used or expired" in refused.content.decode()


def test_a_weak_password_is_refused_and_the_link_stays(account: Account) -> None:
    """Told what is wrong with it."""
    forget()
    token = mailed()
    for weak in ("short", "123456789012345", "noor@firm.example"):
        assert set_new(token, weak).status_code == 422
    assert set_new(token).status_code == 302


def test_nobody_learns_whether_an_address_is_known(account: Account) -> None:
    """One page, and one time to answer in, whatever was found; a mail for the known one alone."""
    pages, took = [], []
    for email in (EMAIL, "nobody@firm.example", "", "x" * 400):
        began = time.monotonic()
        answer = forget(email)
        took.append(time.monotonic() - began)
        assert answer.status_code == 200
        pages.append(answer.content)
    assert len(set(pages)) == 1
    assert min(took) >= ANSWERED_AFTER
    mailed()


def test_asking_again_at_once_sends_no_second_mail(account: Account, cast: Cast) -> None:
    """Nobody's box is filled by whoever knows the address."""
    for _ in range(3):
        forget()
    mailed()
    forget()
    run_waiting_jobs()
    assert len(mail.outbox) == 1


def test_asking_is_bounded(account: Account, monkeypatch: pytest.MonkeyPatch) -> None:
    """As signing in is, for one address and account; so is trying tokens and old passwords."""
    monkeypatch.setattr(settings, "RATE_LIMITS", settings.RATE_LIMITS | {"sign_in": (2, 3600)})
    fresh = MemoryStore()
    monkeypatch.setattr(budgets, "store", lambda: fresh)
    assert [forget().status_code for _ in range(3)] == [200, 200, 429]
    assert forget(address="192.0.2.9").status_code == 200
    assert [set_new("fdp_x").status_code for _ in range(3)] == [422, 422, 429]
    client = Client()
    sign_in(client)
    tries = [client.post("/account/password", {"old": "x", "password": OTHER}) for _ in range(3)]
    assert [each.status_code for each in tries] == [422, 422, 429]


def test_nothing_of_a_link_is_kept(account: Account, cast: Cast) -> None:
    """Neither in the job nor in its result; nor is the organization told that somebody asked."""
    forget()
    token = mailed()
    with acting_for(cast.firm.id, write=False):
        job = Job.objects.get(kind="send_password_link")
    assert (job.state, job.result) == ("done", {"sent": True})
    assert token.rpartition("_")[2] not in str(vars(job))
    with looking_up(Purpose.SWEEP):
        assert not Owing.objects.filter(thing=job.id).exists()


def test_who_serves_nowhere_any_more_still_comes_back(account: Account, cast: Cast) -> None:
    """They may be invited anew, and are then asked for the password."""
    member_of(cast.firm, role=Role.ADMINISTRATOR)
    with acting_for(cast.firm.id, write=True) as context:
        Member.objects.filter(account=account).update(ends_at=context.now)
    forget()
    assert set_new(mailed()).status_code == 302


def test_people_of_a_sandbox_get_no_mail(cast: Cast) -> None:
    """Nor is one kept for whoever made the sandbox: it would open the account."""
    made = client_of(cast.firm).post("/v1/sandboxes", {"name": "Trial"}).json()
    with looking_up(Purpose.SET_UP):
        inside = Organization.objects.filter(sandbox_id=made["id"]).first()
    assert inside is not None
    member_of(inside, role=Role.ADMINISTRATOR, email=EMAIL)
    assert forget().status_code == 200
    run_waiting_jobs()
    assert not mail.outbox
    kept = client_of(cast.firm).get(f"/v1/sandboxes/{made['id']}/messages").json()["data"]
    assert EMAIL not in {each["recipient"] for each in kept}


def test_forms_from_elsewhere_are_refused(account: Account) -> None:
    """Each of the three."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(account)
    for address in ("/forgotten-password", "/new-password", "/account/password"):
        assert client.post(address, {"email": EMAIL, "password": OTHER}).status_code == 403


def test_who_is_signed_in_changes_the_password(account: Account) -> None:
    """By the old one; this session goes on under another id, every other one ends."""
    here, elsewhere = Client(), Client()
    for client in (here, elsewhere):
        sign_in(client)
    before = here.cookies["sessionid"].value
    wrong = here.post("/account/password", {"old": "not this one 99", "password": OTHER})
    weak = here.post("/account/password", {"old": PASSWORD, "password": "short"})
    assert (wrong.status_code, weak.status_code) == (422, 422)
    assert elsewhere.get("/account").status_code == 302
    assert not elsewhere.get("/account")["Location"].startswith("/sign-in")
    done = here.post("/account/password", {"old": PASSWORD, "password": OTHER})
    assert "Your password is changed" in done.content.decode()
    assert here.cookies["sessionid"].value != before
    assert here.get("/account/password").status_code == 200
    assert elsewhere.get("/account")["Location"].startswith("/sign-in?")
    account.refresh_from_db()
    assert account.password.startswith("argon2")
    assert sign_in(Client(), password=OTHER).status_code == 302


def test_only_who_is_signed_in_changes_it(account: Account) -> None:
    """Anybody else is sent to sign in."""
    answer = Client().post("/account/password", {"old": PASSWORD, "password": OTHER})
    assert answer["Location"].startswith("/sign-in?")
    assert sign_in(Client()).status_code == 302
