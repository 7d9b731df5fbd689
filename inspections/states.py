"""The states things go through, one table each: from a state to those that may follow."""

from __future__ import annotations

from collections.abc import Mapping

from doors.errors import WrongStateError

Moves = Mapping[str, frozenset[str]]

# What people do. What is proven or withdrawn has ended: a later failure is another deficiency,
# which names the earlier one.
DEFICIENCY: Moves = {
    "open": frozenset({"repaired", "withdrawn"}),
    "repaired": frozenset({"proven", "open", "withdrawn"}),
    "proven": frozenset(),
    "withdrawn": frozenset(),
}

# What a correction, or a visit sent late, may bring: the record is then read anew from the
# finding on, and what followed from a visit that no longer stands follows no more.
DEFICIENCY_READ_ANEW: Moves = {
    "open": frozenset({"repaired", "proven", "withdrawn"}),
    "repaired": frozenset({"open", "proven", "withdrawn"}),
    "proven": frozenset({"open", "repaired", "withdrawn"}),
    "withdrawn": frozenset({"open", "repaired", "proven"}),
}

FILING: Moves = {
    "filed": frozenset({"returned", "accepted", "withdrawn", "superseded"}),
    "returned": frozenset({"superseded", "withdrawn"}),
    "accepted": frozenset({"superseded"}),
    "withdrawn": frozenset(),
    "superseded": frozenset(),
    "delivered_outside": frozenset({"superseded", "withdrawn"}),
}


def move(moves: Moves, now: str, to: str) -> str:
    """The state moved to; refuses a move that the table does not have."""
    if to not in moves[now]:
        allowed = ", ".join(sorted(moves[now])) or "nothing"
        raise WrongStateError(f"It is {now}; what may follow is {allowed}, not {to}.")
    return to
