"""Trends of a door's readings: the line, its breaks, and what is expected before the next duty."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from doors.services.devices import fit_battery, fit_device
from doors.services.facts import next_facts
from doors.tenancy import acting_for
from inspections.models import Deficiency
from inspections.selectors import trends
from inspections.selectors.trends import Trend, trend_of, trends_of
from inspections.services.deficiencies import record_repair
from tests.cast import Cast, assemble, conforming, findings, visit
from tests.clients import client_of

pytestmark = pytest.mark.django_db
FORCE = "set_in_motion_force"
QUARTER = timedelta(days=91)


@pytest.fixture
def cast() -> Cast:
    """Everybody."""
    return assemble()


def ago(quarters: float) -> datetime:
    """So many quarters of a year before now."""
    return datetime.now(UTC).replace(microsecond=0) - QUARTER * quarters - timedelta(hours=2)


def read(
    cast: Cast, values: Iterable[str], *, unit: str = "lbf", serial: str = "", last: float = 0
) -> None:
    """A reading a quarter, the last one so many quarters ago."""
    values = list(values)
    gauge = {"ref": "g", "kind": "force gauge"} | ({"serial": serial} if serial else {})
    for n, value in enumerate(values):
        sent = findings(instruments=[gauge])
        sent["readings"] = [{"quantity": FORCE, "value": value, "unit": unit, "instrument": "g"}]
        visit(cast.opening, sent, at=ago(last + len(values) - 1 - n), activity="operation_test")


def inspected(cast: Cast, value: str) -> None:
    """A whole inspection just now, so that the next one is due in a year."""
    activity = "periodic_inspection"
    visit(cast.opening, conforming(cast.opening, activity, **{FORCE: value}), activity=activity)


def found(cast: Cast, quantity: str = FORCE) -> Trend:
    """The trend as the firm sees it."""
    with acting_for(cast.firm.id, write=False):
        return trend_of(cast.opening, quantity)


def test_a_force_that_rises_crosses_its_limit(cast: Cast) -> None:
    """One pound-force a quarter, from 22 to 29 with at most 30: past it within the next two, so
    before what is due in a year.
    """
    with acting_for(cast.firm.id, write=True):
        read(cast, ["22", "23", "24", "25", "26", "27", "28"], last=1)
        inspected(cast, "29")
    trend = found(cast)
    assert trend.unit.symbol == "lbf"
    assert trend.measured is not None
    assert float(trend.measured["trend"]["slope"]) == pytest.approx(4 * 365.2425 / 364, rel=0.01)
    (high,) = [b for b in trend.bounds if b.side == "high"]
    assert (high.text, high.advisory) == ("30", False)
    assert trend.expectation.fails is True
    assert trend.expectation.crosses_on is not None
    expected = (datetime.now(UTC) + QUARTER).date()
    assert abs(trend.expectation.crosses_on - expected) <= timedelta(days=3)
    assert "Expected to pass the limit (at most 30 lbf)" in trend.expectation.words


def test_what_stands_still_is_not_expected_to_fail(cast: Cast) -> None:
    """And what was measured too seldom is unknown."""
    with acting_for(cast.firm.id, write=True):
        read(cast, ["22", "22"])
    assert found(cast).expectation.fails is None
    assert "too few" in found(cast).expectation.words
    with acting_for(cast.firm.id, write=True):
        read(cast, ["22", "22.5", "21.5", "22", "22.5", "22"], last=2)
        inspected(cast, "22")
    assert found(cast).expectation.fails is False


def test_scatter_is_no_forecast(cast: Cast) -> None:
    """A line that would cross is not believed where the readings do not show a trend."""
    with acting_for(cast.firm.id, write=True):
        read(cast, ["15", "28", "14", "22"], last=1)
        inspected(cast, "29")
    assert found(cast).expectation.fails is None


def test_another_unit_is_shown_in_the_published_one(cast: Cast) -> None:
    """100 N are 22.48 lbf; what was sent stays readable."""
    with acting_for(cast.firm.id, write=True):
        read(cast, ["100", "100", "100"], unit="N")
    point = found(cast).points[0]
    assert (point.sent, point.sent_unit) == ("100", "N")
    assert float(point.value) == pytest.approx(100 / 4.4482216152605, abs=1e-8)


def test_a_corrected_visit_is_out_of_the_series(cast: Cast) -> None:
    """The trend follows the visit that stands."""
    with acting_for(cast.firm.id, write=True):
        read(cast, ["20", "20", "20"], last=1)
        wrong = visit(cast.opening, findings((FORCE, "290", "lbf")), at=ago(0.2))
        right = findings((FORCE, "29", "lbf"))
        visit(cast.opening, right, at=ago(0.2), supersedes=wrong.id, reason="a digit too many")
    assert [p.value for p in found(cast).points] == ["20", "20", "20", "29"]


def test_another_instrument_breaks_the_series(cast: Cast) -> None:
    """Only what follows is fitted; one of unknown number breaks nothing."""
    with acting_for(cast.firm.id, write=True):
        read(cast, ["28", "28"], serial="G-1", last=6)
        read(cast, ["28"], last=5)
        read(cast, ["20", "20", "20", "20"], serial="G-2", last=1)
    trend = found(cast)
    assert [(b.why, b.words) for b in trend.breaks] == [
        ("instrument", "measured with G-2, before with G-1")
    ]
    assert (trend.fitted, len(trend.points)) == (4, 7)


def test_what_changes_the_door_breaks_the_series(cast: Cast) -> None:
    """Another operator, another weight of the leaf and a repair do; more people in the building,
    a fact told for the first time and a new battery do not.
    """
    with acting_for(cast.firm.id, write=True):
        read(cast, ["20", "20", "31"], last=4)
        deficiency = Deficiency.objects.get(subject=f"quantity:{FORCE}")
        record_repair(
            deficiency_id=deficiency.id, done_at=ago(3.5), done_by="Ivo Lund", words="cleaned"
        )
        read(cast, ["20"], last=3)
    with acting_for(cast.owner.id, write=True):
        known = {"leaf_weight": {"value": "80", "unit": "kg"}, "occupant_load": 300}
        next_facts(cast.opening, known, None, ago(2.8).date())
        next_facts(
            cast.opening, {"leaf_weight": {"value": "90", "unit": "kg"}}, None, ago(2.5).date()
        )
        fit_battery(opening_id=cast.opening.id, begins_on=ago(2.2).date(), battery_type="agm")
        fit_device(opening_id=cast.opening.id, begins_on=ago(2.1).date(), kind="operator")
    assert [b.why for b in found(cast).breaks] == ["repair", "facts", "device"]
    trend = found(cast)
    assert (trend.fitted, trend.measured, trend.expectation.fails) == (0, None, None)
    assert "since the last change" in trend.expectation.words


def test_a_battery_breaks_what_is_measured_of_it(cast: Cast) -> None:
    """Its float voltage starts anew, whatever else was changed at the leaf."""
    with acting_for(cast.firm.id, write=True):
        for n in (3, 2, 1):
            sent = findings(("battery_float_voltage", "27.6", "V"))
            visit(cast.opening, sent, at=ago(n), activity="operation_test")
    with acting_for(cast.owner.id, write=True):
        fit_device(opening_id=cast.opening.id, begins_on=ago(2.5).date(), kind="operator")
        fit_battery(opening_id=cast.opening.id, begins_on=ago(1.5).date(), battery_type="agm")
    trend = found(cast, "battery_float_voltage")
    assert [b.why for b in trend.breaks] == ["battery"]
    assert trend.fitted == 1


def test_a_limit_that_is_passed_is_said_to_be(cast: Cast) -> None:
    """It is not a thing of the future."""
    with acting_for(cast.firm.id, write=True):
        read(cast, ["25", "27", "29"], last=1)
        inspected(cast, "31")
    trend = found(cast)
    assert (trend.expectation.fails, trend.expectation.passed) == (True, True)


def test_only_the_latest_readings_are_looked_at(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A bounded number, and it is said that there are more."""
    monkeypatch.setattr(trends, "READINGS", 3)
    with acting_for(cast.firm.id, write=True):
        read(cast, ["20", "21", "22", "23", "24"])
    trend = found(cast)
    assert [p.value for p in trend.points] == ["22", "23", "24"]
    assert trend.more


