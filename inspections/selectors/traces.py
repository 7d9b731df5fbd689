"""The raw traces of a visit, which are kept apart from it, and all that was sent, put together."""

from __future__ import annotations

from typing import Any

from inspections.models import Visit


def traces_of(visit: Visit) -> list[dict[str, Any]]:
    """The traces of a visit in the order in which they were sent; no query where it has none."""
    if not visit.judgement["measurements"]:
        return []
    return [each.as_sent for each in sorted(visit.traces.all(), key=lambda trace: trace.index)]


def trace_at(visit: Visit, index: int) -> dict[str, Any] | None:
    """One trace by its place, from 0; None where there is none such."""
    trace = visit.traces.filter(index=index).first()
    return trace.as_sent if trace is not None else None


def sent_of(visit: Visit) -> dict[str, Any]:
    """Everything that was sent of a visit, as its digest covers it."""
    traces = traces_of(visit)
    return visit.findings | {"traces": traces} if traces else visit.findings
