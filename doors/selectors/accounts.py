"""Finding the account of an address."""

from __future__ import annotations

from doors.models import Account


def account_of(email: str) -> Account | None:
    """The account of this address, in whatever case; asked only by who has shown it is theirs."""
    return Account.objects.filter(email=email.lower()).first()