def test_queries_do_not_grow(cast: Cast) -> None:
    """With readings, quantities or changes of the door."""
    with acting_for(cast.firm.id, write=True):
        read(cast, ["20", "21"])
    costs = [_cost(cast)]
    with acting_for(cast.firm.id, write=True):
        read(cast, ["20", "21", "22", "23"], last=3)
        more = [(q, "1", "lbf") for q in ("opening_force", "closing_force", "stop_force")]
        visit(cast.opening, findings(*more), at=ago(0.1))
    with acting_for(cast.owner.id, write=True):
        for n in (2, 1):
            fit_device(opening_id=cast.opening.id, begins_on=ago(n).date(), kind="closer")
    costs.append(_cost(cast))
    assert costs[0] == costs[1], costs


def _cost(cast: Cast) -> int:
    with acting_for(cast.firm.id, write=False), CaptureQueriesContext(connection) as queries:
        assert trends_of(cast.opening)
    return len(queries)


def test_a_stranger_learns_nothing(cast: Cast) -> None:
    """Nor anybody of a quantity that was never measured there."""
    with acting_for(cast.firm.id, write=True):
        read(cast, ["20", "21", "22"])
    at = f"/v1/openings/{cast.opening.id}/trends"
    firm, stranger = client_of(cast.firm), client_of(cast.stranger)
    for address in (at, f"{at}/{FORCE}", f"{at}/{FORCE}/plot"):
        assert firm.get(address).status_code == 200
        assert stranger.get(address).status_code == 404
    for quantity in ("closing_speed", "no_such_thing"):
        assert firm.get(f"{at}/{quantity}").status_code == 404


