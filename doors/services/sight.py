"""Deriving sight from custody and grants; nothing else writes it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from uuid import UUID

from django.db import connection

from doors.clock import start_of_day
from doors.models import ACTIONS, Custody, Grant, Sight, Site
from doors.tenancy import Purpose, looking_up


def lock_sight(*, owner_id: UUID) -> None:
    """Let nobody else change an owner's custody or grants until this transaction ends.

    Call it first: what is read afterwards is then all that will be derived from. SQLite needs no
    lock, whoever writes there is alone.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [f"sight:{owner_id}"]
            )


def derive_sight(*, site_ids: Iterable[UUID]) -> None:
    """Make the sight of these sites anew: the custodian's own, and what each custodian granted
    for the time in which both the custody and the grant run. The owner's lock must be held.
    """
    with looking_up(Purpose.CUSTODY, write=True):
        for site in Site.objects.filter(id__in=list(site_ids)).order_by("id"):
            Sight.objects.filter(site=site).delete()
            Sight.objects.bulk_create(_rows(site))


def _rows(site: Site) -> list[Sight]:
    rows = []
    for custody in Custody.objects.filter(site=site).select_related("owner").order_by("begins_on"):
        everything = frozenset(ACTIONS)
        rows.append(_row(site, custody, custody.begins_on, custody.ends_on, everything))
        for grant in Grant.objects.filter(owner_id=custody.owner_id).order_by("begins_on", "id"):
            if grant.site_id not in {None, site.id}:
                continue
            begins = max(custody.begins_on, grant.begins_on)
            ends = _earlier(custody.ends_on, grant.ends_on)
            if ends is None or begins < ends:
                granted = frozenset(grant.actions)
                rows.append(_row(site, custody, begins, ends, granted, grant=grant))
    return rows


def _earlier(one: date | None, other: date | None) -> date | None:
    known = [day for day in (one, other) if day is not None]
    return min(known) if known else None


def _row(
    site: Site,
    custody: Custody,
    begins_on: date,
    ends_on: date | None,
    actions: frozenset[str],
    *,
    grant: Grant | None = None,
) -> Sight:
    return Sight(
        organization_id=grant.grantee_id if grant else custody.owner_id,
        site=site,
        custodian_id=custody.owner_id,
        custodian_name=custody.owner.name,
        begins_at=start_of_day(begins_on, site.time_zone),
        ends_at=start_of_day(ends_on, site.time_zone) if ends_on else None,
        custody=custody,
        grant=grant,
        may_read=True,
        **{f"may_{action}": action in actions for action in ACTIONS if action != "read"},
    )
