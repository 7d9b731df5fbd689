"""Deriving sight from custody and grants; nothing else writes it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from uuid import UUID

from doors.clock import start_of_day
from doors.models import ACTIONS, Custody, Grant, Sight, Site
from doors.tenancy import Purpose, lock_name, looking_up


def lock_sight(*owner_ids: UUID) -> None:
    """Let nobody else change these owners' custody or grants until this transaction ends.

    Call it first: what is read afterwards is then all that will be derived from. Everybody locks
    owners, then sites (`derive_sight`), each in the order of their ids.
    """
    for owner_id in sorted(owner_ids):
        lock_name(f"sight:{owner_id}")


def derive_sight(*, site_ids: Iterable[UUID]) -> None:
    """Make the sight of these sites anew: the custodian's own, and what each custodian granted
    for the time in which both the custody and the grant run. The owner's lock must be held.

    A site is locked before anything of it is read: it may have passed between two owners, each
    with a lock of its own, and neither may derive from what the other is changing.
    """
    with looking_up(Purpose.CUSTODY, write=True):
        locked = Site.objects.filter(id__in=list(site_ids)).select_for_update(no_key=True)
        sites = list(locked.order_by("id"))
        held = _custodies(sites)
        granted = _grants({custody.owner_id for each in held.values() for custody in each})
        Sight.objects.filter(site__in=sites).delete()
        rows = [row for site in sites for row in _rows(site, held[site.id], granted)]
        Sight.objects.bulk_create(rows, batch_size=500)


def _custodies(sites: Sequence[Site]) -> dict[UUID, list[Custody]]:
    held: dict[UUID, list[Custody]] = defaultdict(list)
    rows = Custody.objects.filter(site__in=sites).select_related("owner")
    for custody in rows.order_by("site", "begins_on"):
        held[custody.site_id].append(custody)
    return held


def _grants(owner_ids: set[UUID]) -> dict[UUID, list[Grant]]:
    granted: dict[UUID, list[Grant]] = defaultdict(list)
    for grant in Grant.objects.filter(owner_id__in=owner_ids).order_by("begins_on", "id"):
        granted[grant.owner_id].append(grant)
    return granted


def _rows(
    site: Site, custodies: Sequence[Custody], granted: dict[UUID, list[Grant]]
) -> list[Sight]:
    rows = []
    for custody in custodies:
        everything = frozenset(ACTIONS)
        rows.append(_row(site, custody, custody.begins_on, custody.ends_on, everything))
        for grant in granted[custody.owner_id]:
            if grant.site_id not in {None, site.id}:
                continue
            begins = max(custody.begins_on, grant.begins_on)
            ends = _earlier(custody.ends_on, grant.ends_on)
            if ends is None or begins < ends:
                actions = frozenset(grant.actions)
                rows.append(_row(site, custody, begins, ends, actions, grant=grant))
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
