"""The order in which sequences are run, what is measured while they run, and what may be left."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from rules.loading.table import Table
from rules.measurands import MEASURANDS
from rules.practice.tables import practice_table


@dataclass(frozen=True, slots=True)
class Place:
    """Where a sequence stands in a visit, and why there."""

    rank: int
    because: str


@dataclass(frozen=True, slots=True)
class Order:
    """`places` by the name of a sequence; `during` the sequences in which a quantity is measured,
    in their order; `untested` why a thing may be left, by its name.
    """

    places: dict[str, Place]
    during: dict[str, tuple[str, ...]]
    untested: dict[str, str]

    def place(self, sequence: str) -> Place:
        """Where a sequence stands; one that is not named runs just before what ends the visit."""
        return self.places.get(sequence, Place(_UNNAMED, "no usual place is known for it"))


_UNNAMED, _LAST = 1000, 2000


@cache
def order() -> Order:
    """The packaged order. Raises DataError where its file is wrong."""
    return practice_table("order", _read)


def _read(root: Table) -> Order:
    places: dict[str, Place] = {}
    during: dict[str, tuple[str, ...]] = {}
    for rank, row in enumerate(root.tables("sequence")):
        name = row.slug("sequence")
        last = row.flag("last")
        places[name] = Place(_LAST if last else rank, row.text("because", required=True))
        for quantity in row.texts("quantities"):
            if quantity not in MEASURANDS:
                row.refuse("quantities", "unknown_quantity", f"{quantity} cannot be measured")
            during[quantity] = (*during.get(quantity, ()), name)
        row.close()
    return Order(places, during, dict(map(_untested, root.tables("untested"))))


def _untested(row: Table) -> tuple[str, str]:
    found = row.text("name", required=True), row.text("because", required=True)
    row.close()
    return found
