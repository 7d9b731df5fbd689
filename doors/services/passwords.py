"""A way back from a forgotten password: a link by mail, good once and for an hour."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.contrib.auth.tokens import default_token_generator
from django.db import transaction

from doors.channels.email import Undeliverable, hand_over
from doors.channels.passwords import password_message
from doors.errors import LinkInvalidError, RefusedError
from doors.models import Account, Job
from doors.selectors.accounts import account_of
from doors.selectors.members import home_of
from doors.services.accounts import change_password
from doors.services.jobs import ask_for_job
from doors.tenancy import acting_for, current

KIND = "send_password_link"
PREFIX = "fdp_"
APART = timedelta(minutes=5)  # between two mails to one account, whoever asks


def ask_for_link(email: str) -> None:
    """Have a link mailed to the account of this address; whether there is one, nobody learns.

    The mail waits under an organization that the account serves or served. People of a sandbox
    get none.
    """
    account = account_of(email)
    if account is None or account.sandbox_id is not None:
        return
    home = home_of(account.id)
    if home is None:
        return
    with acting_for(home, write=True):
        since = current().now - APART
        asked = Job.objects.filter(kind=KIND, created_at__gt=since)
        if not asked.filter(arguments__account=str(account.id)).exists():
            ask_for_job(kind=KIND, arguments={"account": str(account.id)})


def send_password_link(job: Job) -> Mapping[str, Any]:
    """Mail the link (a job); it is made here and kept nowhere."""
    account = Account.objects.get(id=job.arguments["account"])
    token = f"{PREFIX}{account.id.hex}_{default_token_generator.make_token(account)}"
    try:
        hand_over(password_message(account, message_id=job.id, token=token))
    except Undeliverable as failure:
        if failure.permanent:
            raise RefusedError(f"The mail was not taken: {failure}.") from failure
        raise
    return {"sent": True}


@transaction.atomic
def use_link(*, token: str, password: str) -> Account:
    """Give the account of a link another password; of any number who use it at once, one does.

    The link is spent by that, by any other change of the password, and by signing in.
    """
    account_id, _, secret = token.removeprefix(PREFIX).partition("_")
    account = _locked(account_id)
    if account is None or not default_token_generator.check_token(account, secret):
        raise LinkInvalidError
    change_password(account=account, password=password)
    return account


def _locked(account_id: str) -> Account | None:
    try:
        named = UUID(hex=account_id)
    except ValueError:
        return None
    return Account.objects.select_for_update().filter(id=named).first()
