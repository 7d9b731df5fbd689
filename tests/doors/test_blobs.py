"""Bytes by their digest: kept once, shown without what the camera wrote, hostile ones refused."""

from __future__ import annotations

import hashlib
from base64 import b64encode
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, transaction
from django.test import override_settings
from PIL import Image
from rest_framework.test import APIClient

from doors.models import Blob, LedgerEntry, Photo
from doors.services.blobs import MOST_BYTES
from doors.services.jobs import run_waiting_jobs
from doors.services.pictures import NoPictureError, draw_anew
from doors.tenancy import acting_for
from inspections.services.submittals import ask_for_submittal
from tests.cast import Cast
from tests.clients import client_of
from tests.doors.callers import Answer
from tests.doors.pictures import HOSTILE, PLACE, jpeg, png


@pytest.fixture
def firm(cast: Cast) -> APIClient:
    """Whoever takes the pictures."""
    return client_of(cast.firm)


@pytest.fixture(autouse=True)
def _files(tmp_path: Path) -> Iterator[None]:
    """Nothing is left behind."""
    place = {**settings.STORAGES["default"], "OPTIONS": {"location": tmp_path}}
    with override_settings(STORAGES={**settings.STORAGES, "default": place}):
        yield


def send(client: APIClient, content: bytes, media_type: str = "image/jpeg", **more: Any) -> Answer:
    """Send bytes as they are."""
    sent: Any = content  # bytes are taken as they are, whatever the stubs say
    return client.generic("POST", "/v1/blobs", sent, content_type=media_type, **more)


def test_a_picture_is_kept_once_under_its_digest(cast: Cast, firm: APIClient) -> None:
    """201, then 200 with the same; the sender alone gets the very bytes back."""
    content = jpeg(with_place=True)
    digest = hashlib.sha256(content).hexdigest()
    first, second = send(firm, content), send(firm, content)
    assert (first.status_code, second.status_code) == (201, 200), first.content
    assert first.json() == second.json()
    assert (first.json()["sha256"], first.json()["size"]) == (digest, len(content))
    assert (first.json()["width"], first.json()["height"]) == (48, 64)
    assert firm.get(f"/v1/blobs/{digest}/original").content == content
    with acting_for(cast.firm.id, write=False):
        assert Blob.objects.count() == 1


def test_what_is_shown_holds_the_pixels_alone(firm: APIClient) -> None:
    """Upright, and without the place, the comment or any other tag."""
    content = jpeg(with_place=True)
    assert PLACE in content
    shown = firm.get(f"/v1/blobs/{send(firm, content).json()['sha256']}/file")
    assert PLACE not in shown.content
    with Image.open(BytesIO(shown.content)) as picture:
        assert picture.size == (48, 64)
        assert not dict(picture.getexif())
        assert not {"comment", "exif", "icc_profile"} & set(picture.info)
    assert shown["Content-Type"] == "image/jpeg"
    assert shown["Content-Disposition"].startswith("attachment;")
    expected = b64encode(hashlib.sha256(shown.content).digest()).decode()
    assert shown["Content-Digest"] == f"sha-256=:{expected}:"


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_refused(cast: Cast, firm: APIClient, name: str) -> None:
    """A plain 4xx, and nothing of it is kept."""
    media_type, content = HOSTILE[name]
    answer = send(firm, content, media_type)
    assert 400 <= answer.status_code < 500, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    with acting_for(cast.firm.id, write=False):
        assert not Blob.objects.exists()


def test_after_the_hostile_ones_an_honest_one_is_kept(firm: APIClient) -> None:
    """No restart was needed."""
    for media_type, content in HOSTILE.values():
        send(firm, content, media_type)
    assert send(firm, png(), "image/png").status_code == 201


def test_pixels_are_counted_before_they_are_drawn() -> None:
    """81 million pixels of one colour fit in a small file."""
    _, bomb = HOSTILE["png_bomb"]
    assert len(bomb) < 200_000
    with pytest.raises(NoPictureError, match="more than 40 million pixels"):
        draw_anew(bomb, "PNG")


def test_a_body_over_the_size_is_refused(firm: APIClient) -> None:
    """413; one byte more than 15 MB."""
    assert send(firm, b"%PDF-" + b"0" * (MOST_BYTES - 4), "application/pdf").status_code == 413
    assert send(firm, b"%PDF-" + b"0" * (MOST_BYTES - 5), "application/pdf").status_code == 201


