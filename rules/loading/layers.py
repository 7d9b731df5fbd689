"""Reads a layer: a place, an organization's policy, or a variance for one opening.

Only the shape is judged here; whether targets exist and limits move the right way is judged
against what the layer inherits, in `rules.lint`.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, NamedTuple

from rules.errors import DataError, Problem
from rules.layers import Amendment, Layer, LayerKind
from rules.loading.predicates import read_predicate
from rules.loading.requirements import read_citation, read_requirement
from rules.loading.table import Table
from rules.model import Citation
from rules.vocabulary import Change, ExistingDoors, Standing

_HEADS = (LayerKind.PLACE, LayerKind.POLICY, LayerKind.VARIANCE)
_POLICY_MAY = {Change.ADD, Change.ADOPT, Change.TIGHTEN}  # an owner cannot relax the law


_NO_DAY = date(2000, 1, 1)


class _Days(NamedTuple):
    """The first and the last day of a variance, both inside; None where not stated."""

    first: date | None
    last: date | None


def read_layer(document: Mapping[str, Any], *, file: str) -> Layer:
    """The layer of a document; raises DataError with every mistake of its shape."""
    layer, problems = readable_layer(document, file=file)
    if problems or layer is None:
        raise DataError(file, problems)
    return layer


def readable_layer(document: Mapping[str, Any], *, file: str) -> tuple[Layer | None, list[Problem]]:
    """What can be read of a layer, and every mistake of the document's shape."""
    problems: list[Problem] = []
    root = Table(document, "", problems)
    layer = _read_root(root, file)
    root.close()
    return layer, problems


def _read_root(root: Table, file: str) -> Layer | None:
    heads = [kind for kind in _HEADS if root.has(kind)]
    if len(heads) != 1:
        root.refuse("", "missing", "one of the tables jurisdiction, policy, variance is needed")
    tables = [root.table(kind) for kind in heads]
    kind, head = (heads[0], tables[0]) if heads else (LayerKind.PLACE, None)
    if head is None:
        head = Table({}, f"/{kind}", [])  # its lack is told; what it amends is read all the same
    code, parent = _read_names(head, kind)
    place_kind = head.text("kind") if kind is LayerKind.PLACE else ""
    name = head.text("name", required=kind is LayerKind.PLACE) or code
    authority = head.text("authority")
    revision = head.count("revision", 1) if kind is LayerKind.PLACE else 1
    reason = head.text("reason", required=revision > 1)
    amendments = _read_amendments(root, code, _read_days(head, kind))
    _refuse_what_it_may_not(root, kind)
    head.close()
    return Layer(
        kind, code, parent, name, amendments, place_kind, authority, revision, reason, file
    )


def _read_days(head: Table, kind: LayerKind) -> _Days:
    """A variance states its days once, in its head; elsewhere every amendment has its own."""
    if kind is not LayerKind.VARIANCE:
        return _Days(None, None)
    days = _Days(head.day("from"), head.day("until"))
    if days.first and days.last and days.last < days.first:
        head.refuse("until", "out_of_order", "it ends before it begins")
    return days


def _read_names(head: Table, kind: LayerKind) -> tuple[str, str]:
    if kind is LayerKind.PLACE:
        return head.slug("code"), head.slug("parent") if head.has("parent") else ""
    own = head.label("number") if kind is LayerKind.VARIANCE else head.slug("code")
    return f"{kind}:{own}", ""


def _refuse_what_it_may_not(root: Table, kind: LayerKind) -> None:
    if kind is LayerKind.POLICY:
        for change in set(Change) - _POLICY_MAY:
            if root.has(change):
                root.refuse(change, "not_allowed", "a policy adopts, adds and tightens only")
    if kind is not LayerKind.PLACE:
        for adoption in root.tables(Change.ADOPT):
            if adoption.has("publication"):
                adoption.refuse("publication", "not_allowed", "only a place adopts an edition")


