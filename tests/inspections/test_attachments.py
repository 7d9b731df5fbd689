"""Photos and papers in a packet: drawn and listed where they are there, and no filing without."""

from __future__ import annotations

import hashlib
import io
import json
import os
from itertools import pairwise
from pathlib import Path
from typing import Any

import pdfplumber
import pypdf
import pytest
from django.core.files.storage import default_storage
from rest_framework.test import APIClient

from doors.services.blobs import SMALL_SIDE
from doors.services.jobs import run_waiting_jobs
from doors.tenancy import acting_for
from inspections.models import Submittal
from inspections.services.submittals import path_of
from tests.cast import Cast
from tests.clients import client_of
from tests.doors.pictures import jpeg, png
from tests.inspections.test_attendance import at, detected, post, read

PAPER = b"%PDF-1.4 signed form"
CAPTION = "The track where it was bent, with the rule held beside it, from the lobby"


def keep(client: APIClient, content: Any, media_type: str) -> str:  # noqa: ANN401 (bytes)
    """Send bytes and return their digest."""
    answer = client.generic("POST", "/v1/blobs", content, content_type=media_type)
    assert answer.status_code in {200, 201}, answer.content
    return str(answer.json()["sha256"])


def assembled(client: APIClient, cast: Cast) -> dict[str, Any]:
    """The packet of the site as it stands."""
    asked = client.post("/v1/submittals", {"site": str(cast.site.id)}, format="json")
    run_waiting_jobs()
    job = client.get(f"/v1/jobs/{asked.json()['id']}").json()
    assert job["state"] == "done", job
    found: dict[str, Any] = client.get(f"/v1/submittals/{job['result']['submittal']}").json()
    return found


def file(client: APIClient, packet: dict[str, Any]) -> Any:  # noqa: ANN401 (an answer)
    """File a packet."""
    return client.post(f"/v1/submittals/{packet['id']}/filings", {}, format="json")


def content(packet: dict[str, Any]) -> bytes:
    """The bytes of its file."""
    with default_storage.open(path_of(packet["file_sha256"])) as stored:
        return bytes(stored.read())


def squeezed(text: str) -> str:
    """Without white space: where a line breaks is not what is tested."""
    return "".join(text.split())


def printed(packet: dict[str, Any]) -> str:
    """All that its file says."""
    pages = pypdf.PdfReader(io.BytesIO(content(packet))).pages
    return squeezed("".join(page.extract_text() for page in pages))


@pytest.fixture
def visited(cast: Cast) -> tuple[APIClient, dict[str, Any], bytes]:
    """A visit with everything that stands beside its readings; one photo is still to come."""
    client = client_of(cast.firm)
    detected(cast)
    late = jpeg(size=(640, 480))
    named = [
        {"sha256": keep(client, jpeg(size=(1600, 1200)), "image/jpeg"), "caption": CAPTION},
        {"sha256": keep(client, png((300, 900)), "image/png")},
        {"sha256": keep(client, PAPER, "application/pdf"), "caption": "Signed form"},
        {"sha256": hashlib.sha256(late).hexdigest(), "caption": "Latch"},
    ]
    log = {
        "told": "Monitoring station",
        "on_test_at": at(0),
        "signals": [{"signal": "Zone 2", "received_at": at(0.5)}],
        "contractor": {
            "name": "Ines Parr",
            "firm": "Quarry Alarm",
            "licence": "77-A",
            "valid_until": "2031-05-01",
            "at": at(1),
        },
    }
    answer = post(
        client,
        cast.opening,
        attachments=named,
        alarm_log=log,
        initiating_device={"reference": "FAP 2/14"},
        remarks="Swept the track.",
        readings=[{"quantity": "set_in_motion_force", "value": "20", "unit": "lbf"}],
    )
    assert answer.status_code == 201, read(answer)
    return client, read(answer), late


