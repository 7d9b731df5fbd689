"""What comes with a visit: the alarm log, what was tripped, photos and papers, and second looks."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from rest_framework.response import Response
from rest_framework.test import APIClient

from doors.models import Opening
from doors.services.devices import fit_device
from doors.tenancy import acting_for
from tests.cast import SINCE, Cast, like_door
from tests.clients import client_of
from tests.doors.pictures import png

NOW = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=8)


def at(hours: float) -> str:
    """So many hours after the visit began."""
    return (NOW + timedelta(hours=hours)).isoformat()


def post(client: APIClient, opening: Opening, **more: Any) -> Response:
    """Send a visit with something beside its readings."""
    sent = {
        "opening": str(opening.id),
        "client_ref": str(uuid4()),
        "activity": "periodic_inspection",
        "performed_at": at(0),
        "attestation": {"name": "Noor Vale", "at": at(1)},
        "people": [{"name": "Noor Vale", "role": "inspector"}],
        **more,
    }
    answer: Response = client.post("/v1/visits", sent, HTTP_IDEMPOTENCY_KEY=uuid4().hex)
    return answer


def read(answer: Response) -> dict[str, Any]:
    """The body of an answer."""
    body: dict[str, Any] = json.loads(answer.content)
    return body


def codes(answer: Response) -> set[str]:
    """Which second looks it asks for."""
    assert answer.status_code == 201, read(answer)
    return {each["code"] for each in read(answer)["warnings"]} - {"qualification_not_stated"}


def test_an_alarm_log_is_kept_as_sent(cast: Cast) -> None:
    """With the second signer, the signals and who was told, to the letter."""
    log = {
        "told": "Monitoring station",
        "reference": "T-1",
        "on_test_at": at(0),
        "off_test_at": at(1),
        "panel_before": "normal",
        "panel_after": "normal",
        "occupants_told": "announced",
        "signals": [{"signal": "Zone 2", "received_at": at(0.5)}],
        "contractor": {"name": "Ines Parr", "firm": "Bell", "licence": "7", "at": at(1)},
    }
    client = client_of(cast.firm)
    answer = post(client, cast.opening, alarm_log=log)
    assert codes(answer) == set()
    kept = client.get(f"/v1/visits/{read(answer)['id']}").json()
    assert kept["findings"]["alarm_log"] == log


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"off_test_at": at(-1)}, "/alarm_log/off_test_at"),
        ({"off_test_at": at(99)}, "/alarm_log/off_test_at"),
        ({"contractor": {"name": "I", "firm": "B", "at": at(99)}}, "/alarm_log/contractor/at"),
        ({"signals": [{"signal": "x", "received_at": at(99)}]}, "/alarm_log/signals/0/received_at"),
        ({"contractor": {"firm": "B", "at": at(1)}}, "/alarm_log/contractor/name"),
    ],
)
def test_a_log_that_cannot_be_is_refused(cast: Cast, changed: dict[str, Any], pointer: str) -> None:
    """Off before on, or what has not happened yet, or a signer without a name."""
    log = {"told": "Station", "on_test_at": at(0)} | changed
    answer = post(client_of(cast.firm), cast.opening, alarm_log=log)
    assert answer.status_code in {400, 422}
    assert [e["pointer"] for e in read(answer)["errors"]] == [pointer]


def test_a_system_left_on_test_is_told(cast: Cast) -> None:
    """It is a reason to look again, not a verdict."""
    log = {"told": "Station", "on_test_at": at(0)}
    assert "left_on_test" in codes(post(client_of(cast.firm), cast.opening, alarm_log=log))


def test_a_lapsed_qualification_is_shown_as_such(cast: Cast) -> None:
    """By the day of the visit: good until that very day is good."""
    client = client_of(cast.firm)
    for until, lapsed in (("2020-01-01", True), ((NOW + timedelta(days=1)).date(), False)):
        person = {"name": "Noor Vale", "role": "inspector", "qualification": "Licence"}
        answer = post(client, cast.opening, people=[person | {"valid_until": str(until)}])
        assert ("qualification_lapsed" in codes(answer)) is lapsed
        if lapsed:
            (told,) = [w for w in read(answer)["warnings"] if w["code"] == "qualification_lapsed"]
            assert told["pointer"] == "/people/0/valid_until"
            assert "2020-01-01" in told["detail"]


def test_a_lapsed_qualification_names_what_asks_for_one(cast: Cast) -> None:
    """Where the place asks for one in this activity, with its source."""
    lapsed = {"name": "Noor Vale", "role": "inspector", "valid_until": "2020-01-01"}
    person = lapsed | {"qualification": "Licence"}
    answer = post(client_of(cast.firm), cast.opening, people=[person])
    (told,) = [w for w in read(answer)["warnings"] if w["code"] == "qualification_lapsed"]
    assert told["detail"].startswith("Noor Vale: Licence was valid until 2020-01-01")
    assert "asked for by NFPA 80" in told["detail"]


@pytest.mark.parametrize(("hours", "told"), [(4, False), (4.1, True), (7, True)])
def test_a_system_too_long_on_test_is_told(cast: Cast, hours: float, *, told: bool) -> None:
    """Longer than the place lets it be without more, with what is to be done and its source."""
    log = {"told": "Station", "on_test_at": at(0), "off_test_at": at(hours)}
    answer = post(client_of(cast.firm), cast.opening, alarm_log=log)
    assert ("on_test_too_long" in codes(answer)) is told
    if told:
        found = [w for w in read(answer)["warnings"] if w["code"] == "on_test_too_long"]
        assert {each["pointer"] for each in found} == {"/alarm_log/on_test_at"}
        assert all(f"On test for {hours:.1f} h: " in each["detail"] for each in found)
        assert any("fire watch" in each["detail"] for each in found)


def test_an_instrument_under_a_name_of_another_is_told(cast: Cast) -> None:
    """The same name with another serial number; the first time and the same again are not."""
    client = client_of(cast.firm)
    for minute, serial, told in ((1, "S1", False), (2, "S1", False), (3, "S2", True)):
        gauge = {"ref": "gauge", "kind": "force gauge", "serial": serial}
        answer = post(client, cast.opening, instruments=[gauge], performed_at=at(minute / 60))
        assert ("instrument_changed" in codes(answer)) is told


def test_the_same_visit_under_another_reference_is_told(cast: Cast) -> None:
    """Both stand, and somebody looks: the same minute, person, door and much the same found."""
    client = client_of(cast.firm)
    reading = {"quantity": "closing_speed", "value": "12", "unit": "in/s"}
    other = {"quantity": "closing_speed", "value": "13", "unit": "in/s"}
    first = post(client, cast.opening, readings=[reading])
    assert codes(first) == set()
    again = post(client, cast.opening, readings=[reading])
    assert codes(again) == {"possible_duplicate"}
    assert read(first)["id"] in str(read(again)["warnings"])
    assert codes(post(client, cast.opening, readings=[other])) == set()
    assert codes(post(client, cast.opening, readings=[reading], performed_at=at(0.5))) == set()


def test_a_correction_is_no_duplicate(cast: Cast) -> None:
    """It says itself what it takes the place of."""
    client = client_of(cast.firm)
    first = read(post(client, cast.opening))["id"]
    assert codes(post(client, cast.opening, supersedes=first, reason="typing")) == set()


# --- photos and papers -----------------------------------------------------------------------


def test_a_photo_may_come_before_the_visit_or_after(cast: Cast) -> None:
    """A missing one shows as missing and refuses nothing; once sent it is there for the owner."""
    client, owner = client_of(cast.firm), client_of(cast.owner)
    content: Any = png((8, 8))
    sha256 = hashlib.sha256(content).hexdigest()
    made = post(client, cast.opening, attachments=[{"sha256": sha256, "caption": "track"}])
    address = f"/v1/visits/{read(made)['id']}"
    told = {"sha256": sha256, "caption": "track", "missing": True}
    assert read(made)["attachments"] == [told]
    assert owner.get(f"{address}/attachments/{sha256}").status_code == 404
    assert client.generic("POST", "/v1/blobs", content, content_type="image/png").status_code == 201
    assert owner.get(address).json()["attachments"] == [told | {"missing": False}]
    shown = owner.get(f"{address}/attachments/{sha256}")
    assert (shown.status_code, shown["Content-Type"]) == (200, "image/png")


def test_what_a_visit_does_not_name_is_not_read_through_it(cast: Cast) -> None:
    """Though its author has sent it."""
    client = client_of(cast.firm)
    content: Any = png((8, 8))
    kept = client.generic("POST", "/v1/blobs", content, content_type="image/png").json()["sha256"]
    made = read(post(client, cast.opening))["id"]
    assert client.get(f"/v1/visits/{made}/attachments/{kept}").status_code == 404


# --- what set the door in motion -------------------------------------------------------------


def detected(cast: Cast) -> tuple[Opening, str]:
    """A second door of the site, on the same detector as the first; the first's own device."""
    with acting_for(cast.owner.id, write=True):
        second = like_door(cast.site, tag="A-2", location="Atrium")
        shared: dict[str, Any] = {
            "kind": "smoke_detector",
            "reference": "FAP 2/14",
            "begins_on": SINCE,
        }
        first = fit_device(opening_id=cast.opening.id, **shared)
        fit_device(opening_id=second.id, **shared)
        fit_device(opening_id=second.id, kind="sign", reference="S", begins_on=SINCE)
    return second, str(first.id)


