"""The mail to who forgot their password: one link, until when, and what to do if they did not."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import UUID

from django.conf import settings
from django.core.mail import EmailMessage
from django.template.loader import render_to_string

if TYPE_CHECKING:
    from doors.models import Account


def password_message(account: Account, *, message_id: UUID, token: str) -> EmailMessage:
    """The message with its link; the token stands behind the #, so that no server log holds it."""
    context = {
        "link": f"{settings.PUBLIC_URL}/new-password#{token}",
        "minutes": settings.PASSWORD_RESET_TIMEOUT // 60,
    }
    return EmailMessage(
        subject="A new password for your fire door records",
        body=render_to_string("passwords/link.txt", context),
        to=[account.email],
        headers={
            "Message-ID": f"<{message_id}@passwords.invalid>",
            "Auto-Submitted": "auto-generated",
        },
    )
