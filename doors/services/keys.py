"""Issuing and revoking API keys."""

from __future__ import annotations

import secrets
from collections.abc import Collection
from collections.abc import Set as AbstractSet
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from doors.errors import AlreadyExistsError, RefusedError
from doors.models import EVERY_SCOPE, ROLES, Key, Member
from doors.selectors.keys import compose, live_keys, secret_digest
from doors.selectors.visible import visible
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.lockouts import keep_an_administrator, lock_access
from doors.tenancy import acting_for, acting_organization, current

LIVE_OF_ONE_LABEL = 2  # the one in use, and the one that replaces it
USE_NOTED_EVERY = timedelta(minutes=1)


@transaction.atomic
def issue_key(
    *,
    label: str,
    scopes: Collection[str],
    expires_at: datetime | None = None,
    member_id: UUID | None = None,
    reach: AbstractSet[str] = EVERY_SCOPE,
    reach_ends_at: datetime | None = None,
) -> tuple[Key, str]:
    """Make a key of the acting organization; its text is returned this once and kept nowhere.

    `reach` are the scopes of whoever makes it and `reach_ends_at` is when theirs ends: no key
    reaches further, or longer, than its maker. A key of a member keeps within the role.
    """
    lock_access()
    _refuse_beyond(scopes, reach, member_id)
    _refuse_longer(expires_at, reach_ends_at)
    if live_keys().filter(label=label).count() >= LIVE_OF_ONE_LABEL:
        detail = "Two keys with this label are live: revoke the one that is no longer used."
        raise AlreadyExistsError.at("/label", detail)
    lookup, secret = secrets.token_hex(8), secrets.token_hex(32)
    key = Key.objects.create(
        organization_id=acting_organization(),
        member_id=member_id,
        label=label,
        lookup=lookup,
        secret_sha256=secret_digest(secret),
        scopes=sorted(set(scopes)),
        created_at=current().now,
        expires_at=expires_at,
    )
    _enter("key_issued", key, {"scopes": key.scopes})
    return key, compose(lookup, secret)


def _refuse_beyond(
    scopes: Collection[str], reach: AbstractSet[str], member_id: UUID | None
) -> None:
    unknown = set(scopes) - EVERY_SCOPE
    if unknown:
        raise RefusedError.at("/scopes", f"There is no scope {', '.join(sorted(unknown)[:5])}.")
    if member_id is not None:
        member = Member.objects.filter(id=member_id, ends_at=None).first()
        if member is None:
            raise RefusedError.at("/member", "Nobody with this id serves your organization.")
        reach = reach & ROLES[member.role]
    beyond = set(scopes) - reach
    if beyond:
        among = ", ".join(sorted(beyond)[:5])
        raise RefusedError.at("/scopes", f"This reaches further than you or the member: {among}.")


def _refuse_longer(expires_at: datetime | None, reach_ends_at: datetime | None) -> None:
    if expires_at is not None and expires_at <= current().now:
        raise RefusedError.at("/expires_at", "A key cannot end before it begins.")
    if reach_ends_at is not None and (expires_at is None or expires_at > reach_ends_at):
        detail = "A key that ends makes none that outlives it: say an earlier end."
        raise RefusedError.at("/expires_at", detail)


@transaction.atomic
def revoke_key(*, key_id: UUID) -> Key:
    """End a key; the next request with it is refused. Revoking it again changes nothing."""
    lock_access()
    key = visible(Key.objects.filter(id=key_id))
    if key.revoked_at is None:
        keep_an_administrator(without_key=key_id)
        Key.objects.filter(id=key_id).update(revoked_at=current().now)
        key.refresh_from_db()
        _enter("key_revoked", key, {})
    return key


def note_use(*, key_id: UUID, organization_id: UUID) -> None:
    """Keep when a key was last used, to the minute: most requests write nothing."""
    with acting_for(organization_id, write=True) as context:
        noted = Q(last_used_at=None) | Q(last_used_at__lte=context.now - USE_NOTED_EVERY)
        Key.objects.filter(noted, id=key_id).update(last_used_at=context.now)


def _enter(kind: str, key: Key, content: dict[str, object]) -> None:
    line = LedgerLine(kind, key.id, None, content)
    write_ledger(custodian_id=acting_organization(), lines=[line])
