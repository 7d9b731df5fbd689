"""What happens at doors, from end to end: each story with the complete state it leaves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from doors.tenancy import acting_for
from tests.cast import conforming

if TYPE_CHECKING:
    from tests.journeys.field import Field

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.redis]


def test_an_operation_test_by_maintenance_leaves_the_years_clock(field: Field) -> None:
    """The short test of the building's own people is accepted and moves no annual duty."""
    opening = field.cast.opening
    before = field.state(opening.id)
    with acting_for(field.cast.owner.id, write=False):
        short = conforming(opening, "operation_test")
    field.visit(opening.id, short, by=field.owner, activity="operation_test")
    after = field.state(opening.id)
    assert after["visits"] == [("operation_test", "conforms", True, False)]
    assert after["duties"] == before["duties"] != {}
    assert after["deficiencies"] == []
    assert after["notices"] == []
    assert after["ledger"][len(before["ledger"]) :] == ["visit_recorded"]
