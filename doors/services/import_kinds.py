"""What can be imported: the columns of each kind, and what becomes of one row."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.conf import settings
from django.utils.module_loading import import_string

from doors.errors import RefusedError, ServiceError
from doors.models import Site
from doors.services.cells import Column
from doors.services.newcomers import Newcomers


@dataclass(frozen=True, slots=True)
class Came:
    """What became of a row, and of which thing."""

    outcome: str
    thing: UUID


TakeBack = Callable[[Collection[UUID], str], Mapping[UUID, ServiceError]]
Foresee = Callable[[Collection[UUID], Collection[str]], object]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of table.

    `apply` takes a row's values and the site it stands at, and does what the row says once, or
    nothing of it: doing it again changes nothing; openings to be recorded it leaves with the
    newcomers, which are kept together at the end of the chunk. `known` answers the references that
    stand at a site already;
    where rows lie `in_site`, each names its site. `reference` is the field that names a thing.
    `take_back` takes back things that rows made, for a reason, and answers why each other stays;
    `taken_back_at_once` is how many in a step: others write between two.
    `foresee` does, of the things that earlier rows of a dry run would have changed by now, what
    the rows at hand depend on, by the tags these say; it is taken back with them.
    """

    columns: tuple[Column, ...]
    apply: Callable[[dict[str, Any], Site | None, Newcomers], Came]
    known: Callable[[UUID | None], set[str]]
    in_site: bool
    reference: str = "reference"
    take_back: TakeBack | None = None
    taken_back_at_once: int = 20
    foresee: Foresee | None = None

    @property
    def by_name(self) -> dict[str, Column]:
        """The columns by the names of their fields."""
        return {column.name: column for column in self.columns}


def kind_of_import(name: str) -> Kind:
    """The kind of that name, one of settings.IMPORTS."""
    found: Kind = import_string(settings.IMPORTS[name])
    return found


def site_named(reference: str) -> Site:
    """The one site in sight with that reference; refused where there is none, or several."""
    found = list(Site.objects.filter(reference=reference)[:2])
    if not found:
        raise RefusedError.at("/site_reference", f"No site of yours is called {reference!r}.")
    if len(found) > 1:
        detail = f"Several sites in your sight are called {reference!r}: name one by `site`."
        raise RefusedError.at("/site_reference", detail)
    return found[0]
