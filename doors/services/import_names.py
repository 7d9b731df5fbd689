"""What the rows of a table call their things, by which two rows that mean one thing are found."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field


def without_zeros(reference: str) -> str:
    """A number as a spreadsheet leaves it, or nothing where it is no number."""
    return (reference.lstrip("0") or "0") if reference.isdigit() else ""


@dataclass
class Names:
    """The names at one site, each with the row that said it first (0 = it stood there before)."""

    first: dict[tuple[str, str], int] = field(default_factory=dict)
    bare: dict[str, tuple[int, str]] = field(default_factory=dict)

    def hear(self, row: int, names: Mapping[str, str], reference: str) -> None:
        """Keep what a row calls its thing by each of its fields, one of which is the reference."""
        for name, value in names.items():
            self.first.setdefault((name, value), row)
        said = names.get(reference, "")
        if number := without_zeros(said):
            self.bare.setdefault(number, (row, said))

    def before(self, row: int, name: str, value: str) -> int | None:
        """The row before this one that said the same."""
        first = self.first.get((name, value), row)
        return first if first < row else None

    def alike(self, row: int, reference: str) -> tuple[int, str] | None:
        """The row before this one, and how it wrote a number that differs by zeros in front."""
        found = self.bare.get(without_zeros(reference))
        return found if found and found[0] < row and found[1] != reference else None


def standing(references: Iterable[str], reference: str) -> Names:
    """The references that stand at a site already."""
    names = Names()
    for each in references:
        names.hear(0, {reference: each}, reference)
    return names


@dataclass
class Said:
    """What the rows of a table so far called their things, site by site; `site` is the reference
    of the one where rows stand that name none.
    """

    site: str
    _at: dict[str, Names] = field(default_factory=dict)

    def at(self, reference: str | None) -> Names:
        """The names at the site of that reference."""
        return self._at.setdefault(reference or self.site, Names())