def test_a_packet_with_a_missing_photo_is_not_filed(
    cast: Cast, visited: tuple[APIClient, dict[str, Any], bytes]
) -> None:
    """Assembling shows it, with its visit; sent and assembled again, it is filed."""
    client, visit, late = visited
    sha256 = hashlib.sha256(late).hexdigest()
    packet = assembled(client, cast)
    missing = {"opening": "A-1", "visit": visit["id"], "sha256": sha256}
    assert packet["missing_attachments"] == [missing]
    assert "missing attachment: 1" in packet["counts"]["exceptions"]
    assert squeezed("MISSING: not sent when this was assembled") in printed(packet)
    for _ in range(2):  # before the photo is sent, and after: this packet lacks it in any case
        refused = file(client, packet)
        assert (refused.status_code, refused.json()["code"]) == (409, "wrong_state")
        (error,) = refused.json()["errors"]
        assert error["code"] == "missing_attachment"
        assert sha256 in error["detail"]
        assert visit["id"] in error["detail"]
        keep(client, late, "image/jpeg")
    again = assembled(client, cast)
    assert again["missing_attachments"] == []
    assert file(client, again).status_code == 201


def test_a_packet_tells_all_that_stands_beside_the_readings(
    cast: Cast, visited: tuple[APIClient, dict[str, Any], bytes]
) -> None:
    """Attachments with caption and digest, remarks, log, second signer, device, second looks."""
    client, visit, _ = visited
    said = printed(assembled(client, cast))
    for attachment in visit["attachments"]:
        assert attachment["sha256"] in said
        assert squeezed(attachment["caption"]) in said
    for told in (
        "Swept the track.",
        "Second signer Ines Parr, Quarry Alarm, licence 77-A, valid until 2031-05-01, signed",
        "signal: Zone 2",
        "FAP 2/14 moves A-2, Atrium as well",
        "Worth a second look; no verdict is changed by it",
        *(warning["detail"] for warning in visit["warnings"]),
    ):
        assert squeezed(told) in said
    assert {warning["code"] for warning in visit["warnings"]} >= {"left_on_test"}


def test_photos_are_drawn_small_side_by_side(
    cast: Cast, visited: tuple[APIClient, dict[str, Any], bytes]
) -> None:
    """In their own proportions, within the page, none upon another, and as few bytes as show."""
    client, _, _ = visited
    drawn = content(assembled(client, cast))
    if os.environ.get("SHOTS"):
        Path(os.environ["SHOTS"], "photos.pdf").write_bytes(drawn)
    with pdfplumber.open(io.BytesIO(drawn)) as pdf:
        (page,) = [each for each in pdf.pages if each.images]
        images = sorted(page.images, key=lambda image: image["x0"])
    assert [image["srcsize"] for image in images] == [(SMALL_SIDE, 360), (160, SMALL_SIDE)]
    for image in images:
        wide, high = image["srcsize"]
        assert image["width"] / image["height"] == pytest.approx(wide / high, rel=0.01)
        assert 50 <= image["x0"] <= image["x1"] <= page.width - 50
    for one, other in pairwise(images):
        assert one["x1"] < other["x0"]
        assert one["top"] == pytest.approx(other["top"])


def test_what_is_frozen_names_each_attachment(
    cast: Cast, visited: tuple[APIClient, dict[str, Any], bytes]
) -> None:
    """What it froze names the attachments; the document alone tells what is missing."""
    client, visit, _ = visited
    packet = assembled(client, cast)
    with acting_for(cast.firm.id, write=False):
        document = json.loads(Submittal.objects.get(id=packet["id"]).document)
    (opening,) = [each for each in document["openings"] if each["visits"]]
    frozen = opening["visits"][0]
    assert [a["kind"] for a in frozen["attachments"]] == ["photo", "photo", "paper", ""]
    assert frozen["initiating_device"] == {"reference": "FAP 2/14", "moves": ["A-2, Atrium"]}
    assert frozen["warnings"] == [warning["detail"] for warning in visit["warnings"]]
