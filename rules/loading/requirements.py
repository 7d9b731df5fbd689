"""Reads one `[[requirement]]` block of a publication, or the same under `add` and `replace`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from rules.loading.predicates import read_predicate
from rules.loading.specs import read_spec
from rules.loading.table import Table
from rules.model import Citation, QualificationSpec, Requirement
from rules.vocabulary import Activity, Basis, Doors, Kind, Protects, Standing


def read_requirement(
    table: Table, *, prefix: str, inside: Citation | None, known_id: str = ""
) -> Requirement | None:
    """The requirement that a table writes, its id under `prefix`; None where it cannot be read.

    `inside` is the publication the block stands in: its blocks give the clause alone. A
    replacement keeps the id of what it replaces, `known_id`, and writes none.
    """
    name = known_id or f"{prefix}/{table.slug('id')}"
    kind = table.word("kind", Kind)
    parts = {
        "title": table.text("title", required=True),
        "basis": table.word("basis", Basis),
        "protects": table.word("protects", Protects),
        "standing": table.word("standing", Standing),
        "citation": read_citation(table, inside),
        "applies": read_predicate(table.table("applies")),
        "in_force_from": (first := table.day("in_force_from")),
        "in_force_until": (last := table.day("in_force_until")),
        "required_in": table.words("required_in", Activity),
        "may_stay_untested_in": table.words("may_stay_untested_in", Activity),
        "doors": table.word("doors", Doors, Doors.ANY),
        "adoption_only": table.flag("adoption_only"),
    }
    if first and last and last < first:
        table.refuse("in_force_until", "out_of_order", "it ends before it begins")
    spec = _read_its_spec(table, kind)
    if inside is None and isinstance(spec, QualificationSpec) and spec.not_read:
        table.refuse(
            "qualification/not_read", "not_allowed", "only a publication says it of itself"
        )
    if kind is None or spec is None or name.endswith("/") or None in _needed(parts):
        return None
    return Requirement(id=name, kind=kind, spec=spec, **parts)  # type: ignore[arg-type]


def _needed(parts: Mapping[str, object]) -> list[object]:
    return [parts[key] for key in ("basis", "protects", "standing", "citation")]


def _read_its_spec(table: Table, kind: Kind | None) -> object:
    for other in Kind:
        if other is not kind and table.has(other):
            table.raw(other)
            if kind is not None:
                table.refuse(other, "unknown_key", f"this requirement is a {kind}")
    if kind is None:
        return None
    its_table = table.table(kind, required=True)
    return its_table and read_spec(kind, its_table)


def read_citation(table: Table, inside: Citation | None = None) -> Citation | None:
    """The citation under `citation`; inside a publication the clause and note are enough."""
    cited = table.table("citation", required=True)
    if cited is None:
        return None
    clause = cited.text("clause", required=inside is not None)
    note = cited.text("note")
    if inside is not None:
        cited.close()
        return replace(inside, clause=clause, note=note)
    found = Citation(cited.text("publication", required=True), cited.text("edition"), clause, note)
    cited.close()
    return found
