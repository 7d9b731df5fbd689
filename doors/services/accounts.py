"""Accounts: making one, and giving it another password."""

from __future__ import annotations

from uuid import UUID

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from doors.errors import AlreadyExistsError, FieldProblem, RefusedError
from doors.models import Account
from doors.names import is_invented

NOT_INVENTED = "In a sandbox people have invented addresses, as ada@owner.example."


def make_account(*, email: str, password: str, sandbox_id: UUID | None = None) -> Account:
    """Make an account for who has shown that the address is theirs; refuse a weak password.

    One of a sandbox, whose mail anybody there reads, is only made for an invented address: else
    it would stand in the way of the human to whom the address belongs.
    """
    if sandbox_id is not None and not is_invented(email):
        raise RefusedError.at("/email", NOT_INVENTED)
    account = Account(email=email.lower(), created_at=timezone.now(), sandbox_id=sandbox_id)
    _set_password(account, password)
    try:
        with transaction.atomic():
            account.save(force_insert=True)
    except IntegrityError as error:
        raise AlreadyExistsError("An account of this address stands already.") from error
    return account


def change_password(*, account: Account, password: str) -> None:
    """Give an account another password; every other session of it ends."""
    _set_password(account, password)
    account.save(update_fields=["password"])


def _set_password(account: Account, password: str) -> None:
    try:
        validate_password(password, account)
    except ValidationError as error:
        errors = [FieldProblem("/password", "weak", message) for message in error.messages]
        raise RefusedError(" ".join(error.messages), errors=errors) from error
    account.set_password(password)
