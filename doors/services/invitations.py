"""Inviting a human to join an organization, or to claim one that was made for them."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.db import transaction

from doors.channels.email import Undeliverable, hand_over
from doors.channels.invitations import invitation_message
from doors.errors import (
    AlreadyExistsError,
    InvitationInvalidError,
    NotAllowedError,
    RefusedError,
    WrongStateError,
)
from doors.models import Invitation, Job, Organization, Role
from doors.names import is_invented
from doors.selectors.invitations import (
    Invited,
    compose_token,
    invited_by_token,
    open_invitations,
    token_digest,
)
from doors.selectors.organizations import acting_party, organization_by_id
from doors.selectors.sandboxes import sandbox_in_hand
from doors.selectors.visible import visible
from doors.services.accounts import NOT_INVENTED
from doors.services.jobs import ask_for_job
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.lockouts import lock_access
from doors.services.members import refuse_beyond
from doors.services.sandboxed import keep_mail
from doors.services.sealing import seal, unseal
from doors.tenancy import Purpose, acting_organization, current, looking_up

LIVES = timedelta(days=14)
SALT = "invitation"


@transaction.atomic
def invite(
    *, organization_id: UUID, email: str, role: str | None, reach: AbstractSet[str]
) -> tuple[Invitation, str]:
    """Invite a human by mail; the token is returned this once and kept as a digest.

    To the acting organization as a member in a `role` that reaches no further than `reach`; or
    to an owner that it made and nobody has claimed, whose administrator they then are.
    """
    lock_access()
    target = organization_by_id(organization_id)
    to_claim = None if target.id == acting_organization() else _unclaimed(target)
    role = _role(role, to_claim, reach)
    if sandbox_in_hand() is not None and not is_invented(email):
        raise RefusedError.at("/email", NOT_INVENTED)
    open_ones = open_invitations().filter(to_claim=to_claim, email=email)
    if open_ones.exists():
        detail = "An invitation to this address waits already: withdraw it first."
        raise AlreadyExistsError.at("/email", detail)
    token = compose_token(secrets.token_hex(32))
    invitation = Invitation.objects.create(
        organization_id=acting_organization(),
        email=email,
        to_claim=to_claim,
        role=role,
        token_sha256=token_digest(token),
        sealed_token=seal(token, salt=SALT),
        created_at=current().now,
        expires_at=current().now + LIVES,
    )
    ask_for_job(kind="send_invitation", arguments={"invitation": str(invitation.id)})
    content = {"role": role, "to_claim": str(to_claim.id) if to_claim else None}
    _enter("invited", invitation, content)
    return invitation, token


def _unclaimed(target: Organization) -> Organization:
    if target.author_id != acting_organization():
        raise NotAllowedError("Only to your own organization, or to an owner you made.")
    if target.claimed_at is not None:
        raise WrongStateError("This organization has been claimed; its own people invite to it.")
    return target


def _role(role: str | None, to_claim: Organization | None, reach: AbstractSet[str]) -> str:
    if to_claim is not None:
        if role is not None:
            raise RefusedError.at("/role", "Who claims an organization becomes its administrator.")
        return Role.ADMINISTRATOR
    if role is None:
        raise RefusedError.at("/role", "Say in which role they are to join.")
    refuse_beyond(role, reach)
    return role


@transaction.atomic
def withdraw_invitation(*, invitation_id: UUID) -> Invitation:
    """Make a token worthless that nobody has used."""
    found = Invitation.objects.filter(id=invitation_id)
    waiting = found.filter(used_at=None, withdrawn_at=None)
    done = waiting.update(withdrawn_at=current().now, sealed_token="")
    invitation = visible(found)
    if not done:
        raise WrongStateError("This invitation has been used, or withdrawn, already.")
    _enter("invitation_withdrawn", invitation, {})
    return invitation


def take_invitation(token: str) -> Invited:
    """Use up a token: of any number who present it at once, one is let in. Every other answer,
    whatever the reason, is the same refusal.
    """
    invited = invited_by_token(token)
    if invited is None:
        raise InvitationInvalidError.at("/token", InvitationInvalidError.detail)
    with looking_up(Purpose.CLAIM, write=True) as context:
        waiting = Invitation.objects.filter(
            id=invited.invitation_id,
            used_at=None,
            withdrawn_at=None,
            expires_at__gt=context.now,
        )
        if not waiting.update(used_at=context.now, sealed_token=""):
            raise InvitationInvalidError.at("/token", InvitationInvalidError.detail)
    return invited


def send_invitation(job: Job) -> Mapping[str, Any]:
    """Mail one invitation (a job); the token is then kept nowhere."""
    row = Invitation.objects.select_related("to_claim").filter(id=job.arguments["invitation"])
    invitation = row.first()
    if invitation is None or not invitation.sealed_token:
        return {"sent": False}
    token = unseal(invitation.sealed_token, salt=SALT)
    message = invitation_message(invitation, inviter=acting_party(), token=token)
    sandbox_id = sandbox_in_hand()
    try:
        if sandbox_id is None:
            hand_over(message)
        else:
            keep_mail(sandbox_id, message)
    except Undeliverable as failure:
        if failure.permanent:
            raise RefusedError(f"The mail was not taken: {failure}.") from failure
        raise
    row.update(sent_at=current().now, sealed_token="")
    return {"sent": True}


def _enter(kind: str, invitation: Invitation, content: Mapping[str, Any]) -> None:
    """Leave a line without the address: the ledger holds no personal data."""
    line = LedgerLine(kind, invitation.id, None, content)
    write_ledger(custodian_id=acting_organization(), lines=[line])
