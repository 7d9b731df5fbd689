"""From the requirements of an opening to the sheet an inspector fills in: what is to be looked at
and operated in an activity, and the answers to it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

Requirement = Mapping[str, Any]  # as the API gives it


@dataclass(frozen=True, slots=True)
class Wanting:
    """A check or sequence that was found wanting: what was not seen of it, and in which words."""

    remarks: str
    unseen: str = ""


def asked_in(requirements: Iterable[Requirement], activity: str) -> list[Requirement]:
    """What an activity asks for, in the order given."""
    return [each for each in requirements if activity in each["required_in"]]


def asked_after(
    requirements: Iterable[Requirement], parts: Collection[str], quantities: Collection[str]
) -> list[Requirement]:
    """What is tried again after these parts were mended: the sequences that depend on them, what
    failed, and what every retest asks.
    """
    found = []
    for each in requirements:
        depends = not set(parts).isdisjoint(each.get("sequence", {}).get("after_parts", ()))
        failed = each.get("limit", {}).get("quantity") in quantities
        if depends or failed or "repair_retest" in each["required_in"]:
            found.append(each)
    return found


def item_of(requirement: Requirement) -> str:
    """The name of the check or sequence that a requirement asks for; empty where it asks none."""
    spec = requirement[requirement["kind"]]
    return str(spec.get("check") or spec.get("sequence") or "")


def cautions_of(requirements: Iterable[Requirement]) -> list[str]:
    """What must be heeded before the sequences among these are operated, each said once."""
    said = (each["sequence"].get("caution") for each in requirements if "sequence" in each)
    return list(dict.fromkeys(filter(None, said)))


def answers(
    asked: Iterable[Requirement], wanting: Mapping[str, Wanting]
) -> dict[str, list[dict[str, Any]]]:
    """The checks and sequences of a visit: everything as it should be but what is `wanting`.

    Two publishers may ask for one thing: it is answered once, with the steps of both. Raises
    LookupError for a thing wanting that nobody asks for.
    """
    checks: dict[str, None] = {}
    steps: dict[str, dict[str, None]] = {}
    for each in asked:
        if "check" in each:
            checks[item_of(each)] = None
        elif "sequence" in each:
            named = {step["step"]: None for step in each["sequence"]["steps"]}
            steps.setdefault(item_of(each), {}).update(named)
    if strangers := wanting.keys() - checks.keys() - steps.keys():
        raise LookupError(f"no requirement asks for {', '.join(sorted(strangers))}")
    return {
        "checks": [_check(name, wanting.get(name)) for name in checks],
        "sequences": [_sequence(name, list(steps[name]), wanting.get(name)) for name in steps],
    }


def _check(name: str, wanting: Wanting | None) -> dict[str, Any]:
    if wanting is None:
        return {"check": name, "result": "conforms"}
    return {"check": name, "result": "does_not_conform", "remarks": wanting.remarks}


def _sequence(name: str, steps: list[str], wanting: Wanting | None) -> dict[str, Any]:
    unseen = wanting.unseen if wanting else ""
    seen = [{"step": step, "seen": step != unseen} for step in steps]
    if wanting is None:
        return {"sequence": name, "result": "conforms", "steps": seen}
    found = {"sequence": name, "result": "does_not_conform", "steps": seen}
    return {**found, "remarks": wanting.remarks}
