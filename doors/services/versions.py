"""Changing a row that others may be changing: the version is compared where it is written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F, Model, QuerySet

from doors.errors import NotVisibleError, StaleError


def change_row(
    rows: QuerySet[Any, Any], *, expected: frozenset[int] | None, **changed: Any
) -> Model:
    """Set columns of the one row that `rows` holds, raise its version, and return it as it is now.

    `expected` are the versions whoever changes it has seen; None stands for any. Nothing is
    compared before the write, so of two who saw the same version one is refused. A change of
    nothing leaves the version as it is.
    """
    seen = rows if expected is None else rows.filter(version__in=expected)
    done = seen.update(version=F("version") + 1, **changed) if changed else seen.count()
    found: Model | None = rows.first()
    if found is None:
        raise NotVisibleError
    if not done:
        raise StaleError(f"It stands at version {found.version} now: read it again.")  # type: ignore[attr-defined]
    return found


def state_row(
    rows: QuerySet[Any, Any],
    *,
    expected: frozenset[int] | None,
    begun_with: Mapping[str, Any],
    **stated: Any,
) -> Model:
    """Set columns of the one row that `rows` may hold, or make it with those and what it is
    `begun_with`. What was never stated stands at version 0, so that two who begin it do not
    overwrite each other.
    """
    if rows.exists():
        return change_row(rows, expected=expected, **stated)
    if expected is not None and 0 not in expected:
        raise StaleError("It stands at version 0 now: read it again.")
    try:
        with transaction.atomic():
            made: Model = rows.model.objects.create(**begun_with, **stated)
    except IntegrityError as error:
        raise StaleError("Somebody else has just stated it: read it again.") from error
    return made
