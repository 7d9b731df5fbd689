"""The one way a worker takes a row: under a lease by the database's clock, fenced by an attempt.

Where the database has SKIP LOCKED, workers pass over rows that another is taking; elsewhere
(SQLite serialises writers) the same conditional UPDATE decides. A lapsed lease makes a row
takeable again, and whoever slept through it finds that its attempt number no longer holds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

import structlog
from django.db import connection
from django.db.models import F, QuerySet

from doors.models import Claimable
from doors.tenancy import acting_for, current
from doors.tracing import on_account_of

State = Claimable.State
log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True)
class Claim:
    """A row taken: its id, whose it is, the attempt that must still hold when it is ended, and
    the request it came of.
    """

    id: UUID
    organization_id: UUID
    attempt: int
    request_id: UUID | None = None


def claim_rows(
    model: type[Claimable], *, owner: str, limit: int, lease: timedelta, **only: object
) -> list[Claim]:
    """Take up to `limit` rows of a sweepable model; `owner` names its organization's column.

    Runs within looking_up(SWEEP, write=True) and holds once that transaction has committed.
    """
    now = current().now
    rows = model.objects.filter(Claimable.takeable(now), **only).order_by("not_before", "id")  # type: ignore[attr-defined]
    if connection.features.has_select_for_update_skip_locked:
        rows = rows.select_for_update(skip_locked=True)
    taken = []
    for id_, owner_id, attempt, request in rows.values_list("id", owner, "attempt", "request_id")[
        :limit
    ]:
        held = model.objects.filter(Claimable.takeable(now), id=id_, attempt=attempt).update(  # type: ignore[attr-defined]
            state=State.CLAIMED, attempt=F("attempt") + 1, leased_until=now + lease
        )
        if held:
            taken.append(Claim(id_, owner_id, attempt + 1, request))
    return taken


def end_claim(model: type[Claimable], claim: Claim, *, state: str, **fields: object) -> bool:
    """Write the outcome if this attempt still holds the row; a late one changes nothing."""
    ended = {"state": state, "ended_at": current().now, "leased_until": None}
    return bool(_held(model, claim).update(**ended, **fields))


def keep_claim(model: type[Claimable], claim: Claim, *, lease: timedelta, **fields: object) -> bool:
    """Hold the row longer and write how far the work is; False where the claim no longer holds."""
    return bool(_held(model, claim).update(leased_until=current().now + lease, **fields))


def begin_sending(model: type[Claimable], claim: Claim, *, lease: timedelta) -> bool:
    """Mark that an outside party is about to act on it; False where the claim no longer holds."""
    until = current().now + lease
    return bool(_held(model, claim).update(state=State.SENDING, leased_until=until))


def release_claim(model: type[Claimable], claim: Claim, *, wait: timedelta) -> bool:
    """Give the row back to be tried again after a while."""
    waiting = {"state": State.WAITING, "not_before": current().now + wait}
    return bool(_held(model, claim).update(**waiting, leased_until=None))


def guarded(
    model: type[Claimable],
    claim: Claim,
    work: Callable[[Claim], None],
    *,
    tries: int,
    given_up: Callable[[Claim], None] | None = None,
    **failed: object,
) -> None:
    """Do the work of one claim so that its failure is its own: those behind it go on, and it is
    tried again later, a bounded number of times; `failed` is written with the last, and
    `given_up` called in that transaction. What was being sent is left to its lease, since it may
    have gone out.
    """
    with on_account_of(claim.request_id, claim.organization_id):
        try:
            work(claim)
        except Exception:
            log.exception("claim_failed", model=model.__name__, claim_id=str(claim.id))
            _put_back(model, claim, tries, given_up, failed)


def _put_back(
    model: type[Claimable],
    claim: Claim,
    tries: int,
    given_up: Callable[[Claim], None] | None,
    failed: Mapping[str, object],
) -> None:
    with acting_for(claim.organization_id, write=True):
        if _held(model, claim).filter(state=State.SENDING).exists():
            return
        if claim.attempt < tries:
            release_claim(model, claim, wait=timedelta(seconds=2 ** min(claim.attempt, 10)))
        elif end_claim(model, claim, state=State.FAILED, **failed) and given_up is not None:
            given_up(claim)


def _held(model: type[Claimable], claim: Claim) -> QuerySet[Claimable]:
    taken = (State.CLAIMED, State.SENDING)
    rows: QuerySet[Claimable] = model.objects.filter(  # type: ignore[attr-defined]
        id=claim.id, state__in=taken, attempt=claim.attempt
    )
    return rows
