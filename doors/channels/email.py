"""Handing one message to the mail server, and what it says when it does not take it."""

from __future__ import annotations

from smtplib import SMTPRecipientsRefused, SMTPResponseException

from django.core.mail import EmailMessage

PERMANENT_FROM = 500  # SMTP replies from here on will be the same tomorrow


class Undeliverable(Exception):  # noqa: N818 - what a channel says of a message, not an error of ours
    """The message was not accepted; `permanent` tells whether trying again can help."""

    def __init__(self, why: str, *, permanent: bool) -> None:
        """Keep why, in words for the organization."""
        self.permanent = permanent
        super().__init__(why)


def hand_over(message: EmailMessage) -> None:
    """Give the message to the mail server; raises Undeliverable where it was not accepted."""
    try:
        message.send()
    except SMTPRecipientsRefused as refused:
        permanent = all(code >= PERMANENT_FROM for code, _ in refused.recipients.values())
        raise Undeliverable("the recipient was refused", permanent=permanent) from refused
    except SMTPResponseException as refused:
        permanent = refused.smtp_code >= PERMANENT_FROM
        raise Undeliverable(f"refused with {refused.smtp_code}", permanent=permanent) from refused
    except OSError as error:
        raise Undeliverable("the mail server did not answer", permanent=False) from error
