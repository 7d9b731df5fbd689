"""Reads `applies` and `where`: a table of facts, all of which must hold.

applies = { door_type = ["rolling", "service_counter"], fire_door = true,
            occupant_load = { at_least = 50 }, building_height = { at_least = "11 m" },
            any = [{ closer = true }, { spring_hinge = true }], not = { dwelling = true } }
"""

from __future__ import annotations

from rules.errors import InputError
from rules.facts import FACTS, Fact, FactKind, bound, read_fact
from rules.loading.table import Table
from rules.predicates import ALWAYS, AllOf, AnyOf, Not, OneOf, Predicate, Within

MAX_DEPTH = 8  # deeper than any rule of a code that a person can follow


def read_predicate(table: Table | None, depth: int = 0) -> Predicate:
    """The predicate that a table writes; an absent table always holds."""
    if table is None:
        return ALWAYS
    if depth > MAX_DEPTH:
        table.refuse("", "too_deep", f"predicates are nested at most {MAX_DEPTH} deep")
        return ALWAYS
    parts = [
        part for key in sorted(table.names()) if (part := _read_part(table, key, depth)) is not None
    ]
    table.close()
    return parts[0] if len(parts) == 1 else AllOf(tuple(parts))


def _read_part(table: Table, key: str, depth: int) -> Predicate | None:
    if key == "any":
        parts = tuple(read_predicate(part, depth + 1) for part in table.tables("any"))
        if not parts:
            table.refuse("any", "missing", "give at least one predicate to choose from")
        return AnyOf(parts)
    if key == "not":
        return Not(read_predicate(table.table("not"), depth + 1))
    fact = FACTS.get(key)
    value = table.raw(key)
    if fact is None:
        table.refuse(key, "unknown_fact", "no such fact; see the facts schema")
        return None
    try:
        return _read_fact_test(table, fact, value)
    except InputError as refused:
        table.problems.extend(refused.problems)
        return None


def _read_fact_test(table: Table, fact: Fact, value: object) -> Predicate:
    where = f"{table.pointer}/{fact.name}"
    if isinstance(value, dict) and fact.kind in {FactKind.COUNT, FactKind.DAY, FactKind.MEASURE}:
        return _read_bounds(table, fact)
    if fact.kind in {FactKind.DAY, FactKind.MEASURE}:
        raise InputError.at(where, "wrong_type", "give at_least, at_most or both")
    values = value if isinstance(value, list) else [value]
    if not values:
        raise InputError.at(where, "missing", "the list of values is empty")
    return OneOf(fact.name, tuple(read_fact(fact, item, where) for item in values))


def _read_bounds(table: Table, fact: Fact) -> Predicate:
    bounds = table.table(fact.name)
    assert bounds is not None  # noqa: S101 - the caller saw a table
    found = {}
    for key in ("at_least", "at_most"):
        if bounds.has(key):
            found[key] = bound(fact, bounds.raw(key), f"{bounds.pointer}/{key}")
    bounds.close()
    if not found:
        bounds.refuse("", "missing", "give at_least, at_most or both")
    elif len(found) > 1 and found["at_most"] < found["at_least"]:  # type: ignore[operator]
        # both are of the one fact's kind
        bounds.refuse("at_least", "out_of_order", "nothing lies between these bounds")
    return Within(fact.name, **found)
