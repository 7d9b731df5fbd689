"""Invitations: mailed once, kept as a digest, used once, all refusals alike."""

from __future__ import annotations

from datetime import timedelta
from email import message_from_bytes, policy
from pathlib import Path

import pytest
from django.conf import settings

from doors.errors import InvitationInvalidError, RefusedError
from doors.models import Invitation, Job, LedgerHead, Organization, Role, Sandbox, SandboxMessage
from doors.selectors.invitations import invited_by_token, token_digest
from doors.selectors.members import memberships_of
from doors.services.accounts import make_account
from doors.services.invitations import take_invitation
from doors.services.jobs import run_waiting_jobs
from doors.services.joining import join_by_invitation
from doors.services.keys import issue_key
from doors.services.ledger import FIRST
from doors.tenancy import Purpose, acting_for, looking_up
from tests.cast import Cast
from tests.clients import PASSWORD, client_of, member_of

TO_NOOR = {"email": "noor@firm.example", "role": "recorder"}


def mails() -> list[tuple[str, str, str]]:
    """To whom, subject and text of what was sent."""
    found = []
    for file in sorted(Path(settings.EMAIL_FILE_PATH).glob("*.eml")):
        message = message_from_bytes(file.read_bytes(), policy=policy.default)
        body = message.get_body()
        assert body is not None
        found.append((message["To"], message["Subject"], body.get_content()))
    return found


@pytest.fixture(autouse=True)
def _own_mail(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A mailbox of the test's own."""
    monkeypatch.setattr(settings, "EMAIL_BACKEND", "config.mail.EmlFileBackend")
    monkeypatch.setattr(settings, "EMAIL_FILE_PATH", str(tmp_path))


def test_an_invitation_is_mailed_once_and_then_kept_nowhere(cast: Cast) -> None:
    """One link, its token behind the #; of it the digest stays."""
    firm = client_of(cast.firm)
    made = firm.post(f"/v1/organizations/{cast.firm.id}/invitations", TO_NOOR)
    assert (made.status_code, made.json()["state"]) == (201, "open")
    token = made.json()["token"]
    with acting_for(cast.firm.id, write=False):
        row = Invitation.objects.values().get()
    assert not any(token in str(value) for value in row.values())
    run_waiting_jobs()
    run_waiting_jobs()
    ((to, subject, text),) = mails()
    assert (to, cast.firm.name in subject) == ("noor@firm.example", True)
    assert text.count("http") == 1
    assert f"/claim#{token}" in text
    with acting_for(cast.firm.id, write=False):
        sent = Invitation.objects.get()
        assert (sent.sealed_token, sent.sent_at is not None) == ("", True)
        assert token not in str(Job.objects.values().get())
    listed = firm.get(f"/v1/organizations/{cast.firm.id}/invitations")
    assert token not in listed.content.decode()


def test_who_joins_is_a_member_in_the_role(cast: Cast) -> None:
    """With an account of the invited address, and no other."""
    firm = client_of(cast.firm)
    made = firm.post(f"/v1/organizations/{cast.firm.id}/invitations", TO_NOOR).json()
    other = make_account(email="else@firm.example", password=PASSWORD)
    with pytest.raises(InvitationInvalidError):
        join_by_invitation(token=made["token"], account=other, name="Else")
    account = make_account(email="Noor@Firm.example", password=PASSWORD)
    assert (
        join_by_invitation(token=made["token"], account=account, name="Noor Vale") == cast.firm.id
    )
    assert [m.role for m in memberships_of(account.id)] == ["recorder"]
    member = firm.get("/v1/members").json()["data"][0]
    assert (member["name"], member["email"]) == ("Noor Vale", "noor@firm.example")
    assert firm.get(f"/v1/people/{member['person']}").json()["email"] == "noor@firm.example"


def test_whatever_is_wrong_with_a_token_is_told_alike(cast: Cast) -> None:
    """Unknown, misshapen, used, withdrawn and expired: one refusal, word for word."""
    firm = client_of(cast.firm)
    address = f"/v1/organizations/{cast.firm.id}/invitations"

    def token(name: str) -> tuple[str, str]:
        made = firm.post(address, {"email": f"{name}@firm.example", "role": "reader"}).json()
        return made["id"], made["token"]

    used, withdrawn, expired = token("used"), token("withdrawn"), token("expired")
    take_invitation(used[1])
    firm.post(f"/v1/invitations/{withdrawn[0]}/withdrawal")
    owner = client_of(cast.owner)
    with acting_for(cast.firm.id, write=True):
        past = Invitation.objects.get(id=expired[0])
        Invitation.objects.bulk_create([_expired(past)])
    wrong = [used[1], withdrawn[1], EXPIRED, f"fdi_{'0' * 64}", "fdi_", "x", "\u0410"]
    answers = [owner.post("/v1/claims", {"token": each}) for each in wrong]
    bodies = [{k: v for k, v in a.json().items() if k != "instance"} for a in answers]
    assert {a.status_code for a in answers} == {422}
    assert all(body == bodies[0] for body in bodies)
    assert bodies[0]["code"] == "invitation_invalid"
    assert all(invited_by_token(each) is None for each in wrong)


EXPIRED = f"fdi_{'e' * 64}"


def _expired(like: Invitation) -> Invitation:
    return Invitation(
        organization_id=like.organization_id,
        email="late@firm.example",
        role=Role.READER,
        token_sha256=token_digest(EXPIRED),
        created_at=like.created_at - timedelta(days=20),
        expires_at=like.created_at - timedelta(days=6),
    )


def test_nobody_is_invited_beyond_the_inviters_reach(cast: Cast) -> None:
    """A key for invitations alone makes no administrator."""
    weak = client_of(cast.firm)
    with acting_for(cast.firm.id, write=True):
        _, text = issue_key(label="weak", scopes=["invitations:write", "visits:read"])
    weak.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    for role in ("administrator", "manager", "recorder", "reader"):
        sent = {"email": "noor@firm.example", "role": role}
        refused = weak.post(f"/v1/organizations/{cast.firm.id}/invitations", sent)
        assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "/role")


