"""Which request something came of: from the edge, over what it leaves to do, to the worker."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from uuid import UUID

import structlog


def request_id() -> UUID | None:
    """Return the id of the request at work; None where no request is behind it."""
    bound = structlog.contextvars.get_contextvars().get("request_id")
    return UUID(bound) if bound else None


@contextmanager
def on_account_of(request: UUID | None, organization_id: UUID) -> Iterator[None]:
    """Log what is done within as this request's, for this organization."""
    ids = {"organization_id": str(organization_id)}
    if request is not None:
        ids["request_id"] = str(request)
    with structlog.contextvars.bound_contextvars(**ids):
        yield
