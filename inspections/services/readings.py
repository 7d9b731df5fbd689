"""Keeping the readings of a visit as rows of their own, to look at them along time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from inspections.models import Reading, Visit
from rules.quantities import quantity, rounded


def keep_readings(*, visit: Visit, measured: Sequence[Mapping[str, Any]]) -> None:
    """Keep what was measured in a visit that is being recorded, each by its place in it."""
    rows = []
    for index, reading in enumerate(measured):
        if "value" not in reading:
            continue
        exact = quantity(reading["value"], reading["unit"])
        rows.append(
            Reading(
                site_id=visit.site_id,
                opening_id=visit.opening_id,
                author_id=visit.author_id,
                author_name=visit.author_name,
                visit=visit,
                index=index,
                quantity=reading["quantity"],
                value=exact.text,
                unit=exact.unit.symbol,
                si=Decimal(rounded(exact.si, 9)),
                performed_on=visit.performed_on,
                performed_at=visit.performed_at,
            )
        )
    Reading.objects.bulk_create(rows)
