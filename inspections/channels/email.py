"""Mail: one person, one message, plain words, an identity that never changes over retries."""

from __future__ import annotations

from smtplib import SMTPRecipientsRefused, SMTPResponseException
from typing import TYPE_CHECKING

from django.core.mail import EmailMessage
from django.template.loader import render_to_string

if TYPE_CHECKING:
    from inspections.models import Notice

PERMANENT_FROM = 500  # SMTP replies from here on will be the same tomorrow


class Undeliverable(Exception):  # noqa: N818 - what a channel says of a message, not an error of ours
    """The message was not accepted; `permanent` tells whether trying again can help."""

    def __init__(self, why: str, *, permanent: bool) -> None:
        """Keep why, in words for the organization."""
        self.permanent = permanent
        super().__init__(why)


def message_for(notice: Notice) -> EmailMessage:
    """The message as it is sent: subject with the building first, then what to do."""
    context = {"words": notice.words, "person": notice.person, "notice": notice}
    template = f"notices/{notice.stage}"
    subject = render_to_string(f"{template}_subject.txt", context)
    return EmailMessage(
        subject=" ".join(subject.split()),
        body=render_to_string(f"{template}.txt", context),
        to=[notice.person.email],
        headers={"Message-ID": notice.message_id, "Auto-Submitted": "auto-generated"},
    )


def send_email(notice: Notice) -> None:
    """Hand the message to the mail server; raises Undeliverable where it was not accepted."""
    try:
        message_for(notice).send()
    except SMTPRecipientsRefused as refused:
        permanent = all(code >= PERMANENT_FROM for code, _ in refused.recipients.values())
        raise Undeliverable("the recipient was refused", permanent=permanent) from refused
    except SMTPResponseException as refused:
        permanent = refused.smtp_code >= PERMANENT_FROM
        raise Undeliverable(f"refused with {refused.smtp_code}", permanent=permanent) from refused
    except OSError as error:
        raise Undeliverable("the mail server did not answer", permanent=False) from error
