"""Mail kept as files, for a first run, a demonstration and a sandbox: nobody is written to."""

import secrets
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend


class EmlFileBackend(BaseEmailBackend):
    """Writes each message as one .eml file under settings.EMAIL_FILE_PATH.

    A file appears whole or not at all, and its name sorts by the time of writing.
    """

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        """Write the messages that have a recipient; return how many."""
        folder = Path(settings.EMAIL_FILE_PATH)
        folder.mkdir(parents=True, exist_ok=True)
        addressed = [message for message in email_messages if message.recipients()]
        for message in addressed:
            name = f"{datetime.now(UTC):%Y%m%dT%H%M%S.%fZ}-{secrets.token_hex(4)}.eml"
            unfinished = folder / f".{name}.part"
            unfinished.write_bytes(message.message().as_bytes())
            unfinished.rename(folder / name)
        return len(addressed)
