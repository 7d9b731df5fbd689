"""The form of a visit over HTTP: what the library asks, and what the service knows of the door."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from jsonschema import Draft202012Validator

import rules
from doors.services.devices import fit_battery, fit_device
from doors.tenancy import acting_for
from inspections.selectors.requirements import applicable
from rules.shapes import schema
from rules.vocabulary import Activity
from tests.cast import SINCE, Cast, findings, like_door, today, visit
from tests.clients import client_of


def plan(cast: Cast, activity: str, **query: str) -> dict[str, Any]:
    """As the firm reads it."""
    at = f"/v1/openings/{cast.opening.id}/visit-plan"
    answer = client_of(cast.firm).get(at, {"activity": activity, **query})
    assert answer.status_code == 200, answer.json()
    found: dict[str, Any] = answer.json()
    return found


@pytest.mark.parametrize("activity", list(Activity))
def test_the_form_is_the_librarys_own(cast: Cast, activity: str) -> None:
    """Of each activity, by the shape that the library ships."""
    found = plan(cast, activity)
    with acting_for(cast.firm.id, write=False):
        requirements = applicable(cast.opening, today()).requirements
    assert found["plan"] == rules.visit_plan(requirements, activity=activity)
    assert found["digest"] == requirements.digest
    Draft202012Validator(schema("plan")).validate(found["plan"])


def test_it_tells_what_is_known_of_this_door(cast: Cast) -> None:
    """Its devices and batteries, what moves with it, what stands wrong, what was measured last."""
    with acting_for(cast.owner.id, write=True):
        other = like_door(cast.site, tag="A-2", location="Atrium")
        for opening in (cast.opening, other):
            fit_device(
                opening_id=opening.id, kind="smoke_detector", reference="D7", begins_on=SINCE
            )
        fit_battery(opening_id=cast.opening.id, battery_type="agm", begins_on=SINCE)
    with acting_for(cast.firm.id, write=True):
        ago = datetime.now(UTC) - timedelta(days=3)
        made = visit(cast.opening, findings(("set_in_motion_force", "33.4", "lbf")), at=ago)
    found = plan(cast, "repair_retest")
    assert found["opening"]["tag"] == "A-1"
    assert [each["reference"] for each in found["devices"]] == ["D7"]
    assert [each["battery_type"] for each in found["batteries"]] == ["agm"]
    (moved,) = found["initiating_devices"]
    assert [each["tag"] for each in moved["others"]] == ["A-2"]
    (wrong,) = found["deficiencies"]
    assert (wrong["subject"], wrong["state"]) == ("quantity:set_in_motion_force", "open")
    assert "quantity:set_in_motion_force" in {each["subject"] for each in wrong["retest"]}
    assert [each["what"] for each in wrong["retest_missing"]] == ["repair"]
    assert found["last_readings"] == [
        {
            "quantity": "set_in_motion_force",
            "value": "33.4",
            "unit": "lbf",
            "visit": str(made.id),
            "on": made.performed_on.isoformat(),
        }
    ]


def test_who_has_it_is_not_sent_it_again(cast: Cast) -> None:
    """304 while nothing changed; another form once something did."""
    client, at = client_of(cast.firm), f"/v1/openings/{cast.opening.id}/visit-plan"
    query = {"activity": "operation_test"}
    first = client.get(at, query)
    again = client.get(at, query, HTTP_IF_NONE_MATCH=first["ETag"])
    assert (again.status_code, again.content) == (304, b"")
    with acting_for(cast.owner.id, write=True):
        fit_device(opening_id=cast.opening.id, kind="sign", begins_on=SINCE)
    assert client.get(at, query, HTTP_IF_NONE_MATCH=first["ETag"]).status_code == 200


@pytest.mark.parametrize("query", [{}, {"activity": "yearly"}, {"activity": "", "on": "x"}])
def test_what_it_is_for_must_be_said(cast: Cast, query: dict[str, str]) -> None:
    """In the library's word."""
    answer = client_of(cast.firm).get(f"/v1/openings/{cast.opening.id}/visit-plan", query)
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["parameter"] == "activity"