def test_the_picture_can_do_nothing(cast: Cast) -> None:
    """An SVG with a title and a description, without scripts, under headers that forbid all."""
    with acting_for(cast.firm.id, write=True):
        read(cast, ["20", "21", "22"], serial="G-1", last=3)
        read(cast, ["20", "21", "22"], serial="<script>alert(1)</script>")
    answer = client_of(cast.firm).get(f"/v1/openings/{cast.opening.id}/trends/{FORCE}/plot")
    assert answer.headers["Content-Type"] == "image/svg+xml; charset=utf-8"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Security-Policy"].startswith("default-src 'none'; sandbox")
    drawn = answer.content.decode()
    assert "<title>" in drawn
    assert "<desc>" in drawn
    assert "<script" not in drawn
    assert "measured with &lt;script" in drawn


def answer_of(client: APIClient, address: str) -> dict[str, Any]:
    """A body that was answered well."""
    answer = client.get(address)
    assert answer.status_code == 200, answer.content
    body: dict[str, Any] = answer.json()
    return body


def test_both_addresses_say_the_same(cast: Cast) -> None:
    """The list leaves the readings out, and nothing else."""
    with acting_for(cast.firm.id, write=True):
        read(cast, ["20", "21", "22"])
    at = f"/v1/openings/{cast.opening.id}/trends"
    firm = client_of(cast.firm)
    one = answer_of(firm, f"{at}/{FORCE}")
    points = one.pop("points")
    assert answer_of(firm, at)["trends"] == [one]
    assert [p["value"] for p in points] == ["20", "21", "22"]
    assert all(p["fitted"] for p in points)
