"""The app that holds parties, places and openings; it raises the walls after every migration."""

from __future__ import annotations

from django.apps import AppConfig
from django.db.models.signals import post_migrate


def _raise_walls(using: str, **_kwargs: object) -> None:
    from doors.walls import raise_walls  # noqa: PLC0415 - needs the app registry

    raise_walls(using)


class DoorsConfig(AppConfig):
    """Raising after each app's migration is idempotent; tables not there yet are left out."""

    name = "doors"

    def ready(self) -> None:
        """SQLite drops triggers silently when a table is altered, so they are made anew."""
        post_migrate.connect(_raise_walls, dispatch_uid="walls")
