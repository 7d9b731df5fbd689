"""Trends: `/v1/openings/{id}/trends`, what was measured over the years and where it is heading."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from doors.selectors.openings import opening_by_id
from inspections.models import Activity, Duty
from inspections.selectors.bounds import Bound
from inspections.selectors.breaks import Break
from inspections.selectors.trend_drawings import title_of
from inspections.selectors.trends import READINGS, Point, Trend, trend_of, trends_of

_SIDES = ["high", "low"]


class TrendPointOut(serializers.Serializer):
    """One reading of a series."""

    on = serializers.DateField(help_text="Its day at the site.")
    value = serializers.CharField(help_text="In the unit of the series.")
    sent = serializers.CharField(help_text="As it was sent.")
    sent_unit = serializers.CharField(help_text="Its unit as it was sent.")
    visit = serializers.UUIDField(help_text="The visit at which it was read.")
    instrument = serializers.CharField(
        help_text="Serial number of the instrument; empty where none was told."
    )
    fitted = serializers.BooleanField(
        help_text="Whether the line was laid through it: only what followed the last break."
    )


class TrendBreakOut(serializers.Serializer):
    """From when on readings are not comparable with those before."""

    at = serializers.DateTimeField(help_text="From when on.")
    on = serializers.DateField(help_text="Its day at the site.")
    why = serializers.ChoiceField(
        choices=["instrument", "instructions", "facts", "battery", "device", "repair"],
        help_text="What changed.",
    )
    words = serializers.CharField(help_text="The same in words.")


class TrendLimitOut(serializers.Serializer):
    """The strictest limit of today on one side, in its published unit."""

    side = serializers.ChoiceField(choices=_SIDES, help_text="high: at most; low: at least.")
    value = serializers.CharField(help_text="As published; inside is at the limit too.")
    unit = serializers.CharField(help_text="As published.")
    requirement = serializers.CharField(help_text="Id of the requirement.")
    title = serializers.CharField(help_text="Title of the requirement.")
    citation = serializers.DictField(help_text="Where it is written.")
    adoption = serializers.CharField(help_text="not_recorded: applied as reference.")
    advisory = serializers.BooleanField(
        help_text="Whether it binds nobody until adopted: nothing is expected to fail by it."
    )


class SlopeOut(serializers.Serializer):
    """The Theil-Sen slope with its 95 % interval, and the Mann-Kendall test for a trend."""

    slope = serializers.CharField(help_text="Median of the slopes of all pairs of readings.")
    low = serializers.CharField(allow_null=True, help_text="Null: too few readings for one.")
    high = serializers.CharField(allow_null=True, help_text="Null: too few readings for one.")
    unit = serializers.CharField(help_text="Of the reading; see `per`.")
    per = serializers.CharField(help_text="By which time.")
    count = serializers.IntegerField(help_text="How many readings.")
    mann_kendall = serializers.DictField(help_text="The test: s, variance, z, probability, tau.")
    significant = serializers.BooleanField(help_text="Whether the probability is below 0.05.")


class CrossingOut(serializers.Serializer):
    """When the line crosses one limit."""

    limit = serializers.ChoiceField(choices=_SIDES, help_text="Which one.")
    passed = serializers.BooleanField(help_text="Whether the last reading lies past it.")
    crosses = serializers.DateField(allow_null=True, help_text="Null: never, or beyond years.")
    earliest = serializers.DateField(
        allow_null=True, help_text="By the interval of the slope; null where it has no such end."
    )
    latest = serializers.DateField(
        allow_null=True, help_text="By the interval of the slope; null where it may be never."
    )
    expected_before = serializers.BooleanField(
        required=False, help_text="Whether it crosses before the next duty; absent without one."
    )
    possible_before = serializers.BooleanField(
        required=False, allow_null=True, help_text="The same at either end of the interval."
    )


class NextDutyOut(serializers.Serializer):
    """What is due next at the opening."""

    activity = serializers.ChoiceField(choices=Activity.choices)
    due_on = serializers.DateField()


class TrendSummaryOut(serializers.Serializer):
    """Where one quantity of one door is heading."""

    quantity = serializers.CharField(help_text="As the rules library names it.")
    title = serializers.CharField(help_text="What it is, in words.")
    unit = serializers.CharField(help_text="Of the series: that of the limit, as published.")
    count = serializers.IntegerField(
        help_text=f"Readings looked at: the latest, at most {READINGS}."
    )
    more = serializers.BooleanField(help_text="Whether there are earlier ones, not looked at.")
    fitted = serializers.IntegerField(help_text="How many of them, since the last break.")
    last_on = serializers.DateField(help_text="Day of the last reading.")
    breaks = TrendBreakOut(many=True, help_text="Breaks of the series, oldest first.")
    limits = TrendLimitOut(many=True, help_text="By the requirements of today.")
    trend = SlopeOut(allow_null=True, help_text="Null: too few readings since the last break.")
    forecasts = CrossingOut(many=True, help_text="One for each limit.")
    next_duty = NextDutyOut(allow_null=True, help_text="Null where nothing is due.")
    expected_to_fail = serializers.BooleanField(
        allow_null=True, help_text="Before the next duty, by a binding limit; null: unknown."
    )
    words = serializers.CharField(help_text="The same in words. Never about the door's safety.")


class TrendOut(TrendSummaryOut):
    """The same with its readings."""

    points = TrendPointOut(many=True, help_text="Oldest first.")


class TrendsOut(serializers.Serializer):
    """All quantities that were measured at an opening."""

    opening = serializers.UUIDField()
    trends = TrendSummaryOut(many=True, help_text="By the name of the quantity.")


def trend_summary(trend: Trend) -> dict[str, Any]:
    """A trend as the API gives it, without its readings."""
    measured = trend.measured or {"trend": None, "forecasts": []}
    return {
        "quantity": trend.quantity,
        "title": title_of(trend.quantity),
        "unit": trend.unit.symbol,
        "count": len(trend.points),
        "more": trend.more,
        "fitted": trend.fitted,
        "last_on": trend.points[-1].on,
        "breaks": [_break(each) for each in trend.breaks],
        "limits": [_bound(bound) for bound in trend.bounds],
        "trend": measured["trend"],
        "forecasts": measured["forecasts"],
        "next_duty": _duty(trend.next_duty),
        "expected_to_fail": trend.expectation.fails,
        "words": trend.expectation.words,
    }


def _break(found: Break) -> dict[str, Any]:
    return {"at": found.at, "on": found.on, "why": found.why, "words": found.words}


def _bound(bound: Bound) -> dict[str, Any]:
    names = ("side", "requirement", "title", "citation", "adoption", "advisory")
    shown = {name: getattr(bound, name) for name in names}
    return shown | {"value": bound.text, "unit": bound.unit.symbol}


def _duty(duty: Duty | None) -> dict[str, Any] | None:
    return None if duty is None else {"activity": duty.activity, "due_on": duty.due_on}


def _point(point: Point, *, fitted: bool) -> dict[str, Any]:
    names = ("on", "value", "sent", "sent_unit", "visit", "instrument")
    return {name: getattr(point, name) for name in names} | {"fitted": fitted}


class TrendsView(TenantView):
    """Where the quantities of one door are heading."""

    scope = "visits"

    @extend_schema(operation_id="read_trends", responses=TrendsOut)
    def get(self, request: Request, opening_id: UUID) -> Response:
        """Read the trend of each quantity measured at an opening, without the readings."""
        trends = trends_of(opening_by_id(opening_id))
        return Response({"opening": opening_id, "trends": [trend_summary(t) for t in trends]})


class TrendView(TenantView):
    """Where one quantity of one door is heading."""

    scope = "visits"

    @extend_schema(operation_id="read_trend", responses=TrendOut)
    def get(self, request: Request, opening_id: UUID, quantity: str) -> Response:
        """Read the trend of one quantity with its readings, from visits that nothing corrects."""
        trend = trend_of(opening_by_id(opening_id), quantity)
        first = len(trend.points) - trend.fitted
        points = [_point(p, fitted=n >= first) for n, p in enumerate(trend.points)]
        return Response(trend_summary(trend) | {"points": points})
