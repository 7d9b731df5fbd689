"""What recording one visit asks of the database."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from doors.selectors.jurisdictions import place_of
from doors.tenancy import acting_for
from tests.cast import Cast, findings, today, visit

ASKED = {"postgresql": 31, "sqlite": 26}  # an open and a commit, and each context's own, included
FOUND = ("opening_force", "9", "lbf")


@pytest.mark.parametrize(("earlier", "readings"), [(0, 1), (0, 20), (6, 20)])
def test_a_visit_asks_as_much_whatever_is_in_it_or_was_before(
    cast: Cast, earlier: int, readings: int
) -> None:
    """One of the day, by a firm, that moves nothing: as many queries as are written here."""
    with acting_for(cast.firm.id, write=True):
        for days in range(earlier):
            visit(cast.opening, findings(FOUND), at=datetime.now(UTC) - timedelta(days=days + 1))
        visit(cast.opening, findings(*[FOUND] * readings))
    with CaptureQueriesContext(connection) as asked, acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(*[FOUND] * readings), at=datetime.now(UTC))
    said = [query["sql"][:160] for query in asked.captured_queries]
    assert len(said) == ASKED[connection.vendor], said


def test_a_place_without_rules_of_its_own_is_the_same_layer_each_time(cast: Cast) -> None:
    """So what was resolved through it is found again."""
    with acting_for(cast.firm.id, write=False):
        once, again = place_of(cast.site.id, today()), place_of(cast.site.id, today())
    assert once.layers
    assert [*map(id, once.layers)] == [*map(id, again.layers)]
