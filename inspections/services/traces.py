"""Keeping the raw traces of a visit, compressed and apart from what else was sent of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from inspections.models import Trace, Visit


def without_traces(findings: Mapping[str, Any]) -> dict[str, Any]:
    """What was sent, as the visit's own row keeps it; a list of none stays a list of none."""
    return {name: each for name, each in findings.items() if name != "traces" or not each}


def keep_traces(*, visit: Visit, traces: Sequence[Mapping[str, Any]]) -> None:
    """Keep the traces of a visit that is being recorded, each by its place in what was sent."""
    if not traces:
        return
    rows = [
        Trace(
            site_id=visit.site_id,
            author_id=visit.author_id,
            author_name=visit.author_name,
            visit=visit,
            index=index,
            content=Trace.packed(trace),
            performed_at=visit.performed_at,
        )
        for index, trace in enumerate(traces)
    ]
    Trace.objects.bulk_create(rows)
