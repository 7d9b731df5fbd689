"""In which language a page is answered: what was asked for, else what the browser prefers."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.http import HttpRequest
from django.utils import translation

PARAMETER = "lang"


@contextmanager
def in_language_of(request: HttpRequest) -> Iterator[str]:
    """Answer within this block in the language of whoever asks; yields its code."""
    known = dict(settings.LANGUAGES)
    asked = request.GET.get(PARAMETER, "")
    language = asked if asked in known else translation.get_language_from_request(request)
    with translation.override(language):
        yield language
