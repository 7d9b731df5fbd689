"""What is asked for by its address, and what is not visible there."""

from __future__ import annotations

from typing import TypeVar

from django.db.models import Model, QuerySet

from doors.errors import NotVisibleError

Row = TypeVar("Row", bound=Model)


def visible(rows: QuerySet[Row]) -> Row:
    """The first of these rows, or nothing by this address: what is not visible answers as if it
    had never existed.
    """
    found = rows.first()
    if found is None:
        raise NotVisibleError
    return found
