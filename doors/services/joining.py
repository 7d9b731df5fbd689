"""A human takes an invitation up: joins an organization, or claims the one made for them."""

from __future__ import annotations

from uuid import UUID

from django.db import IntegrityError, transaction

from doors.errors import AlreadyExistsError, InvitationInvalidError
from doors.models import Account, Member, Organization, Person, Role
from doors.selectors.invitations import Invited, invited_by_token
from doors.selectors.organizations import acting_party
from doors.services.accounts import make_account
from doors.services.implied_grants import end_management
from doors.services.invitations import take_invitation
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.people import add_person
from doors.services.sight import lock_sight
from doors.tenancy import Purpose, acting_for, acting_organization, current, looking_up


@transaction.atomic
def join_by_invitation(*, token: str, account: Account, name: str) -> UUID:
    """Use the token for this account; answers the organization it now serves.

    Who was invited to claim becomes the administrator of the claimed organization: from then on
    whoever made it works there by a leave that the owner may end, and manages it no more.
    """
    invited = take_invitation(token)
    same_side = account.sandbox_id == invited.sandbox_id  # of the border around a sandbox
    if account.email != invited.email.lower() or not same_side:
        raise InvitationInvalidError
    if invited.claims is None:
        with acting_for(invited.organization_id, write=True):
            _add_member(account, invited.email, name, invited.role)
        return invited.organization_id
    _claim(invited, invited.claims)
    with acting_for(invited.claims, write=True):
        end_management(owner_name=acting_party().name)
        _add_member(account, invited.email, name, Role.ADMINISTRATOR, receives_notices=True)
    return invited.claims


@transaction.atomic
def accept_invitation(
    *, token: str, account: Account | None, name: str, password: str
) -> tuple[Account, UUID]:
    """Use the token for the account that is signed in, or else for one made here and now, whose
    address is the invited one. A refused token leaves no account behind.
    """
    if account is None:
        invited = invited_by_token(token)
        if invited is None:
            raise InvitationInvalidError
        account = make_account(
            email=invited.email, password=password, sandbox_id=invited.sandbox_id
        )
    return account, join_by_invitation(token=token, account=account, name=name)


def mark_claimed(organization_id: UUID, *, into: UUID | None = None) -> None:
    """Write once that an organization is claimed, by humans of its own or by another one."""
    lock_sight(organization_id)
    with looking_up(Purpose.CLAIM, write=True) as context:
        waiting = Organization.objects.filter(id=organization_id, claimed_at=None)
        if not waiting.update(claimed_at=context.now, merged_into_id=into):
            raise InvitationInvalidError.at("/token", InvitationInvalidError.detail)


def _claim(invited: Invited, organization_id: UUID) -> None:
    mark_claimed(organization_id)
    line = LedgerLine("organization_claimed", organization_id, None, {})
    with acting_for(organization_id, write=True):
        write_ledger(custodian_id=organization_id, lines=[line])
    with acting_for(invited.organization_id, write=True):
        write_ledger(custodian_id=invited.organization_id, lines=[line])


def _add_member(
    account: Account, email: str, name: str, role: str, *, receives_notices: bool = False
) -> Member:
    """Let the account serve; who claims is told of failures, since nobody else there would be."""
    known = Person.objects.filter(email__iexact=email, ended_at=None).order_by("id").first()
    member = Member(
        organization_id=acting_organization(),
        account=account,
        person=known or add_person(name=name, email=email, receives_notices=receives_notices),
        role=role,
        begins_at=current().now,
    )
    try:
        with transaction.atomic():
            member.save(force_insert=True)
    except IntegrityError as error:
        raise AlreadyExistsError("You serve this organization already.") from error
    line = LedgerLine("member_joined", member.id, None, {"role": role})
    write_ledger(custodian_id=acting_organization(), lines=[line])
    return member
