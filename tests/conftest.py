"""What every test run says and obeys about PostgreSQL and Redis.

A test marked `postgres` runs only where the database under test is PostgreSQL, one marked `redis`
only where a Redis answers; the others are left out of the run (deselected, not skipped) and the
first lines of the run say so. With REQUIRE_SERVICES=1 an absent service stops the run.
"""

import pytest
from django.conf import settings

from tests import services

REDIS = pytest.StashKey[str | None]()


def pytest_configure(config: pytest.Config) -> None:
    """Find Redis once a process; refuse to start where one is required and none answers."""
    url = services.redis_url()
    config.stash[REDIS] = url if services.redis_answers(url) else None
    if services.required() and config.stash[REDIS] is None:
        raise pytest.UsageError(
            f"REQUIRE_SERVICES=1, but no Redis answers on {services.place(url)}; "
            "`python -m tests` starts one"
        )


def pytest_report_header(config: pytest.Config) -> list[str]:
    """Say plainly which of the two parts this run holds."""
    return [f"PostgreSQL part: {_postgres_part()}", f"Redis part: {_redis_part(config)}"]


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what this run cannot show."""
    without = set()
    if not _on_postgres():
        without.add("postgres")
    if config.stash[REDIS] is None:
        without.add("redis")
    left_out = [item for item in items if any(item.get_closest_marker(name) for name in without)]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in left_out]


@pytest.fixture(scope="session")
def redis_url(pytestconfig: pytest.Config) -> str:
    """Return the URL of the Redis that answers, for tests marked `redis`.

    It may be anyone's: use keys of your own, and never flush it.
    """
    url = pytestconfig.stash[REDIS]
    assert url is not None, "mark the test `redis`"
    return url


def _on_postgres() -> bool:
    return str(settings.DATABASES["default"]["ENGINE"]).endswith("postgresql")


def _postgres_part() -> str:
    if _on_postgres():
        database = settings.DATABASES["default"]
        return f"running against {database['HOST']}:{database['PORT']}"
    return "NOT run here, the database under test is SQLite (`make test` runs both where it can)"


def _redis_part(config: pytest.Config) -> str:
    url = config.stash[REDIS]
    if url is None:
        return f"NOT run (nothing answers on {services.place(services.redis_url())})"
    return f"running against {services.place(url)}"
