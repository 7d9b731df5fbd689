"""What `manage.py check` and the start of a web process refuse in production."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core import checks
from django.core.exceptions import ImproperlyConfigured
from django.db import DatabaseError, connection

from config.database import unsafe_database
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


@checks.register("walls", deploy=True)
def walls_stand(
    app_configs: Sequence[AppConfig] | None, **kwargs: Any
) -> list[checks.CheckMessage]:
    """Name whatever in the database would let somebody past the walls; asked of `check --deploy`
    alone, since `migrate` must run as the owner. Nothing to say outside production.
    """
    if not settings.PRODUCTION:
        return []
    try:
        found = unsafe_database()
    except DatabaseError:
        found = ["the database does not answer"]
    return [checks.Error(f"DATABASE_URL: {why}", id="config.walls") for why in found]


def refuse_unsafe_start() -> None:
    """Raise where anything is unsafe, before a port is opened or a task taken.

    A database that does not answer is no reason not to start: until it answers, and is safe,
    `/readyz` keeps every request away.
    """
    if found := [*production_is_safe(None), *_unsafe_walls()]:
        raise ImproperlyConfigured("; ".join(str(message.msg) for message in found))


def _unsafe_walls() -> list[checks.CheckMessage]:
    if not settings.PRODUCTION:
        return []
    try:
        connection.ensure_connection()
        return walls_stand(None)
    except DatabaseError:
        return []
    finally:
        connection.close()  # a process that forks shares no connection
