"""What to heed before, while and after a door is operated: general words, chosen by what it is."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cache

from rules.loading.predicates import read_predicate
from rules.loading.table import Table
from rules.practice.tables import practice_table
from rules.predicates import Facts, Predicate
from rules.vocabulary import Activity

MOMENTS = ("before", "while", "after")


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: `applies` asks the facts of the opening, `doing` names sequences or quantities
    of which at least one is planned, `activities` the kinds of visit; what is empty asks nothing.
    """

    caution: str
    moment: str
    applies_when: str
    words: str
    applies: Predicate
    doing: frozenset[str]
    activities: frozenset[Activity]

    def holds(self, facts: Facts, activity: Activity, doing: Collection[str]) -> bool:
        """Whether it is shown; a fact that is not known never hides one."""
        if self.activities and activity not in self.activities:
            return False
        if self.doing and self.doing.isdisjoint(doing):
            return False
        return self.applies.ask(facts).holds is not False


@cache
def cautions() -> tuple[Caution, ...]:
    """The packaged cautions, in the order of their moments. Raises DataError where wrong."""
    found = practice_table("cautions", lambda root: [*map(_read, root.tables("caution"))])
    return tuple(sorted(found, key=lambda caution: MOMENTS.index(caution.moment)))


def _read(row: Table) -> Caution:
    moment = row.text("moment", required=True)
    if moment not in MOMENTS:
        row.refuse("moment", "unknown_word", "one of " + ", ".join(MOMENTS))
        moment = MOMENTS[0]
    found = Caution(
        row.slug("caution"),
        moment,
        row.text("applies_when", required=True),
        row.text("words", required=True),
        read_predicate(row.table("applies")),
        frozenset(row.texts("doing")),
        row.words("activities", Activity),
    )
    row.close()
    return found
