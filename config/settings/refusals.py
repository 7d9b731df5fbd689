"""What production refuses about its settings: asked at import, and again by the system check."""

from collections.abc import Sequence

NEVER_IN_PRODUCTION = "refused-in-production"  # part of every key that stands in this repository
SHORTEST_KEY = 50  # characters


def refusals(
    *, engine: str, debug: bool, secret_key: str, allowed_hosts: Sequence[str], public_url: str
) -> dict[str, str]:
    """Return name of the setting -> why it is refused; empty where all is well."""
    wrong = {
        "DATABASE_URL": (
            "must name a PostgreSQL: SQLite has no row-level security",
            not engine.endswith("postgresql"),
        ),
        "DEBUG": ("must be off", debug),
        "SECRET_KEY": (
            f"must be a secret of your own, {SHORTEST_KEY} characters or more",
            len(secret_key) < SHORTEST_KEY or NEVER_IN_PRODUCTION in secret_key,
        ),
        "ALLOWED_HOSTS": (
            "must name the hosts, without a wildcard",
            not allowed_hosts or any("*" in host or host[:1] == "." for host in allowed_hosts),
        ),
        "PUBLIC_URL": ("must begin with https://", not public_url.startswith("https://")),
    }
    return {name: why for name, (why, refused) in wrong.items() if refused}
