"""Devices and batteries: from the day they were put in to the day they were taken out."""

from __future__ import annotations

from datetime import timedelta

import pytest
from rest_framework.test import APIClient

from doors.models import Opening
from doors.selectors.openings import facts_on
from doors.tenancy import acting_for
from tests.cast import Cast
from tests.clients import client_of
from tests.doors.test_openings import today


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    """The owner of the site."""
    return client_of(cast.owner)


def test_a_device_ends_where_another_replaces_it(cast: Cast, owner: APIClient) -> None:
    """Both stay on record, each with its days."""
    address = f"/v1/openings/{cast.opening.id}/devices"
    first = owner.post(
        address,
        {"kind": "smoke_detector", "begins_on": "2021-01-01", "zone": "07", "words": "lobby side"},
        format="json",
    ).json()
    sent = {"kind": "smoke_detector", "begins_on": "2024-02-02", "replaces": first["id"]}
    assert owner.post(address, sent, format="json").status_code == 201
    rows = owner.get(address).json()["data"]
    assert [(r["begins_on"], r["ends_on"]) for r in rows] == [
        ("2024-02-02", None),
        ("2021-01-01", "2024-02-02"),
    ]
    assert rows[1]["zone"] == "07"
    again = owner.post(address, sent, format="json")
    assert (again.status_code, again.json()["errors"][0]["pointer"]) == (422, "/replaces")


def test_a_battery_is_known_to_the_rules_from_its_day(cast: Cast, owner: APIClient) -> None:
    """One truth: its kind and voltage are facts of the opening from the day it was put in."""
    address = f"/v1/openings/{cast.opening.id}/batteries"
    day = today() - timedelta(days=10)
    sent = {
        "battery_type": "agm",
        "nominal_voltage": {"value": "24.0", "unit": "V"},
        "quantity": 2,
        "begins_on": day.isoformat(),
        "replace_by": (day + timedelta(days=1400)).isoformat(),
    }
    made = owner.post(address, sent, format="json")
    assert made.status_code == 201, made.content
    assert {name: made.json()[name] for name in sent} == sent
    with acting_for(cast.owner.id, write=False):
        opening = Opening.objects.select_related("site").get(id=cast.opening.id)
        assert "battery_type" not in facts_on(opening, day - timedelta(days=1)).facts
        facts = facts_on(opening, day).facts
    assert facts["battery_type"] == "agm"
    assert facts["battery_nominal_voltage"] == {"value": "24.0", "unit": "V"}


def test_what_was_put_in_is_taken_out_later_and_once(cast: Cast, owner: APIClient) -> None:
    """Not before it was put in, not tomorrow, not twice."""
    address = f"/v1/openings/{cast.opening.id}/batteries"
    sent = {"battery_type": "gel", "begins_on": "2023-01-01"}
    made = owner.post(address, sent, format="json").json()
    end = f"{address}/{made['id']}/end"
    assert owner.post(end, {"ends_on": "2022-12-31"}, format="json").status_code == 422
    tomorrow = (today() + timedelta(days=1)).isoformat()
    assert owner.post(end, {"ends_on": tomorrow}, format="json").status_code == 422
    assert owner.post(end, {"ends_on": "2024-01-01"}, format="json").status_code == 200
    assert owner.post(end, {"ends_on": "2024-01-01"}, format="json").status_code == 409


@pytest.mark.parametrize(
    ("sent", "pointer"),
    [
        ({"battery_type": "none"}, "/battery_type"),
        ({"battery_type": "agm", "quantity": 0}, "/quantity"),
        (
            {"battery_type": "agm", "nominal_voltage": {"value": "24", "unit": "N"}},
            "/nominal_voltage/unit",
        ),
        ({"battery_type": "agm", "replace_by": "2020-01-01"}, "/replace_by"),
        ({"battery_type": "agm", "begins_on": "2199-01-01"}, "/begins_on"),
    ],
)
def test_a_wrong_battery_is_refused_whole(
    cast: Cast, owner: APIClient, sent: dict[str, object], pointer: str
) -> None:
    """Nothing of it is kept, not even a fact."""
    address = f"/v1/openings/{cast.opening.id}/batteries"
    answer = owner.post(address, {"begins_on": "2023-01-01", **sent}, format="json")
    assert answer.status_code in {400, 422}, answer.content
    assert answer.json()["errors"][0]["pointer"] == pointer
    assert owner.get(address).json()["data"] == []
    assert len(owner.get(f"/v1/openings/{cast.opening.id}/facts").json()["data"]) == 1
