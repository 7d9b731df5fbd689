"""What can be exported: one table by its noun, or several of them together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.conf import settings
from django.db.models import Model, QuerySet
from django.utils.module_loading import import_string

from doors.clock import civil_date
from doors.models import Opening, Site
from doors.selectors.openings import facts_on
from doors.services.facts import KEPT_ELSEWHERE
from doors.services.records import names_of, record_of
from doors.tenancy import current
from rules.facts import FACTS


def plain_record(row: Any) -> dict[str, Any]:  # noqa: ANN401 (any table's row)
    """A row as it is kept."""
    return record_of(row)


@dataclass(frozen=True, slots=True)
class ExportedTable:
    """One table: its rows in sight, `born` by the column that says when each was written.

    `more` are columns beside the table's own, which `record` answers too.
    """

    name: str
    model: type[Model]
    born: str = ""
    more: tuple[str, ...] = ()
    related: tuple[str, ...] = ()
    record: Callable[[Any], dict[str, Any]] = field(default=plain_record)

    @property
    def columns(self) -> list[str]:
        """All its columns, in order."""
        return [*names_of(self.model), *self.more]

    @property
    def of_sites(self) -> bool:
        """Whether each of its rows has a site for its home."""
        return any(f.name == "site" for f in self.model._meta.concrete_fields)

    def rows(self) -> QuerySet[Any]:
        """Its rows in sight."""
        manager: Any = self.model._default_manager
        found: QuerySet[Any] = manager.select_related(*self.related) if self.related else manager
        return found.all()


def tables_of(kind: str) -> list[ExportedTable]:
    """The tables of a kind of export, one of settings.EXPORTS."""
    found: list[ExportedTable] = import_string(settings.EXPORTS[kind])
    return found


_FACT_NAMES = tuple(name for name in FACTS if name not in KEPT_ELSEWHERE)


def opening_record(opening: Opening) -> dict[str, Any]:
    """An opening with its facts of today, each in a column of its own, and its instructions."""
    known = facts_on(opening, civil_date(current().now, opening.site.time_zone))
    facts = {name: known.facts.get(name) for name in _FACT_NAMES}
    site = {"site_reference": opening.site.reference}
    return record_of(opening) | site | facts | {"listed_instructions": known.listed_instructions}


OPENINGS = [
    ExportedTable(
        "openings",
        Opening,
        born="created_at",
        more=("site_reference", *_FACT_NAMES, "listed_instructions"),
        related=("site",),
        record=opening_record,
    )
]
SITES = [ExportedTable("sites", Site, born="created_at")]