@pytest.mark.parametrize("by", ["device", "reference"])
def test_a_visit_says_which_other_doors_hang_on_what_was_tripped(cast: Cast, by: str) -> None:
    """Named by its id or by the alarm side's mark."""
    second, device = detected(cast)
    named = {by: device if by == "device" else "FAP 2/14"}
    answer = post(client_of(cast.firm), cast.opening, initiating_device=named)
    assert read(answer)["initiating_device"] == {
        "reference": "FAP 2/14",
        "others": [{"opening": str(second.id), "tag": "A-2", "location": "Atrium"}],
    }


def test_the_device_of_another_door_is_refused(cast: Cast) -> None:
    """Each door has its own row of the device."""
    second, device = detected(cast)
    answer = post(client_of(cast.firm), second, initiating_device={"device": device})
    assert answer.status_code == 422
    assert [e["pointer"] for e in read(answer)["errors"]] == ["/initiating_device/device"]


def test_a_site_lists_its_devices_with_the_doors_each_moves(cast: Cast) -> None:
    """Each reference once, and only what sets doors in motion."""
    second, _ = detected(cast)
    rows = client_of(cast.firm).get(f"/v1/sites/{cast.site.id}/initiating-devices").json()["data"]
    assert [(row["reference"], row["kind"]) for row in rows] == [("FAP 2/14", "smoke_detector")]
    assert [each["tag"] for each in rows[0]["moves"]] == ["A-1", "A-2"]
    assert rows[0]["moves"][1]["opening"] == str(second.id)
