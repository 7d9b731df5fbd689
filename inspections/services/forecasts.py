"""The early notice: a door that is expected to pass a limit before its next duty.

It is worked out by a worker when a visit is told of, so that recording one costs nothing more.
"""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from doors.models import Opening
from doors.selectors.openings import lock_opening
from doors.tenancy import acting_organization, current
from inspections.models import EventType, Forecast, Stage, Visit
from inspections.selectors.trend_drawings import title_of
from inspections.selectors.trends import Trend, trends_of
from inspections.services.happenings import Happening, tell
from inspections.services.owings import owe

MATERIAL = timedelta(days=30)  # by how much the day moves before it is told again


def foretell(*, visit_id: UUID) -> list[Forecast]:
    """Owe what the trends of a visit's opening let one expect, as the site's custodian; answers
    what is told anew. What was foretold and is no longer expected has ended.
    """
    visit = Visit.objects.filter(id=visit_id).first()
    rows = Opening.objects.select_related("site").filter(removed_on=None)
    opening = rows.filter(id=visit.opening_id).first() if visit else None
    if visit is None or opening is None:
        return []
    lock_opening(opening.id)
    standing = {(f.quantity, f.side): f for f in Forecast.objects.filter(opening=opening)}
    told = []
    for trend in trends_of(opening):
        expected = trend.expectation
        if expected.crosses_on is None or trend.next_duty is None:
            continue
        known = standing.pop((trend.quantity, expected.side), None)
        forecast = _kept(opening, trend, known)
        if forecast is not None:
            _tell(opening, trend, forecast, visit)
            told.append(forecast)
    ended = [f.id for f in standing.values() if f.ended_at is None]
    Forecast.objects.filter(id__in=ended).update(ended_at=current().now)
    return told


def _kept(opening: Opening, trend: Trend, known: Forecast | None) -> Forecast | None:
    """The forecast as it is to be told now; None where it was told already."""
    crosses_on, duty = trend.expectation.crosses_on, trend.next_duty
    if crosses_on is None or duty is None:
        return None
    now = current().now
    if known is None:
        return Forecast.objects.create(
            site_id=opening.site_id,
            opening=opening,
            quantity=trend.quantity,
            side=trend.expectation.side,
            crosses_on=crosses_on,
            due_on=duty.due_on,
            told_at=now,
        )
    if known.ended_at is None and abs(known.crosses_on - crosses_on) < MATERIAL:
        return None
    known.crosses_on, known.due_on = crosses_on, duty.due_on
    known.told_at, known.ended_at = now, None
    known.version += 1
    known.save(update_fields=["crosses_on", "due_on", "told_at", "ended_at", "version"])
    return known


def _tell(opening: Opening, trend: Trend, forecast: Forecast, visit: Visit) -> None:
    words = {
        "site": opening.site.name,
        "opening": opening.tag,
        "location": opening.location,
        "title": title_of(trend.quantity),
        "says": trend.expectation.words,
        "due_on": forecast.due_on.isoformat(),
        "performed_by": visit.author_name,
    }
    owe(
        site=opening.site,
        stage=Stage.EXPECTED_TO_FAIL,
        thing=forecast.id,
        thing_version=forecast.version,
        words=words,
    )
    data = {
        "forecast": str(forecast.id),
        "opening": str(opening.id),
        "quantity": forecast.quantity,
        "crosses_on": forecast.crosses_on.isoformat(),
        "due_on": forecast.due_on.isoformat(),
        "version": forecast.version,
        "path": f"/v1/openings/{opening.id}/trends/{forecast.quantity}",
    }
    happening = Happening(EventType.TREND_EXPECTED, forecast.id, data, forecast.version)
    tell(
        happenings=[happening],
        site_id=opening.site_id,
        custodian_id=acting_organization(),
    )
