"""Mail: one person, one message, plain words, an identity that never changes over retries."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.core.mail import EmailMessage
from django.template.loader import render_to_string

from doors.channels.email import hand_over

if TYPE_CHECKING:
    from inspections.models import Notice


def message_for(notice: Notice) -> EmailMessage:
    """The message as it is sent: subject with the building first, then what to do."""
    context = {"words": notice.words, "person": notice.person, "notice": notice}
    template = f"notices/{notice.stage}"
    subject = render_to_string(f"{template}_subject.txt", context)
    headers = {"Message-ID": notice.message_id, "Auto-Submitted": "auto-generated"}
    if notice.request_id is not None:
        headers["X-Request-Id"] = str(notice.request_id)
    return EmailMessage(
        subject=" ".join(subject.split()),
        body=render_to_string(f"{template}.txt", context),
        to=[notice.person.email],
        headers=headers,
    )


def send_email(notice: Notice) -> None:
    """Hand the message to the mail server; raises Undeliverable where it was not accepted."""
    hand_over(message_for(notice))
