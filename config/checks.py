"""What `manage.py check` and the start of a web process refuse in production."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core import checks
from django.core.exceptions import ImproperlyConfigured

from config.settings.refusals import refusals


@checks.register("production")
def production_is_safe(
    app_configs: Sequence[AppConfig] | None, **kwargs: Any
) -> list[checks.CheckMessage]:
    """Name everything unsafe in the settings in force; nothing to say outside production.

    The production settings refuse the same at import; this catches settings derived from them.
    """
    if not settings.PRODUCTION:
        return []
    found = refusals(
        engine=settings.DATABASES["default"]["ENGINE"],
        debug=settings.DEBUG,
        secret_key=settings.SECRET_KEY,
        allowed_hosts=settings.ALLOWED_HOSTS,
        public_url=settings.PUBLIC_URL,
    )
    return [checks.Error(f"{name} {why}", id=f"config.{name}") for name, why in found.items()]


def refuse_unsafe_start() -> None:
    """Raise where `production_is_safe` finds anything, before a port is opened."""
    if found := production_is_safe(None):
        raise ImproperlyConfigured("; ".join(str(message.msg) for message in found))
