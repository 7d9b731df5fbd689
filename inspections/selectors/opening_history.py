"""The history of one opening: what happened there, of every kind, merged by time, latest first.

Each kind gives its own next rows, no more than a page of them, so a page costs the same whatever
stands on record, and the whole is in one exact order: by time, then kind, then id.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import models
from django.db.models import Q

from doors.clock import civil_date, start_of_day
from doors.errors import NotVisibleError
from doors.models import Opening, Photo
from doors.tenancy import Purpose, looking_up
from inspections.models import Deficiency, ReportedVisit, Visit
from inspections.selectors.history_sources import SOURCES, Source

# What somebody without sight of the door now may still have of it, from their own time.
_KEPT = (Visit, ReportedVisit, Deficiency, Photo)


@dataclass(frozen=True, slots=True)
class Happened:
    """One thing that happened. `at` is its instant or, of what is known `by_day` only, the
    beginning of that day at the site; `on` is the day there.
    """

    id: UUID
    kind: str
    at: datetime
    on: date
    by_day: bool
    who: str | None
    what: str
    path: str

    @property
    def position(self) -> list[str]:
        """Where it stands in the history."""
        return [self.at.isoformat(), self.kind, str(self.id)]


@dataclass(frozen=True, slots=True)
class _Position:
    at: datetime
    kind: str
    id: UUID


def opening_with_history(opening_id: UUID) -> Opening:
    """The opening, for whoever sees it or keeps anything of it; else nothing by this address."""
    rows = Opening.objects.select_related("site").filter(id=opening_id)
    found = rows.first()
    if found is not None:
        return found
    if not any(model.objects.filter(opening_id=opening_id).exists() for model in _KEPT):
        raise NotVisibleError
    # It knows the door: what is read is its calendar, and from when to when it stood.
    with looking_up(Purpose.CUSTODY):
        return Opening.objects.select_related("site").get(id=opening_id)


def history_of(
    opening: Opening, *, after: Sequence[str] | None, most: int, scopes: Collection[str]
) -> list[Happened]:
    """The next of its history after a position, at most `most`, the latest first.

    Of each kind only where `scopes` hold the right to read its noun.
    """
    since = _Position(datetime.fromisoformat(after[0]), after[1], UUID(after[2])) if after else None
    readable = [source for source in SOURCES if f"{source.scope}:read" in scopes]
    found = [each for source in readable for each in _next(source, opening, since, most)]
    found.sort(key=lambda each: (each.kind, each.id))
    found.sort(key=lambda each: each.at, reverse=True)  # stable: equal times stay as they are
    return found[:most]


def _next(
    source: Source, opening: Opening, since: _Position | None, most: int
) -> Iterator[Happened]:
    rows = source.rows(opening).filter(**{f"{source.moment}__isnull": False})
    zone = opening.site.time_zone
    by_day = _by_day(rows.model, source.moment)
    if since is not None:
        rows = rows.filter(_after(source, since, zone if by_day else None))
    for row in rows.only("id", source.moment, *source.needs).order_by(f"-{source.moment}", "id")[
        :most
    ]:
        moment = getattr(row, source.moment)
        at = start_of_day(moment, zone) if by_day else moment
        yield Happened(
            id=row.id,
            kind=source.kind,
            at=at,
            on=moment if by_day else civil_date(at, zone),
            by_day=by_day,
            who=(getattr(row, source.who) or None) if source.who else None,
            what=source.what(row),
            path=source.path.format(
                id=row.id,
                opening=opening.id,
                site=opening.site_id,
                **{name: getattr(row, name) for name in source.needs if name.endswith("_id")},
            ),
        )


def _by_day(model: Any, moment: str) -> bool:  # noqa: ANN401 (any model)
    return not isinstance(model._meta.get_field(moment), models.DateTimeField)


def _after(source: Source, since: _Position, zone: str | None) -> Q:
    """Rows of this kind after a position. A day stands where it begins in that zone."""
    moment, same = source.moment, Q(pk__in=[])
    bound: date | datetime = since.at
    if zone is not None:
        bound = civil_date(since.at, zone)
        if start_of_day(bound, zone) != since.at:  # in the course of that day: all of it is after
            return Q(**{f"{moment}__lte": bound})
    if source.kind > since.kind:
        same = Q(**{moment: bound})
    elif source.kind == since.kind:
        same = Q(**{moment: bound}, id__gt=since.id)
    return Q(**{f"{moment}__lt": bound}) | same
