"""What the latest word leaves untested: of standing visits, and of what was filed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, TypeVar
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet

from doors.models import Sight, SitePlace
from doors.tenancy import acting_organization, current
from inspections.models import Filing, FrozenUntestedItem, Silence, SilentRow, UntestedItem

Row = TypeVar("Row", bound=SilentRow)
Verdict = Mapping[str, Any]

_ENDED = ("withdrawn", "superseded")
_UPWARD = ("", "parent__", "parent__parent__", "parent__parent__parent__")


def words_of(verdicts: Iterable[Verdict]) -> dict[str, Verdict]:
    """What a visit says of each requirement it asked for, by id: binding verdicts, less those
    left alone that this visit did not ask for.
    """
    return {
        v["requirement"]: v for v in verdicts if v["required"] or v["verdict"] != Silence.NOT_TESTED
    }


def silence_of(verdict: Verdict) -> str:
    """Which silence a verdict is; empty where somebody looked."""
    if verdict["verdict"] == Silence.NOT_TESTED and verdict["reason"] == Silence.NO_ACCESS:
        return str(Silence.NO_ACCESS)
    return str(verdict["verdict"]) if verdict["verdict"] in Silence.values else ""


def subject_of(verdict: Verdict) -> str:
    """What was to be looked at: a quantity, a check, a sequence, or the requirement itself."""
    for sort in ("quantity", "check", "sequence"):
        if verdict.get(sort):
            return f"{sort}:{verdict[sort]}"
    return f"requirement:{verdict['requirement']}"


def untested(
    *, owner: UUID | None = None, jurisdiction: str | None = None, **filters: Any
) -> QuerySet[UntestedItem]:
    """The untested items in sight; `owner` is who answers for the site now, `jurisdiction` the
    code of a place in which it lies today, itself or within one below.
    """
    rows = _given(UntestedItem.objects.all(), filters)
    if owner is not None:
        sights = Sight.active(acting_organization(), current().now).filter(custodian_id=owner)
        rows = rows.filter(site_id__in=sights.values("site_id"))
    if jurisdiction is not None:
        rows = rows.filter(site_id__in=_lying_in(jurisdiction, current().now.date()))
    return rows


def filed_untested(
    *, owner: UUID | None = None, jurisdiction: str | None = None, **filters: Any
) -> QuerySet[FrozenUntestedItem]:
    """The same within packets as they were filed: of each site the last that stands with an
    authority. `owner` answered for the site then; `jurisdiction` is the place it was filed for,
    or one above.
    """
    standing = Filing.objects.exclude(state__in=_ENDED)
    later = standing.filter(
        site_id=OuterRef("site_id"),
        authority_id=OuterRef("authority_id"),
        filed_at__gt=OuterRef("filed_at"),
    )
    filings = standing.filter(~Exists(later))
    if owner is not None:
        filings = filings.filter(custodian_id=owner)
    if jurisdiction is not None:
        filings = filings.filter(_at_or_below(jurisdiction, "jurisdiction__"))
    rows = FrozenUntestedItem.objects.filter(submittal_id__in=filings.values("submittal_id"))
    return _given(rows, filters)


def _given(rows: QuerySet[Row], filters: Mapping[str, Any]) -> QuerySet[Row]:
    return rows.filter(**{name: value for name, value in filters.items() if value is not None})


def _lying_in(code: str, on: date) -> QuerySet[Any, Any]:
    held = SitePlace.objects.filter(Q(ends_on=None) | Q(ends_on__gt=on), begins_on__lte=on)
    return held.filter(_at_or_below(code, "jurisdiction__")).values("site_id")


def _at_or_below(code: str, prefix: str) -> Q:
    found = Q()
    for step in _UPWARD:
        found |= Q(**{f"{prefix}{step}code": code})
    return found
