"""Sites over HTTP: what they are known by, and found by."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from rest_framework.test import APIClient

from tests.cast import TOWN, ZONE, Cast
from tests.clients import client_of


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    """The owner of the site."""
    return client_of(cast.owner)


def new(**more: Any) -> dict[str, Any]:
    """A second building."""
    return {
        "reference": "S-2",
        "name": "Quay house",
        "address": ["2 Quay"],
        "time_zone": ZONE,
        "jurisdiction": TOWN,
        **more,
    }


def test_a_site_is_found_by_each_number_it_has(cast: Cast, owner: APIClient) -> None:
    """Its reference, the ground's, the occupancy's; each exactly."""
    numbers = {"parcel": "118-42-007", "occupancy_number": "F-0091"}
    made = owner.post("/v1/sites", new(**numbers), format="json")
    assert made.status_code == 201, made.content
    assert {name: made.json()[name] for name in numbers} == numbers
    for name, value in {**numbers, "reference": "S-2"}.items():
        rows = owner.get("/v1/sites", {name: value}).json()["data"]
        assert [row["id"] for row in rows] == [made.json()["id"]]
        assert owner.get("/v1/sites", {name: value + "0"}).json()["data"] == []


def test_changed_since_finds_what_changed(cast: Cast, owner: APIClient) -> None:
    """A building untouched since then is not sent again."""
    since = datetime.now(UTC).isoformat()
    assert owner.get("/v1/sites", {"changed_since": since}).json()["data"] == []
    address, sent = f"/v1/sites/{cast.site.id}", {"parcel": "7", "occupancy_number": ""}
    changed = owner.patch(address, sent, format="json", HTTP_IF_MATCH="*")
    assert (changed.status_code, changed.json()["parcel"]) == (200, "7")
    found = owner.get("/v1/sites", {"changed_since": since}).json()["data"]
    assert [row["id"] for row in found] == [str(cast.site.id)]


@pytest.mark.parametrize("since", ["yesterday", "2026-01-01", "2026-01-01T00:00:00", "NaN"])
def test_since_is_an_instant(owner: APIClient, since: str) -> None:
    """With its offset; named where it is not."""
    answer = owner.get("/v1/sites", {"changed_since": since})
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["parameter"] == "changed_since"
