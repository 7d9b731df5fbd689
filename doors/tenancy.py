"""The first wall: nothing of a tenant is read or written without saying on whose behalf.

Two kinds of context exist. `acting_for` is an organization at work. `looking_up` is one of the
few reviewed purposes that must read before, or across, organizations. Without either, every
tenant manager raises, and on PostgreSQL the second wall (row-level security, `doors.walls`)
raises too. The context is transaction-local on PostgreSQL, so a pooled connection keeps nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from contextvars import ContextVar
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from enum import StrEnum
from functools import lru_cache
from typing import Any, TypeVar
from uuid import UUID

from django.db import connection, models, transaction
from django.utils import timezone


class Purpose(StrEnum):
    """Why somebody reads before or across organizations. Adding one needs a review of its rows."""

    AUTHENTICATION = "authentication"  # a key, before its organization is known: keys
    VERIFICATION = "verification"  # is this file what was filed, asked by a stranger: filings
    SWEEP = "sweep"  # what is waiting to be worked on, over all tenants: jobs, owings, notices
    CUSTODY = "custody"  # derive sight from custody and grants of both parties
    CLAIM = "claim"  # an invitation's token, by whoever holds it: invitations, organizations
    DOOR = "door"  # a code at a door, by whoever reads it: door codes
    SET_UP = "set_up"  # make an organization that does not exist yet, or load a demonstration


class NoContextError(RuntimeError):
    """A tenant's table was touched without saying on whose behalf."""


@dataclass(frozen=True, slots=True)
class Context:
    """On whose behalf this runs, and the database's clock when it began."""

    organization_id: UUID | None
    purpose: Purpose | None
    key_id: UUID | None
    now: datetime
    author_id: UUID | None = None
    source_address: str | None = None

    @property
    def author(self) -> UUID:
        """Whose words are written: the organization at work, unless another's visit is taken in
        on the custodian's behalf.
        """
        return self.author_id or self.acting

    @property
    def acting(self) -> UUID:
        """The organization at work; raises in a context that has none."""
        if self.organization_id is None:
            raise NoContextError("this needs an organization at work, not a look-up")
        return self.organization_id


Row = TypeVar("Row", bound=models.Model)

_UNKNOWN = datetime.min.replace(tzinfo=UTC)  # until the database has said what time it is
_context: ContextVar[Context | None] = ContextVar("tenancy", default=None)


def current() -> Context:
    """The context in force; raises where there is none."""
    found = _context.get()
    if found is None:
        raise NoContextError("say on whose behalf: use acting_for() or looking_up()")
    return found


def acting_organization() -> UUID:
    """The organization at work; raises in a context that has none."""
    return current().acting


@contextmanager
def acting_for(
    organization_id: UUID,
    *,
    write: bool,
    key_id: UUID | None = None,
    author_id: UUID | None = None,
    source_address: str | None = None,
    savepoint: bool = True,
) -> Iterator[Context]:
    """Run as this organization, in one transaction where the database needs it.

    `author_id` names the organization whose words are written, where that is another one.
    Without a `savepoint` an error spoils the transaction, up to a savepoint around it.
    """
    wanted = Context(organization_id, None, key_id, _UNKNOWN, author_id, source_address)
    with _entered(wanted, write=write, savepoint=savepoint) as context:
        yield context


@contextmanager
def looking_up(purpose: Purpose, *, write: bool = False) -> Iterator[Context]:
    """Run for one reviewed purpose, without an organization."""
    with _entered(Context(None, purpose, None, _UNKNOWN), write=write) as context:
        yield context


@contextmanager
def _entered(wanted: Context, *, write: bool, savepoint: bool = True) -> Iterator[Context]:
    on_postgresql = connection.vendor == "postgresql"
    outer, nested = _context.get(), connection.in_atomic_block
    atomic = transaction.atomic(savepoint=savepoint)
    with atomic if on_postgresql or write else nullcontext():
        now = _tell_database(wanted) if on_postgresql else timezone.now()
        token = _context.set(replace(wanted, now=now))
        try:
            yield current()
        finally:
            _context.reset(token)
        # Reached without an error only; one rolls a savepoint, and the setting, back.
        if on_postgresql and nested and not connection.needs_rollback:
            _tell_database(outer)


def _tell_database(context: Context | None) -> datetime:
    """Set the transaction-local context and read the database's clock in the same round trip."""
    told = [context.organization_id, context.purpose, context.author_id] if context else [None] * 3
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT set_config('app.organization', %s, true),"
            " set_config('app.purpose', %s, true), set_config('app.author', %s, true), app_now()",
            [str(each or "") for each in told],
        )
        now: datetime = cursor.fetchone()[3]
    return now.astimezone(UTC)


def lock_name(name: str) -> None:
    """Let nobody else hold this name until this transaction ends. SQLite needs no lock: whoever
    writes there is alone.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [name])


class WalledManager(models.Manager[Row]):
    """Raises without a context; else only what the model says the context may see."""

    def get_queryset(self) -> models.QuerySet[Row]:
        """Scoped by the model's own `visible_to`."""
        context = current()
        rows = super().get_queryset()
        allowed: frozenset[Purpose] = self.model.OPEN_TO  # type: ignore[attr-defined]
        if context.purpose is not None:
            return rows if context.purpose in allowed else rows.none()
        if self._hints or self._db:  # type: ignore[attr-defined]
            return rows.filter(self.model.visible_to(context))  # type: ignore[attr-defined]
        return _scoped(type(rows), self.model, context).all()

    def bulk_create(self, *args: Any, **options: Any) -> list[Row]:
        """As of every manager; what is added is let in by the database's wall, not by a scope."""
        current()
        return super().get_queryset().bulk_create(*args, **options)


@lru_cache(maxsize=256)  # a clause of sight costs more to write than most queries to run
def _scoped(
    rows: type[models.QuerySet[Row]], model: type[Row], context: Context
) -> models.QuerySet[Row]:
    """What a context may see, never run itself: each use is a copy."""
    return rows(model).filter(model.visible_to(context))  # type: ignore[attr-defined]
