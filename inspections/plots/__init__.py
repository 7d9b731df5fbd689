"""Plots of traces and series: geometry once, drawn to SVG or on a canvas."""

from __future__ import annotations

from collections.abc import Mapping

from inspections.plots.curves import series_picture, trace_picture
from inspections.plots.svg import to_svg
from inspections.plots.traces import PlotError, Series, Trace, drawn_from

__all__ = ["PlotError", "render_series_svg", "render_trace_svg"]

WIDTH, HEIGHT = 480.0, 200.0


def render_trace_svg(
    trace: Mapping[str, object] | Trace, *, width: float = WIDTH, height: float = HEIGHT
) -> str:
    """A trace of the packet document as SVG; raises PlotError naming the field it cannot draw."""
    return to_svg(trace_picture(drawn_from(trace, Trace), width=width, height=height))


def render_series_svg(
    series: Mapping[str, object] | Series, *, width: float = WIDTH, height: float = HEIGHT
) -> str:
    """A series of the packet document as SVG; raises PlotError naming the field it cannot draw."""
    return to_svg(series_picture(drawn_from(series, Series), width=width, height=height))
