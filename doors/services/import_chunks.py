"""One chunk of a table's rows: done together or not at all, and what became of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db import transaction

from doors.errors import RefusedError, ServiceError
from doors.models import Import, ImportRow, Site
from doors.selectors.sites import site_by_id
from doors.services.cells import CellError, Reading
from doors.services.import_kinds import Came, Kind, kind_of_import, site_named
from doors.services.tables import Table
from rules.errors import InputError

_Outcome = ImportRow.Outcome
Problem = dict[str, str]


@dataclass
class Chunk:
    """Some rows of a table, in order; `total` is how many rows the whole table has.

    `earlier` are the references of rows before each, by which a row said twice is found.
    """

    asked: Import
    fields: Mapping[str, str]
    total: int = 0
    rows: list[tuple[int, Mapping[str, str]]] = field(default_factory=list)
    said_in: dict[tuple[str, str], int] = field(default_factory=dict)
    _sites: dict[str, Site] = field(default_factory=dict)
    _known: dict[UUID | None, set[str]] = field(default_factory=dict)

    @property
    def numbers(self) -> list[int]:
        """The numbers of its rows."""
        return [number for number, _ in self.rows]

    @property
    def kind(self) -> Kind:
        """What its rows are."""
        return kind_of_import(self.asked.kind)

    def run(self) -> list[ImportRow]:
        """Do every row, and take all of it back where one cannot be done, or in a dry run."""
        with transaction.atomic():
            fates = [self._row(number, cells) for number, cells in self.rows]
            refused = any(fate.outcome == _Outcome.REFUSED for fate in fates)
            taken_back = refused or self.asked.dry_run
            transaction.set_rollback(taken_back)
        for fate in fates if taken_back else ():
            if fate.outcome == _Outcome.CREATED:
                fate.thing = None
            if refused and not self.asked.dry_run and fate.outcome != _Outcome.REFUSED:
                fate.outcome, fate.thing = _Outcome.HELD_BACK, None
        return fates

    def _row(self, number: int, cells: Mapping[str, str]) -> ImportRow:
        fate = ImportRow(
            organization_id=self.asked.organization_id, of_import=self.asked, row=number
        )
        values, problems = self._read(cells)
        fate.reference = str(values.get(self.kind.reference, ""))[:100]
        problems += self._said_before(number, values)
        if not problems:
            came = self._applied(values, problems)
        if problems:
            fate.outcome, fate.problems = _Outcome.REFUSED, problems[:20]
        else:
            fate.outcome, fate.thing = came.outcome, came.thing
        return fate

    def _read(self, cells: Mapping[str, str]) -> tuple[dict[str, Any], list[Problem]]:
        reading = Reading(self.asked.options.get("date_order"))
        said: Mapping[str, Mapping[str, str]] = self.asked.options.get("values", {})
        values: dict[str, Any] = {}
        problems: list[Problem] = []
        for column, name in self.fields.items():
            cell = said.get(name, {}).get(cells[column], cells[column])
            if not cell:
                continue
            try:
                values[name] = self.kind.by_name[name].read(cell, reading)
            except CellError as wrong:
                problems.append(_problem(column, wrong.code, wrong.detail))
        missing = [c.name for c in self.kind.columns if c.required and c.name not in values]
        wrong_already = {self.fields[problem["column"]] for problem in problems}
        problems += [
            _problem(self._column(name), "missing", "This may not be empty.")
            for name in missing
            if name not in wrong_already
        ]
        return values, problems

    def _said_before(self, number: int, values: Mapping[str, Any]) -> list[Problem]:
        """A reference or a tag that an earlier row of the same site has."""
        site = str(values.get("site_reference", ""))
        found = []
        for name in {self.kind.reference, "tag"} & set(values):
            first = self.said_in.get((f"{site}\n{name}", str(values[name])), number)
            if first < number:
                detail = f"Row {first} has it already."
                found.append(_problem(self._column(name), "said_twice", detail))
        return found

    def _applied(self, values: dict[str, Any], problems: list[Problem]) -> Came:
        came = Came("", self.asked.id)
        try:
            with transaction.atomic():
                site = self._site(values)
                self._refuse_eaten_zeros(values, site)
                came = self.kind.apply(values, site)
                self._known[site.id if site else None].add(str(values[self.kind.reference]))
        except ServiceError as refused:
            places = refused.errors or ()
            problems += [self._at(e.pointer, e.code, e.detail) for e in places]
            if not places:
                problems.append(_problem("", refused.code, refused.detail))
        except InputError as refused:
            problems += [self._at(p.pointer, p.code, p.message) for p in refused.problems]
        return came

    def _site(self, values: dict[str, Any]) -> Site | None:
        if not self.kind.in_site:
            return None
        reference, named = values.pop("site_reference", ""), self.asked.options.get("site")
        if not reference and not named:
            raise RefusedError.at("/site_reference", "Say at which site it stands.")
        key = str(reference or named)
        if key not in self._sites:
            self._sites[key] = site_named(reference) if reference else site_by_id(UUID(named))
        return self._sites[key]

    def _refuse_eaten_zeros(self, values: Mapping[str, Any], site: Site | None) -> None:
        """Refuse 12 where 0012 is known: a spreadsheet has eaten the zeros."""
        reference, site_id = str(values[self.kind.reference]), site.id if site else None
        if site_id not in self._known:
            self._known[site_id] = self.kind.known(site_id)
        known = self._known[site_id]
        if not reference.isdigit() or reference in known:
            return
        bare = reference.lstrip("0")
        alike = [each for each in known if each.isdigit() and each.lstrip("0") == bare]
        if alike:
            detail = f"{alike[0]} is known and {reference} was given: zeros in front are missing."
            raise RefusedError.at(f"/{self.kind.reference}", detail)

    def _at(self, pointer: str, code: str, detail: str) -> Problem:
        """A mistake of the service by the column that gave its field."""
        parts = pointer.strip("/").split("/")
        names = [part for part in parts if part in self.kind.by_name]
        return _problem(self._column(names[-1]) if names else "", code, detail)

    def _column(self, name: str) -> str:
        by_field = {given: column for column, given in self.fields.items()}
        return by_field.get(name, name)


def _problem(column: str, code: str, detail: str) -> Problem:
    return {"column": column, "code": code, "detail": detail[:300]}


def chunk_of(asked: Import, table: Table, *, after: int, fields: Mapping[str, str]) -> Chunk:
    """The next rows after that number, and what earlier rows have said."""
    chunk = Chunk(asked, fields)
    largest = asked.options["chunk_size"]
    columns = {name: column for column, name in fields.items()}
    keys = [n for n in (chunk.kind.reference, "tag") if n in columns]
    site_of = columns.get("site_reference")
    for number, cells in table.rows():
        chunk.total += 1
        site = cells[site_of] if site_of else ""
        for name in keys:
            if cell := cells[columns[name]]:
                chunk.said_in.setdefault((f"{site}\n{name}", cell), number)
        if number > after and len(chunk.rows) < largest:
            chunk.rows.append((number, cells))
    return chunk
