"""What the platform asks: is the process alive, and may it be sent requests."""

from collections.abc import Callable

import redis
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse

ANSWER_WITHIN = 2  # seconds


def livez(request: HttpRequest) -> JsonResponse:
    """Answer without asking anybody: a slow database must not get the process killed."""
    return _uncached({"status": "ok"}, status=200)


def readyz(request: HttpRequest) -> JsonResponse:
    """200 when every part answers as it should, else 503; the body names the parts, never why."""
    parts = {name: "ok" if answers() else "failing" for name, answers in _parts().items()}
    ready = set(parts.values()) == {"ok"}
    return _uncached(
        {"status": "ok" if ready else "failing", "parts": parts}, status=200 if ready else 503
    )


def _parts() -> dict[str, Callable[[], bool]]:
    parts = {"database": database_answers, "migrations": migrations_are_applied}
    # Elsewhere the work is done in the process itself.
    return parts | {"broker": broker_answers} if settings.PRODUCTION else parts


def database_answers() -> bool:
    """Tell whether a query succeeds, on the kind of database these settings allow."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return False
    return connection.vendor == "postgresql" or not settings.PRODUCTION


def migrations_are_applied() -> bool:
    """Tell whether the database is at the state this code was written for."""
    try:
        executor = MigrationExecutor(connection)
        return not executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return False


def broker_answers() -> bool:
    """Tell whether the broker answers a PING in time."""
    try:
        with redis.Redis.from_url(
            settings.REDIS_URL, socket_timeout=ANSWER_WITHIN, socket_connect_timeout=ANSWER_WITHIN
        ) as client:
            return bool(client.ping())
    except redis.RedisError:
        return False


def _uncached(body: dict[str, object], *, status: int) -> JsonResponse:
    return JsonResponse(body, status=status, headers={"Cache-Control": "no-store"})
