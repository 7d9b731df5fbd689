"""Make Django find the checks, the pages' templates and the static files of the assembly."""

from django.apps import AppConfig


class AssemblyConfig(AppConfig):
    """The assembly has no models; it only brings checks, templates and static files."""

    name = "config"

    def ready(self) -> None:
        """Register the checks; importing them does it."""
        from config import checks  # noqa: F401, PLC0415 (only once the apps are loaded)
