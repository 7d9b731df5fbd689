"""The states things go through, one table each: from a state to those that may follow."""

from __future__ import annotations

from collections.abc import Mapping

from doors.errors import WrongStateError

Moves = Mapping[str, frozenset[str]]

DEFICIENCY: Moves = {
    "open": frozenset({"repaired", "withdrawn"}),
    "repaired": frozenset({"proven", "open", "withdrawn"}),
    "proven": frozenset(),
    "withdrawn": frozenset(),
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
