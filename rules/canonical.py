"""One text for one value: what digests are taken over and what the command line prints.

Keys are sorted by code point, no white space, UTF-8; dates are ISO 8601, fractions `n/d`,
quantities the value as published with its unit. Independent of platform and Python version.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum
from fractions import Fraction
from typing import Any

from rules import predicates
from rules.model import LineageStep, Requirement, Resolved
from rules.quantities import Quantity

_EMPTY: tuple[object, ...] = (None, "", (), frozenset())
_KEPT_FINGERPRINTS = 20_000


def plain(value: object) -> Any:  # noqa: ANN401 - any JSON value
    """The value as JSON can hold it; parts of an object that are absent or empty are left out."""
    match value:
        case Enum():
            return value.value
        case None | bool() | int() | str():
            return value
        case Mapping():
            return {str(key): plain(part) for key, part in value.items()}
        case frozenset():
            return sorted(plain(part) for part in value)
        case Iterable():
            return [plain(part) for part in value]
    return _written(value)


def _written(value: object) -> Any:  # noqa: ANN401
    match value:
        case date():
            return value.isoformat()
        case Fraction():
            return f"{value.numerator}/{value.denominator}"
        case Quantity():
            return {"value": value.text, "unit": value.unit.symbol}
    return _parts(value)


def _parts(value: object) -> dict[str, Any]:
    if not is_dataclass(value) or isinstance(value, type):
        raise TypeError(f"no canonical form for {type(value).__name__}")
    named = ((part.name, getattr(value, part.name)) for part in fields(value))
    parts = {name: plain(part) for name, part in named if part not in _EMPTY}
    if type(value).__module__ == predicates.__name__:
        parts["is"] = type(value).__name__  # the same parts under another word mean another thing
    return parts


def canonical(value: object) -> str:
    """The canonical JSON text of a value."""
    return json.dumps(plain(value), sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def digest(items: Iterable[Resolved]) -> str:
    """SHA-256 in hex over resolved requirements in the order of their ids."""
    hashed = hashlib.sha256()
    for item in sorted(items, key=lambda item: item.requirement.id):
        hashed.update("\t".join(_outline(item)).encode("utf-8"))
        hashed.update(b"\n")
    return hashed.hexdigest()


def _outline(item: Resolved) -> Iterator[str]:
    yield fingerprint(item.requirement)
    yield item.layer
    yield item.adoption
    yield "advisory" if item.advisory else "binding"
    yield item.since.isoformat() if item.since else "ever"
    yield ",".join(item.missing_facts)
    yield item.applied_edition
    yield from map(fingerprint, item.lineage)
    yield from (held.since.isoformat() if held.since else "ever" for held in item.earlier)


_fingerprints: dict[int, tuple[Requirement | LineageStep, str]] = {}


def fingerprint(part: Requirement | LineageStep) -> str:
    """SHA-256 in hex over the canonical text of one requirement, or of one step of a lineage."""
    # Kept by identity: hashing the value itself would cost as much as writing it down.
    kept = _fingerprints.get(id(part))
    if kept is None:
        if len(_fingerprints) >= _KEPT_FINGERPRINTS:
            _fingerprints.clear()
        text = hashlib.sha256(canonical(part).encode("utf-8")).hexdigest()
        kept = _fingerprints[id(part)] = (part, text)
    return kept[1]
