"""By which name findings, deficiencies and forms speak of a requirement."""

from __future__ import annotations

from rules.model import CheckSpec, LimitSpec, Resolved, SequenceSpec


def name_of(resolved: Resolved) -> str:
    """The check, the quantity or the sequence that a requirement asks for; empty for another."""
    match resolved.requirement.spec:
        case CheckSpec(check=name) | LimitSpec(quantity=name) | SequenceSpec(sequence=name):
            return name
    return ""


def subject_of(resolved: Resolved) -> str:
    """What is tried again: `sequence:obstruction`, `quantity:gap`, or `requirement:<id>`."""
    match resolved.requirement.spec:
        case CheckSpec(check=name):
            return f"check:{name}"
        case LimitSpec(quantity=name):
            return f"quantity:{name}"
        case SequenceSpec(sequence=name):
            return f"sequence:{name}"
    return f"requirement:{resolved.requirement.id}"
