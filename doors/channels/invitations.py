"""The mail of an invitation: who asks, for what, one link, until when."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.core.mail import EmailMessage
from django.template.loader import render_to_string

if TYPE_CHECKING:
    from doors.models import Invitation, Organization


def invitation_message(
    invitation: Invitation, *, inviter: Organization, token: str
) -> EmailMessage:
    """The message with its token, which stands behind the # so that no server log holds it."""
    kind = "claim" if invitation.to_claim else "membership"
    context = {
        "invitation": invitation,
        "inviter": inviter,
        "link": f"{settings.PUBLIC_URL}/claim#{token}",
    }
    subject = render_to_string(f"invitations/{kind}_subject.txt", context)
    return EmailMessage(
        subject=" ".join(subject.split()),
        body=render_to_string(f"invitations/{kind}.txt", context),
        to=[invitation.email],
        headers={
            "Message-ID": f"<{invitation.id}@invitations.invalid>",
            "Auto-Submitted": "auto-generated",
        },
    )
