"""Which place's rules hold at a site on a day, and what its authorities changed in them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache
from uuid import UUID

from django.db.models import Q

import rules
from doors.errors import CannotServeError, RefusedError
from doors.models import Jurisdiction, Override, SitePlace
from doors.selectors.organizations import acting_party
from doors.selectors.sandboxes import sandbox_in_hand
from rules.errors import Problem
from rules.layers import Layer


@dataclass(frozen=True, slots=True)
class Place:
    """Where a site lies: the library's place to start from and the layers laid upon it."""

    library_place: str
    layers: tuple[Layer, ...]
    jurisdictions: tuple[Jurisdiction, ...]  # country first
    overrides: tuple[Override, ...]


def jurisdiction_by_code(code: str, pointer: str) -> Jurisdiction:
    """The jurisdiction with that code, within the caller's own sandbox or outside all; `pointer`
    is where it was named.
    """
    place = Jurisdiction.objects.filter(code=code).first()
    if place is None or place.sandbox_id != acting_party().sandbox_id:
        raise RefusedError.at(pointer, f"No jurisdiction has the code {code[:60]!r}.")
    return place


def place_for_a_site(code: str, pointer: str) -> Jurisdiction:
    """The jurisdiction with that code, in which a site of the acting organization may lie: one of
    its own sandbox if it is in one, for there a real authority would be filed to.
    """
    place = jurisdiction_by_code(code, pointer)
    if place.sandbox_id != sandbox_in_hand():
        detail = "A building of a sandbox lies in a place of that sandbox."
        raise RefusedError.at(pointer, detail)
    return place


def place_of(site_id: UUID, on: date) -> Place:
    """The places a site lies in on that day, walked from the country down."""
    return _place(_chain(site_id, on), on)


def place_codes(site_id: UUID, on: date) -> list[str]:
    """The codes of the places a site lies in on that day, the country's first."""
    return [place.library_place or place.code for place in _chain(site_id, on)]


def place_at(jurisdiction: Jurisdiction, on: date = date.max) -> Place:
    """A jurisdiction with what its authorities and those above it have published to begin by a
    day; all of it where none is given.
    """
    return _place(_upward(jurisdiction), on)


def place_as_kept(library_place: str, codes: list[str], overrides: list[UUID]) -> Place:
    """The place that a record names by the codes of its jurisdictions, country first, and the
    ids of the overrides laid upon them: what was published never changes.
    """
    known = {
        j.code: j for j in Jurisdiction.objects.filter(code__in=codes).select_related("parent")
    }
    published = Override.objects.in_bulk(overrides)
    chain, laid = [known[code] for code in codes], [published[id_] for id_ in overrides]
    return Place(library_place, _layers(chain, laid), tuple(chain), tuple(laid))


def place_with(place: Place, override: Override) -> Place:
    """The place as if that override held there too, the last of its jurisdiction's own."""
    depth = {j.id: n for n, j in enumerate(place.jurisdictions)}
    if override.jurisdiction_id not in depth:
        raise RefusedError("This override is of a place in which the opening does not lie.")
    others = [o for o in place.overrides if o != override]
    return _laid(place, sorted([*others, override], key=lambda o: depth[o.jurisdiction_id]))


def place_without(place: Place, override: Override) -> Place:
    """The place as if that override did not hold there."""
    return _laid(place, [o for o in place.overrides if o != override])


def _laid(place: Place, overrides: list[Override]) -> Place:
    layers = _layers(list(place.jurisdictions), overrides)
    return replace(place, layers=layers, overrides=tuple(overrides))


def remarks_on(override: Override) -> list[Problem]:
    """What the author of an override may not have meant, though nothing is wrong with it."""
    return rules.remarks(rules.published_layer(override.document, override.title))


def _place(chain: list[Jurisdiction], on: date) -> Place:
    known = [j.library_place for j in chain if j.library_place]
    if not known:
        raise CannotServeError("This place lies in none that the rules library knows.")
    overrides = Override.objects.filter(
        jurisdiction__in=[j.id for j in chain], published_at__isnull=False, begins_on__lte=on
    )
    depth = {j.id: n for n, j in enumerate(chain)}
    laid = sorted(overrides, key=lambda o: (depth[o.jurisdiction_id], o.published_at, o.id))
    return Place(known[-1], _layers(chain, laid), tuple(chain), tuple(laid))


def _layers(chain: list[Jurisdiction], laid: list[Override]) -> tuple[Layer, ...]:
    """The overrides as layers; a place of ours without any is a layer that changes nothing, so
    that what lies under it hangs together.
    """
    layers: tuple[Layer, ...] = ()
    for place in chain:
        own = [o for o in laid if o.jurisdiction_id == place.id]
        layers += tuple(rules.published_layer(o.document, o.title) for o in own)
        if not own and not place.library_place:
            parent = place.parent.code if place.parent is not None else ""
            layers = (*layers, _bare(place.code, place.name, place.kind, parent, layers))
    return layers


@lru_cache(maxsize=512)
def _bare(code: str, name: str, kind: str, parent: str, above: tuple[Layer, ...]) -> Layer:
    """The same words are the same layer, so that what is resolved through it can be kept."""
    head = {"code": code, "name": name, "kind": kind}
    if parent:
        head["parent"] = parent
    return rules.parse_layer({"jurisdiction": head}, name=name, above=above)


def _chain(site_id: UUID, on: date) -> list[Jurisdiction]:
    rows = SitePlace.objects.filter(site_id=site_id).select_related(
        "jurisdiction__parent__parent__parent__parent"
    )
    held = rows.filter(Q(ends_on=None) | Q(ends_on__gt=on), begins_on__lte=on)
    # A building is older than its record: before the first row it lay where that row says.
    places = held.order_by("begins_on", "id") or rows.order_by("begins_on", "id")[:1]
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
