"""Which place's rules hold at a site on a day, and what its authorities changed in them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from uuid import UUID

from django.db.models import Q

import rules
from doors.errors import CannotServeError
from doors.models import Jurisdiction, Override, SitePlace
from rules.layers import Layer


@dataclass(frozen=True, slots=True)
class Place:
    """Where a site lies: the library's place to start from and the layers laid upon it."""

    library_place: str
    layers: tuple[Layer, ...]
    jurisdictions: tuple[Jurisdiction, ...]  # country first
    overrides: tuple[Override, ...]


def place_of(site_id: UUID, on: date) -> Place:
    """The places a site lies in on that day, walked from the country down."""
    chain = _chain(site_id, on)
    known = [j.library_place for j in chain if j.library_place]
    if not known:
        raise CannotServeError("This site lies in no place the rules library knows.")
    overrides = Override.objects.filter(
        jurisdiction__in=[j.id for j in chain], published_at__isnull=False, begins_on__lte=on
    ).order_by("published_at", "id")
    depth = {j.id: n for n, j in enumerate(chain)}
    laid = sorted(overrides, key=lambda o: depth[o.jurisdiction_id])
    layers = tuple(layer_of(o.document, o.title) for o in laid)
    return Place(known[-1], layers, tuple(chain), tuple(laid))


@lru_cache(maxsize=1024)
def layer_of(document: str, name: str) -> Layer:
    """The parsed override; published documents never change, so parsing once is enough."""
    return rules.parse_layer(document, name=name)


def _chain(site_id: UUID, on: date) -> list[Jurisdiction]:
    places = (
        SitePlace.objects.filter(site_id=site_id, begins_on__lte=on)
        .filter(Q(ends_on=None) | Q(ends_on__gt=on))
        .select_related("jurisdiction__parent__parent__parent__parent")
        .order_by("begins_on", "id")
    )
    chains = [_upward(p.jurisdiction) for p in places]
    seen: dict[UUID, Jurisdiction] = {}
    for depth in range(max(map(len, chains), default=0)):
        seen |= {c[depth].id: c[depth] for c in chains if depth < len(c)}
    return list(seen.values())


def _upward(place: Jurisdiction | None) -> list[Jurisdiction]:
    walked: list[Jurisdiction] = []
    while place is not None:
        walked.append(place)
        place = place.parent
    return walked[::-1]