@pytest.mark.parametrize("told", ["right", "wrong", "sha-512=:AAAA:", "sha-256=:!:", "x"])
def test_the_digest_that_is_told_is_checked(firm: APIClient, told: str) -> None:
    """A file that was damaged on its way is not kept."""
    content = png()
    digest = hashlib.sha256(content if told == "right" else b"").digest()
    header = f"sha-256=:{b64encode(digest).decode()}:" if told in {"right", "wrong"} else told
    answer = send(firm, content, "image/png", HTTP_CONTENT_DIGEST=header)
    assert answer.status_code == {"right": 201, "wrong": 422}.get(told, 400)


def test_a_file_may_come_from_a_form(firm: APIClient) -> None:
    """One part named `file`; its name is nobody's business."""
    part = SimpleUploadedFile("../../etc/passwd\r\nX: y.png", png(), content_type="image/png")
    answer = firm.post("/v1/blobs", {"file": part}, format="multipart")
    assert answer.status_code == 201, answer.content
    for wrong in ({}, {"file": "text"}, {"other": SimpleUploadedFile("x", png())}):
        assert firm.post("/v1/blobs", wrong, format="multipart").status_code == 400


def test_anothers_bytes_do_not_exist(cast: Cast, firm: APIClient) -> None:
    """Neither what is known of them, nor the copy, nor the original; nor can they be named."""
    digest = send(firm, jpeg()).json()["sha256"]
    owner = client_of(cast.owner)
    for rest in ("", "/file", "/original"):
        assert firm.get(f"/v1/blobs/{digest}{rest}").status_code == 200
        assert owner.get(f"/v1/blobs/{digest}{rest}").status_code == 404
    photos = f"/v1/openings/{cast.opening.id}/photos"
    answer = owner.post(photos, {"sha256": digest}, format="json")
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "/sha256")


def test_a_photo_is_seen_by_all_who_see_the_door(cast: Cast, firm: APIClient) -> None:
    """Drawn anew; the original stays with who took it; a stranger sees nothing."""
    digest = send(firm, jpeg(with_place=True)).json()["sha256"]
    address = f"/v1/openings/{cast.opening.id}/photos"
    sent = {"sha256": digest, "caption": "Strike, lobby side", "taken_on": "2026-03-01"}
    made = firm.post(address, sent, format="json")
    assert made.status_code == 201, made.content
    assert firm.post(address, sent, format="json").status_code == 409
    owner = client_of(cast.owner)
    assert [row["caption"] for row in owner.get(address).json()["data"]] == [sent["caption"]]
    shown = owner.get(f"{address}/{made.json()['id']}/file")
    assert shown.status_code == 200
    assert PLACE not in shown.content
    for stranger in (client_of(cast.neighbour), client_of(cast.authority)):
        assert stranger.get(address).status_code == 404
        assert stranger.get(f"{address}/{made.json()['id']}/file").status_code == 404


@pytest.mark.parametrize(
    "wrong",
    [
        {"sha256": "A" * 64},
        {"sha256": 5},
        {"sha256": "0" * 64},
        {"caption": "a\nb"},
        {"taken_on": "2190-01-01"},
        {"taken_on": "2026-02-30"},
        {"hue": 1},
    ],
)
def test_a_wrong_photo_is_refused(cast: Cast, firm: APIClient, wrong: dict[str, object]) -> None:
    """With the member that is wrong."""
    digest = send(firm, png(), "image/png").json()["sha256"]
    address = f"/v1/openings/{cast.opening.id}/photos"
    answer = firm.post(address, {"sha256": digest, **wrong}, format="json")
    assert answer.status_code in {400, 422}
    assert answer.json()["errors"][0]["pointer"] == f"/{next(iter(wrong))}"


def test_a_scan_is_no_photo(cast: Cast, firm: APIClient) -> None:
    """A PDF is kept unopened, and hangs on no door as a picture."""
    digest = send(firm, b"%PDF-1.7 anything", "application/pdf").json()["sha256"]
    address = f"/v1/openings/{cast.opening.id}/photos"
    assert firm.post(address, {"sha256": digest}, format="json").status_code == 422
    assert firm.get(f"/v1/blobs/{digest}/file").content == b"%PDF-1.7 anything"