def _read_amendments(root: Table, code: str, days: _Days) -> tuple[Amendment, ...]:
    found = [
        amendment
        for change in Change
        for block in root.tables(change)
        if (amendment := _read_amendment(block, change, code, days)) is not None
    ]
    return tuple(found)


def _read_amendment(block: Table, change: Change, code: str, days: _Days) -> Amendment | None:
    begins = block.day("from", required=days.first is None) or days.first
    ends = block.day("until") or days.last
    _check_days(block, begins, ends, days)
    existing_doors = _read_existing(block)
    supersedes = block.flag("supersedes")
    if supersedes and ":" in code:
        block.refuse("supersedes", "not_allowed", "only a place has earlier documents to end")
    where = read_predicate(block.table("where"))
    payload = _read_payload(block, change, code)
    block.close()
    if payload is None:
        return None
    # What has no source or no day is refused; it is read so that its other mistakes are named too.
    payload["citation"] = payload["citation"] or Citation("", "", "")
    payload["standing"] = payload["standing"] or Standing.FROM_MEMORY
    return Amendment(
        change=change,
        since=begins or _NO_DAY,
        until=ends,
        existing_doors=existing_doors,
        where=where,
        pointer=block.pointer,
        supersedes=supersedes,
        **payload,
    )


def _check_days(block: Table, begins: date | None, ends: date | None, within: _Days) -> None:
    if begins and ends and ends < begins:
        why = f"it ends before it begins: its last day would be {ends}, its first {begins}"
        block.refuse("until", "out_of_order", why)
    if block.has("from") and begins and within.first and begins < within.first:
        block.refuse("from", "out_of_order", "it begins before the variance does")
    if block.has("until") and ends and within.last and ends > within.last:
        block.refuse("until", "out_of_order", "it ends after the variance does")


def _read_existing(block: Table) -> ExistingDoors | None:
    if not block.has("existing_doors"):
        return None
    return block.word("existing_doors", ExistingDoors)


def _read_payload(block: Table, change: Change, code: str) -> dict[str, Any] | None:
    if change in {Change.ADD, Change.REPLACE}:
        return _read_requirement(block, change, code)
    payload: dict[str, Any] = {
        "citation": read_citation(block),
        "standing": block.word("standing", Standing),
    }
    if change is Change.ADOPT:
        return payload | _read_adopted(block)
    payload["target"] = block.slug("target")
    if change in {Change.TIGHTEN, Change.RELAX}:
        payload |= _read_moves(block, change)
    return payload


def _read_requirement(block: Table, change: Change, code: str) -> dict[str, Any] | None:
    target = block.slug("target") if change is Change.REPLACE else ""
    requirement = read_requirement(block, prefix=_one_part(code), inside=None, known_id=target)
    name = target or (requirement.id if requirement else "")
    if not name:
        return None
    return {
        "target": name,
        "requirement": requirement,
        "citation": requirement and requirement.citation,
        "standing": requirement and requirement.standing,
    }


def _one_part(code: str) -> str:
    """The code as the first part of an id: the number of a variance may hold a slash, and two
    variances must never write one id.
    """
    return code.replace("~", "~0").replace("/", "~1")


def _read_adopted(block: Table) -> dict[str, Any]:
    whole = block.has("publication")
    if whole == block.has("requirement"):
        block.refuse("", "missing", "an adoption names a publication or a requirement, not both")
    return {"target": block.slug("publication" if whole else "requirement"), "whole": whole}


def _read_moves(block: Table, change: Change) -> dict[str, Any]:
    moves: dict[str, Any] = {
        "low": block.measure("low"),
        "high": block.measure("high"),
        "every": block.period("every"),
        "keep": block.duration("keep"),
    }
    for key in ("low", "high"):
        if moves[key] is not None and moves[key].value < 0:
            block.refuse(key, "out_of_range", "no limit of a door is negative")
    if not any(map(block.has, moves)):
        block.refuse("", "missing", f"to {change} give low, high, every or keep")
    return moves
