"""The tables around which no wall stands: reviewed, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Unwalled:
    """A table that holds no tenant's data: why not, and what the runtime role may do there."""

    why: str
    granted: str = ""


# The whole list of exemptions. Another table here needs a review of what it will ever hold.
UNWALLED = {
    "doors_account": Unwalled(
        "a human may serve several organizations, and signs in before one is known",
        "SELECT, INSERT, UPDATE (password, last_login)",
    ),
    "django_session": Unwalled(
        "names an account and nothing of an organization", "SELECT, INSERT, UPDATE, DELETE"
    ),
    "django_content_type": Unwalled("names of models", "SELECT"),
    "auth_permission": Unwalled("names of models' permissions; nothing here asks for them"),
    "auth_group": Unwalled("comes with Django's accounts; stays empty"),
    "auth_group_permissions": Unwalled("comes with Django's accounts; stays empty"),
}
