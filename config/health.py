"""What the platform asks: is the process alive, and may it be sent requests."""

from collections.abc import Callable

import redis
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse

from config.database import unsafe_database
from doors.selectors.waiting import waiting_work

ANSWER_WITHIN = 2  # seconds
WAITS_AT_MOST = 900  # seconds


def livez(request: HttpRequest) -> JsonResponse:
    """Answer without asking anybody: a slow database must not get the process killed."""
    return _uncached({"status": "ok"}, status=200)


def readyz(request: HttpRequest) -> JsonResponse:
    """200 when requests can be answered, else 503; the body names the parts, never why.

    Without a broker or a worker every request is still answered and nothing is lost, so those
    two are told (`degraded`) and keep no request away.
    """
    needed = _told(_needed())
    beside = _told(_beside()) if needed["database"] == "ok" else {}
    ready = "failing" not in needed.values()
    status = ("degraded" if "failing" in beside.values() else "ok") if ready else "failing"
    return _uncached({"status": status, "parts": needed | beside}, status=200 if ready else 503)


def _told(parts: dict[str, Callable[[], bool]]) -> dict[str, str]:
    return {name: "ok" if answers() else "failing" for name, answers in parts.items()}


def _needed() -> dict[str, Callable[[], bool]]:
    parts = {"database": database_answers, "migrations": migrations_are_applied}
    return parts | {"walls": walls_stand} if settings.PRODUCTION else parts


def _beside() -> dict[str, Callable[[], bool]]:
    parts = {"work": work_is_done}
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


def walls_stand() -> bool:
    """Tell whether nothing in the database lets anybody past the walls."""
    try:
        return not unsafe_database()
    except DatabaseError:
        return False


def work_is_done() -> bool:
    """Tell whether nothing has waited for a worker longer than it may."""
    try:
        return all(each.oldest_seconds <= WAITS_AT_MOST for each in waiting_work())
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
