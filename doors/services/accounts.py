"""Accounts: making one, and giving it another password."""

from __future__ import annotations

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from doors.errors import AlreadyExistsError, FieldProblem, RefusedError
from doors.models import Account


def make_account(*, email: str, password: str) -> Account:
    """Make an account for who has shown that the address is theirs; refuse a weak password."""
    account = Account(email=email.lower(), created_at=timezone.now())
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
