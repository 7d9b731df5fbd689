"""What is asked for by its address, and what is not visible there."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
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


@contextmanager
def named_at(pointer: str) -> Iterator[None]:
    """Look for what the body names by its id at `pointer`: where it is not visible, the refusal
    says that it is this id that finds nothing, and not the address of the request.
    """
    try:
        yield
    except NotVisibleError as error:
        raise NotVisibleError.at(pointer, "Nothing of this id exists for you.") from error