def hang(client: APIClient, cast: Cast, **more: str) -> tuple[str, dict[str, str]]:
    """Hang a picture on the owner's door; where it stands, and what was sent."""
    sent = {"sha256": send(client, png(), "image/png").json()["sha256"], **more}
    address = f"/v1/openings/{cast.opening.id}/photos"
    made = client.post(address, sent, format="json")
    assert made.status_code == 201, made.content
    return f"{address}/{made.json()['id']}", sent


def test_a_withdrawn_photo_stays_listed_and_shows_nothing(cast: Cast, firm: APIClient) -> None:
    """With who, when and why; its pixels are gone from that place; one line in the chain."""
    photo, sent = hang(firm, cast)
    owner, address = client_of(cast.owner), photo.rpartition("/")[0]
    assert owner.get(f"{photo}/file").status_code == 200
    taken = firm.post(f"{photo}/withdrawal", {"reason": "Another door"}, format="json")
    assert (taken.status_code, taken.json()["withdrawn_by"]) == (201, cast.firm.name)
    for client in (owner, firm):
        assert client.get(f"{photo}/file").status_code == 404
        (row,) = client.get(address).json()["data"]
        assert (row["withdrawal_reason"], row["sha256"]) == ("Another door", sent["sha256"])
        assert row["withdrawn_at"] is not None
    assert firm.get(f"/v1/blobs/{sent['sha256']}/original").status_code == 200  # its own bytes
    again = firm.post(f"{photo}/withdrawal", {"reason": "Another door"}, format="json")
    assert (again.status_code, again.json()["type"].rpartition("/")[2]) == (
        409,
        "problems#wrong_state",
    )
    with acting_for(cast.owner.id, write=False):
        assert LedgerEntry.objects.filter(kind="photo_withdrawn").count() == 1


def test_a_withdrawn_picture_may_be_hung_anew(cast: Cast, firm: APIClient) -> None:
    """Any number of times, and only one of them hangs at a time."""
    photo, sent = hang(firm, cast)
    address = photo.rpartition("/")[0]
    for _ in range(2):
        assert firm.post(address, sent, format="json").status_code == 409
        assert firm.post(f"{photo}/withdrawal", {"reason": "x"}, format="json").status_code == 201
        photo = f"{address}/{firm.post(address, sent, format='json').json()['id']}"
        assert firm.get(f"{photo}/file").status_code == 200
    assert [row["withdrawn_at"] is None for row in firm.get(address).json()["data"]] == [
        True,
        False,
        False,
    ]


def test_who_may_withdraw_a_photo(cast: Cast, firm: APIClient) -> None:
    """Who hung it and who manages the site; a firm not what is the owner's, others nothing."""
    owner = client_of(cast.owner)
    photo, _ = hang(owner, cast)
    for client, status in ((firm, 403), (client_of(cast.neighbour), 404)):
        answer = client.post(f"{photo}/withdrawal", {"reason": "x"}, format="json")
        assert answer.status_code == status
    assert owner.post(f"{photo}/withdrawal", {"reason": ""}, format="json").status_code == 400
    firms, _ = hang(firm, cast)
    assert owner.post(f"{firms}/withdrawal", {"reason": "x"}, format="json").status_code == 201


def test_a_withdrawn_photo_never_comes_back(cast: Cast, firm: APIClient) -> None:
    """Neither may what was written of it be rewritten, by the database itself."""
    photo, _ = hang(firm, cast)
    firm.post(f"{photo}/withdrawal", {"reason": "x"}, format="json")
    with acting_for(cast.firm.id, write=True):
        rows = Photo.objects.filter(id=photo.rpartition("/")[2])
        for changed in ({"withdrawn_at": None}, {"withdrawal_reason": "y"}):
            with pytest.raises(DatabaseError), transaction.atomic():
                rows.update(**changed)


def test_what_was_filed_holds_what_it_held(cast: Cast, firm: APIClient) -> None:
    """A packet is frozen: withdrawing a picture of its opening changes no byte of it."""
    photo, _ = hang(firm, cast)
    with acting_for(cast.firm.id, write=True):
        job = ask_for_submittal(site_id=cast.site.id)
    run_waiting_jobs()
    packet = f"/v1/submittals/{firm.get(f'/v1/jobs/{job.id}').json()['result']['submittal']}"
    firm.post(f"{packet}/filings", {}, format="json")
    before = firm.get(f"{packet}/file").getvalue()
    assert firm.post(f"{photo}/withdrawal", {"reason": "x"}, format="json").status_code == 201
    assert firm.get(f"{packet}/file").getvalue() == before
