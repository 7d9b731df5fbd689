"""Mail: one person, one message, plain words, an identity that never changes over retries."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.utils import translation

from inspections.channels.digest import day_in_words, digest_of
from inspections.models import REMINDERS

if TYPE_CHECKING:
    from inspections.models import Delivery, Notice


def message_for(delivery: Delivery, notices: Sequence[Notice]) -> EmailMultiAlternatives:
    """The message as it is sent, in the person's language: the building first, then what to do."""
    person = delivery.person
    headers = {"Message-ID": delivery.message_id, "Auto-Submitted": "auto-generated"}
    if delivery.request_id is not None:
        headers["X-Request-Id"] = str(delivery.request_id)
    with translation.override(person.language.lower()):
        subject, text, html = _written(delivery, notices)
    message = EmailMultiAlternatives(
        subject=" ".join(subject.split()), body=text, to=[person.email], headers=headers
    )
    message.attach_alternative(html, "text/html")
    return message


def _written(delivery: Delivery, notices: Sequence[Notice]) -> tuple[str, str, str]:
    """Subject, plain text and HTML."""
    first = notices[0]
    if first.stage in REMINDERS:
        context = digest_of(delivery.person, notices)
        return _rendered("digest", context, html="notices/digest.html")
    context = {"words": _local(first.words), "person": delivery.person, "notice": first}
    return _rendered(first.stage, context, html="notices/message.html")


def _local(words: dict[str, Any]) -> dict[str, Any]:
    """The facts with their days as the person's language writes them."""
    return words | {
        name: day_in_words(said) for name, said in words.items() if name.endswith("_on") and said
    }


def _rendered(name: str, context: dict[str, Any], *, html: str) -> tuple[str, str, str]:
    subject = render_to_string(f"notices/{name}_subject.txt", context)
    text = render_to_string(f"notices/{name}.txt", context)
    language = translation.get_language()
    more = {"subject": " ".join(subject.split()), "text": text.strip(), "language": language}
    return subject, text, render_to_string(html, context | more)