@pytest.mark.parametrize("whose", ["owner", "neighbour"])
def test_nobody_invites_to_another_organization(cast: Cast, whose: str) -> None:
    """403 where it is known, 404 where it is not."""
    firm = client_of(cast.firm)
    sent = {"email": "noor@firm.example", "role": "reader"}
    address = f"/v1/organizations/{getattr(cast, whose).id}/invitations"
    assert firm.post(address, sent).status_code == (403 if whose == "owner" else 404)
    assert firm.get(address).status_code == (200 if whose == "owner" else 404)
    if whose == "owner":
        assert firm.get(address).json()["data"] == []


def test_a_second_invitation_to_an_address_waits_for_the_first(cast: Cast) -> None:
    """Nobody floods a mailbox: withdrawn, it makes room; withdrawn twice, it says so."""
    firm = client_of(cast.firm)
    address = f"/v1/organizations/{cast.firm.id}/invitations"
    first = firm.post(address, TO_NOOR).json()
    assert firm.post(address, TO_NOOR).status_code == 409
    gone = firm.post(f"/v1/invitations/{first['id']}/withdrawal")
    assert gone.json()["state"] == "withdrawn"
    assert firm.post(f"/v1/invitations/{first['id']}/withdrawal").status_code == 409
    other = client_of(cast.owner).post(f"/v1/invitations/{first['id']}/withdrawal")
    assert other.status_code == 404
    assert firm.post(address, TO_NOOR).status_code == 201


def test_who_is_a_member_already_joins_no_second_time(cast: Cast) -> None:
    """The token stays good: nothing of a refused attempt is stored."""
    member = member_of(cast.firm, role=Role.READER, email="noor@firm.example")
    firm = client_of(cast.firm)
    made = firm.post(f"/v1/organizations/{cast.firm.id}/invitations", TO_NOOR).json()
    with pytest.raises(Exception, match="serve this organization already"):
        join_by_invitation(token=made["token"], account=member.account, name="Noor")
    assert invited_by_token(made["token"]) is not None


@pytest.mark.parametrize("password", ["short", "123456789012", "password1234", "noor@firm.example"])
def test_a_weak_password_makes_no_account(db: None, password: str) -> None:
    """Too short, too common, all digits or the address itself."""
    with pytest.raises(RefusedError):
        make_account(email="noor@firm.example", password=password)


def test_a_password_is_kept_by_argon2(db: None) -> None:
    """A slow hash, since people choose it."""
    account = make_account(email="noor@firm.example", password=PASSWORD)
    assert account.password.startswith("argon2$argon2id$")
    assert account.check_password(PASSWORD)


def test_from_a_sandbox_nobody_is_mailed(cast: Cast) -> None:
    """The invitation is kept to be read instead, token and all."""
    sandboxed = _in_a_sandbox(cast)
    client = client_of(sandboxed)
    made = client.post(f"/v1/organizations/{sandboxed.id}/invitations", TO_NOOR)
    assert made.status_code == 201, made.json()
    assert client.get("/v1/me").json()["sandbox"] is True
    run_waiting_jobs()
    assert mails() == []
    with acting_for(sandboxed.id, write=False):
        kept = SandboxMessage.objects.get()
    assert (kept.recipient, made.json()["token"] in kept.body) == ("noor@firm.example", True)


def _in_a_sandbox(cast: Cast) -> Organization:
    """A firm of a closed group that the stranger made."""
    with acting_for(cast.stranger.id, write=True) as context:
        sandbox = Sandbox.objects.create(
            organization=cast.stranger, name="Trial", place="us", created_at=context.now
        )
    with looking_up(Purpose.SET_UP, write=True) as context:
        made = Organization.objects.create(
            name="Trial firm",
            capabilities=["inspector"],
            sandbox_id=sandbox.id,
            created_at=context.now,
            claimed_at=context.now,
        )
    with acting_for(made.id, write=True):
        LedgerHead.objects.create(organization=made, entry_sha256=FIRST)
    return made
