"""Codes at doors: shown once, kept as a digest, listed without a secret, revoked for good."""

from __future__ import annotations

from base64 import b64decode
from typing import Any
from urllib.parse import urlsplit

import pytest
from defusedxml.ElementTree import fromstring
from django.test import Client

from doors.models import DoorCode
from doors.selectors.door_codes import code_digest, door_of
from doors.tenancy import Purpose, looking_up
from tests.cast import Cast, today
from tests.clients import client_of
from tests.inspections.test_sharing import sell

pytestmark = pytest.mark.django_db
SENT = {"label": "On the strike", "calls": [{"who": "The firm", "telephone": "+1 555 0100"}]}


@pytest.fixture
def made(cast: Cast) -> dict[str, Any]:
    """A code as it is answered, once."""
    answer = client_of(cast.owner).post(_at(cast), SENT)
    assert answer.status_code == 201, answer.content
    body: dict[str, Any] = answer.json()
    return body


def _at(cast: Cast) -> str:
    return f"/v1/openings/{cast.opening.id}/door-codes"


def _secret(made: dict[str, Any]) -> str:
    return urlsplit(made["url"]).path.removeprefix("/d/")


def test_the_secret_is_256_bits_and_kept_as_a_digest(made: dict[str, Any]) -> None:
    """The table opens nothing."""
    assert len(bytes.fromhex(_secret(made))) == 32
    with looking_up(Purpose.DOOR):
        row = DoorCode.objects.get()
    assert row.code_sha256 == code_digest(_secret(made))
    assert _secret(made) not in str(row.__dict__)


def test_it_comes_as_signs_to_print(made: dict[str, Any]) -> None:
    """An SVG with a title, and a PNG."""
    drawn = fromstring(made["qr_svg"])
    assert drawn.tag == "{http://www.w3.org/2000/svg}svg"
    assert drawn.find("{http://www.w3.org/2000/svg}title") is not None
    assert "script" not in made["qr_svg"]
    assert b64decode(made["qr_png"]).startswith(b"\x89PNG\r\n")


def test_lists_show_no_secret(cast: Cast, made: dict[str, Any]) -> None:
    """Neither the address nor its digest."""
    answer = client_of(cast.owner).get(_at(cast))
    (row,) = answer.json()["data"]
    assert set(row) == {"id", "opening", "label", "calls", "created_at", "revoked_at"}
    assert _secret(made) not in answer.content.decode()


def test_a_revoked_one_opens_nothing(cast: Cast, made: dict[str, Any]) -> None:
    """At once, and for ever; revoking it again changes nothing."""
    owner, at = client_of(cast.owner), f"{_at(cast)}/{made['id']}/revocation"
    assert door_of(_secret(made)) is not None
    first, again = owner.post(at), owner.post(at)
    assert (first.status_code, again.json()) == (200, first.json())
    assert door_of(_secret(made)) is None
    assert Client().get(urlsplit(made["url"]).path).status_code == 404


def test_one_of_a_former_owner_opens_nothing(cast: Cast, made: dict[str, Any]) -> None:
    """Whoever kept it would record in the new owner's name; and nobody's telephone is told on."""
    sell(cast, today())
    assert door_of(_secret(made)) is None
    assert Client().get(urlsplit(made["url"]).path).status_code == 404
    buyer = client_of(cast.neighbour)
    assert buyer.get(_at(cast)).json()["data"] == []
    assert buyer.post(f"{_at(cast)}/{made['id']}/revocation").status_code == 404
    own = buyer.post(_at(cast), SENT).json()
    assert door_of(_secret(own)) is not None


@pytest.mark.parametrize("code", ["", "x", "0" * 63, "0" * 64, "A" * 64, "٣" * 64])
def test_what_is_no_code_opens_nothing(code: str, made: dict[str, Any]) -> None:
    """Whatever is wrong with it."""
    assert made["id"]
    assert door_of(code) is None
