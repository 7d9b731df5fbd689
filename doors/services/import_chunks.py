"""One chunk of a table's rows: done together or not at all, and what became of each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any
from uuid import UUID

from django.db import transaction

from doors.errors import AlreadyExistsError, RefusedError, ServiceError
from doors.models import Import, ImportRow, Site
from doors.names import normal
from doors.selectors.sites import site_by_id
from doors.services.cells import CellError, Column, Reading
from doors.services.import_kinds import Came, Kind, kind_of_import, site_named
from doors.services.import_names import Names, Said, standing
from doors.services.newcomers import Newcomers
from doors.services.tables import Table
from rules.errors import InputError

_Outcome = ImportRow.Outcome
Problem = dict[str, str]


@dataclass
class Chunk:
    """Some rows of a table, in order; `said` is what they and the rows before them call their
    things.
    """

    asked: Import
    fields: Mapping[str, str]
    said: Said
    rows: list[tuple[int, Mapping[str, str]]] = field(default_factory=list)
    _newcomers: Newcomers = field(default_factory=Newcomers)
    _sites: dict[str, Site] = field(default_factory=dict)
    _known: dict[UUID | None, Names] = field(default_factory=dict)

    @property
    def numbers(self) -> list[int]:
        """The numbers of its rows."""
        return [number for number, _ in self.rows]

    @cached_property
    def kind(self) -> Kind:
        """What its rows are."""
        return kind_of_import(self.asked.kind)

    @cached_property
    def _readers(self) -> Mapping[str, Column]:
        return self.kind.by_name

    @cached_property
    def _columns(self) -> Mapping[str, str]:
        return {name: column for column, name in self.fields.items()}

    def run(self) -> list[ImportRow]:
        """Do every row, and take all of it back where one cannot be done, or in a dry run."""
        try:
            return self._run()
        except AlreadyExistsError:  # somebody brought one of them meanwhile: now it is seen
            return self._run()

    def _run(self) -> list[ImportRow]:
        self._newcomers = Newcomers(frozenset(self._names()))
        with transaction.atomic():
            self._foresee()
            fates = [self._row(number, cells) for number, cells in self.rows]
            refused = any(fate.outcome == _Outcome.REFUSED for fate in fates)
            if not refused:
                self._newcomers.keep()
            taken_back = refused or self.asked.dry_run
            transaction.set_rollback(taken_back)
        for fate in fates if taken_back else ():
            if fate.outcome == _Outcome.CREATED:
                fate.thing = None
            if refused and not self.asked.dry_run and fate.outcome != _Outcome.REFUSED:
                fate.outcome, fate.thing = _Outcome.HELD_BACK, None
        return fates

    def _names(self) -> Iterator[str]:
        """What the rows call their things, by reference and by tag."""
        for name in {self.kind.reference, "tag"} & set(self._columns):
            for _, cells in self.rows:
                yield normal(self._meant(name, cells[self._columns[name]]))

    def _foresee(self) -> None:
        """Stand where a real import would: what earlier chunks of a dry run did was taken back."""
        if not self.asked.dry_run or self.kind.foresee is None or not self.rows:
            return
        earlier = ImportRow.objects.filter(of_import=self.asked, outcome=_Outcome.UPDATED)
        changed = set(earlier.filter(row__lt=self.rows[0][0]).values_list("thing", flat=True))
        tag = self._columns.get("tag")
        if changed and tag:
            tags = {normal(self._meant("tag", cells[tag])) for _, cells in self.rows}
            self.kind.foresee({thing for thing in changed if thing}, tags)

    def _row(self, number: int, cells: Mapping[str, str]) -> ImportRow:
        fate = ImportRow(
            organization_id=self.asked.organization_id, of_import=self.asked, row=number
        )
        values, problems = self._read(cells)
        fate.reference = str(values.get(self.kind.reference, ""))[:100]
        names = self.said.at(values.get("site_reference"))
        problems += self._said_before(number, values, names)
        alike = names.alike(number, fate.reference)
        if not problems:
            came = self._applied(values, problems, told_apart=alike is not None)
        if problems:
            fate.outcome, fate.problems = _Outcome.REFUSED, problems[:20]
            return fate
        fate.outcome, fate.thing = came.outcome, came.thing
        if alike:
            detail = f"Row {alike[0]} says {alike[1]}, which differs only by zeros in front."
            fate.warnings = [_problem(self._column(self.kind.reference), "zeros_differ", detail)]
        return fate

    def _read(self, cells: Mapping[str, str]) -> tuple[dict[str, Any], list[Problem]]:
        reading = Reading(self.asked.options.get("date_order"))
        values: dict[str, Any] = {}
        problems: list[Problem] = []
        for column, name in self.fields.items():
            cell = self._meant(name, cells[column])
            if not cell:
                continue
            try:
                values[name] = self._readers[name].read(cell, reading)
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

    def _meant(self, name: str, cell: str) -> str:
        """What is meant where a cell says this, as the sender says."""
        words: Mapping[str, str] = self.asked.options.get("values", {}).get(name, {})
        return words.get(cell, cell)

    def hear(self, number: int, cells: Mapping[str, str]) -> None:
        """Keep what a row calls its thing."""
        names = {self.kind.reference, "tag", "site_reference"} & set(self._columns)
        told = {name: normal(self._meant(name, cells[self._columns[name]])) for name in names}
        site = told.pop("site_reference", "")
        self.said.at(site).hear(number, {n: v for n, v in told.items() if v}, self.kind.reference)

    def _said_before(self, number: int, values: Mapping[str, Any], names: Names) -> list[Problem]:
        """A reference or a tag that an earlier row of the same site has."""
        found = []
        for name in sorted({self.kind.reference, "tag"} & set(values)):
            if first := names.before(number, name, str(values[name])):
                detail = f"Row {first} has it already."
                found.append(_problem(self._column(name), "said_twice", detail))
        return found

    def _applied(
        self, values: dict[str, Any], problems: list[Problem], *, told_apart: bool
    ) -> Came:
        came = Came("", self.asked.id)
        try:
            site = self._site(values)
            if not told_apart:
                self._refuse_eaten_zeros(values, site)
            came = self.kind.apply(values, site, self._newcomers)
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
        """Refuse 12 where 0012 stands: a spreadsheet has eaten the zeros. A table that says both
        has kept them: there it is a warning.
        """
        name, site_id = self.kind.reference, site.id if site else None
        if site_id not in self._known:
            self._known[site_id] = standing(self.kind.known(site_id), name)
        known, reference = self._known[site_id], str(values[name])
        if known.before(1, name, reference) is not None:
            return
        if alike := known.alike(1, reference):
            detail = f"{alike[1]} is known and {reference} was given: zeros in front are missing."
            raise RefusedError.at(f"/{name}", detail)

    def _at(self, pointer: str, code: str, detail: str) -> Problem:
        """A mistake of the service by the column that gave its field."""
        parts = pointer.strip("/").split("/")
        names = [part for part in parts if part in self._readers]
        return _problem(self._column(names[-1]) if names else "", code, detail)

    def _column(self, name: str) -> str:
        return self._columns.get(name, name)


def _problem(column: str, code: str, detail: str) -> Problem:
    return {"column": column, "code": code, "detail": detail[:300]}


def chunk_of(asked: Import, table: Table, *, after: int, fields: Mapping[str, str]) -> Chunk:
    """The next rows after that number, and what earlier rows have called their things."""
    named = asked.options.get("site")
    chunk = Chunk(asked, fields, Said(site_by_id(UUID(named)).reference if named else ""))
    for number, cells in table.rows():
        chunk.hear(number, cells)
        if number > after:
            chunk.rows.append((number, cells))
        if len(chunk.rows) == asked.options["chunk_size"]:
            break
    return chunk
