"""Plots as SVG: a trace with what was computed from it, and a trend with limit and forecast."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request

from doors.api.base import TenantView
from doors.errors import NotVisibleError
from doors.selectors.openings import opening_by_id
from inspections.plots import render_series_svg, render_trace_svg
from inspections.selectors.drawings import drawn_trace
from inspections.selectors.traces import trace_at
from inspections.selectors.trend_drawings import drawn_series
from inspections.selectors.trends import trend_of
from inspections.selectors.visits import visit_by_id

SVG = "image/svg+xml"
_NOTHING = "default-src 'none'; sandbox; frame-ancestors 'none'"  # a picture needs and runs nothing
_LEAST = 2  # samples that make a line


def svg_response(drawn: str, name: str) -> HttpResponse:
    """A picture that may stand in a page of one's own and can do nothing there."""
    response = HttpResponse(drawn, content_type=f"{SVG}; charset=utf-8")
    response["Content-Disposition"] = f'inline; filename="{name}.svg"'
    response["Content-Security-Policy"] = _NOTHING
    return response


class TracePlotView(TenantView):
    """One trace of one visit, drawn."""

    scope = "visits"
    media_types = (SVG,)

    @extend_schema(operation_id="plot_trace", responses={(200, SVG): OpenApiTypes.STR})
    def get(self, request: Request, visit_id: UUID, index: int) -> HttpResponse:
        """Draw a trace with what was seen in it: start, stops, end, mean slope, peaks, limits.

        Traces are counted from 0, as they were sent; one without samples has no picture.
        """
        visit = visit_by_id(visit_id)
        sent, judged = trace_at(visit, index), visit.judgement
        drawn = None
        if sent is not None:
            drawn = drawn_trace(sent, judged["measurements"][index], judged["verdicts"])
        if drawn is None or len(drawn["t"]) < _LEAST:
            raise NotVisibleError
        return svg_response(render_trace_svg(drawn), f"trace-{index}")


class TrendPlotView(TenantView):
    """The trend of one quantity of one door, drawn."""

    scope = "visits"
    media_types = (SVG,)

    @extend_schema(operation_id="plot_trend", responses={(200, SVG): OpenApiTypes.STR})
    def get(self, request: Request, opening_id: UUID, quantity: str) -> HttpResponse:
        """Draw the readings with the limits of today, the breaks, the line and its way on."""
        trend = trend_of(opening_by_id(opening_id), quantity)
        return svg_response(render_series_svg(drawn_series(trend)), f"trend-{quantity}")
