"""The app of visits and what follows from them."""

from __future__ import annotations

from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    """Nothing but its name: the walls are raised by the app below."""

    name = "inspections"
