"""Where a visit that was sent again is not the one that stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice
from typing import Any

from doors.errors import FieldProblem
from inspections.models import Visit
from rules.errors import escaped

MOST_TOLD = 20
LONGEST_TOLD = 60  # characters of a value


def body_of(visit: Visit, findings: Mapping[str, Any]) -> dict[str, Any]:
    """What a client sends of this visit, `findings` and the rest, beside its own references."""
    own = {
        "opening": str(visit.opening_id),
        "activity": visit.activity,
        "performed_at": visit.performed_at_text,
    }
    return {**findings, **own}


def clashes(sent: Mapping[str, Any], kept: Mapping[str, Any]) -> list[FieldProblem]:
    """Each place at which what was sent differs from what is kept, with both values."""
    return list(islice(_unlike(sent, kept, ""), MOST_TOLD))


def way_to_correct(visit_id: object) -> str:
    """How a recorded visit is corrected."""
    return (
        f"Visit {visit_id} stands as it was first sent; to correct it, send a visit of a new"
        " reference that supersedes it."
    )


def _unlike(sent: object, kept: object, at: str) -> Iterator[FieldProblem]:
    if isinstance(sent, Mapping) and isinstance(kept, Mapping):
        for name in sorted({*sent, *kept}):
            yield from _unlike(sent.get(name), kept.get(name), f"{at}/{escaped(name)}")
    elif isinstance(sent, list) and isinstance(kept, list) and len(sent) == len(kept):
        for place, pair in enumerate(zip(sent, kept, strict=True)):
            yield from _unlike(*pair, f"{at}/{place}")
    elif sent != kept:
        yield FieldProblem(at, "differs", f"Sent now: {_told(sent)}. Recorded: {_told(kept)}.")


def _told(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, list | Mapping):
        return f"{len(value)} of them"
    text = str(value)
    return text if len(text) <= LONGEST_TOLD else f"{text[:LONGEST_TOLD]}…"
