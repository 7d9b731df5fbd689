"""Nobody overwrites what they have not seen, and nobody is sent what they have."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import RequestFactory
from rest_framework.request import Request
from rest_framework.test import APIClient

from doors.api.etags import expected_versions
from doors.api.problems import ProblemError
from doors.models import LedgerEntry, Site
from doors.tenancy import acting_for
from tests.cast import Cast
from tests.clients import client_of
from tests.doors.callers import Answer

MERGE_PATCH = "application/merge-patch+json"


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    """Whoever may change the site."""
    return client_of(cast.owner)


def patch(
    client: APIClient, cast: Cast, sent: object, match: str | None = '"v1"', kind: str = MERGE_PATCH
) -> Answer:
    """Send a change of the owner's site."""
    headers = {} if match is None else {"If-Match": match}
    address = f"/v1/sites/{cast.site.id}"
    return client.generic("PATCH", address, json.dumps(sent), content_type=kind, headers=headers)


def code_of(answer: Answer) -> tuple[int, str]:
    """Return the status and the problem's code."""
    return answer.status_code, json.loads(answer.content)["code"]


@pytest.mark.parametrize("kind", [MERGE_PATCH, "application/json"])
def test_a_change_raises_the_version(cast: Cast, owner: APIClient, kind: str) -> None:
    """What is named is set, what is absent stays, the tag says the new version."""
    answer = patch(owner, cast, {"name": "Harrow Mill North"}, kind=kind)
    assert (answer.status_code, answer["ETag"]) == (200, '"v2"')
    changed = answer.json()
    assert (changed["name"], changed["version"]) == ("Harrow Mill North", 2)
    assert changed["address"] == cast.site.address
    again = owner.get(f"/v1/sites/{cast.site.id}")
    assert (again["ETag"], again.json()) == ('"v2"', changed)


def test_a_change_leaves_one_line(cast: Cast, owner: APIClient) -> None:
    """The custodian's chain says that the site changed; a refused change leaves none."""
    patch(owner, cast, {"name": "North"})
    patch(owner, cast, {"name": "South"})
    with acting_for(cast.owner.id, write=False):
        assert LedgerEntry.objects.filter(kind="site_changed").count() == 1


@pytest.mark.parametrize(
    ("match", "status", "code"),
    [
        (None, 428, "precondition_required"),
        ('"v2"', 412, "precondition_failed"),
        ('W/"v1"', 412, "precondition_failed"),
        ('"1"', 412, "precondition_failed"),
        ('"v01"', 412, "precondition_failed"),
        ('"v7", "v9"', 412, "precondition_failed"),
        ("v1", 400, "malformed_request"),
        ('"v1', 400, "malformed_request"),
        ('*, "v1"', 400, "malformed_request"),
        ("", 400, "malformed_request"),
    ],
)
def test_a_change_of_another_version_is_refused(
    cast: Cast, owner: APIClient, match: str | None, status: int, code: str
) -> None:
    """Nothing is stored, and the answer says which version stands where it was another."""
    answer = patch(owner, cast, {"name": "North"}, match)
    assert code_of(answer) == (status, code)
    assert ("version 1" in answer.json()["detail"]) == (status == 412)
    with acting_for(cast.owner.id, write=False):
        assert Site.objects.get(id=cast.site.id).name == cast.site.name


@pytest.mark.parametrize("match", ["*", '"v1"', '"v9", "v1"', 'W/"x" , "v1",', '"v1","v1"'])
def test_any_of_the_versions_named_will_do(cast: Cast, owner: APIClient, match: str) -> None:
    """A star admits whichever stands, a list each of its strong tags."""
    assert patch(owner, cast, {"name": "North"}, match).status_code == 200


def test_a_change_of_nothing_is_no_change(cast: Cast, owner: APIClient) -> None:
    """An empty patch is held against the version, and raises none."""
    assert patch(owner, cast, {})["ETag"] == '"v1"'
    assert patch(owner, cast, {}, '"v2"').status_code == 412


@pytest.mark.parametrize(
    ("sent", "code", "pointer"),
    [
        ({"name": None}, "null", "/name"),
        ({"reference": "S-2"}, "unknown_field", "/reference"),
        ({"version": 7}, "unknown_field", "/version"),
        ({"name": ""}, "blank", "/name"),
        ({"address": []}, "min_length", "/address"),
        ({"address": [None]}, "null", "/address/0"),
    ],
)
def test_what_may_not_be_changed_is_refused(
    cast: Cast, owner: APIClient, sent: object, code: str, pointer: str
) -> None:
    """Unknown members, null where nothing may be missing, and wrong values, each at its place."""
    answer = patch(owner, cast, sent)
    assert code_of(answer) == (400, "invalid_body")
    (error,) = answer.json()["errors"]
    assert (error["pointer"], error["code"]) == (pointer, code)


@pytest.mark.parametrize("sent", [[], "x", None, 1])
def test_a_patch_that_is_no_object_is_refused(cast: Cast, owner: APIClient, sent: object) -> None:
    """By the RFC it would replace the thing whole, which nothing here does."""
    assert code_of(patch(owner, cast, sent)) == (400, "malformed_json")


def test_only_a_change_may_come_as_a_merge_patch(cast: Cast, owner: APIClient) -> None:
    """Elsewhere that kind of body is unknown; other kinds of patch are unknown everywhere."""
    answer = owner.generic("POST", "/v1/sites", "{}", content_type=MERGE_PATCH)
    assert code_of(answer) == (415, "unsupported_media_type")
    answer = patch(owner, cast, [], kind="application/json-patch+json")
    assert code_of(answer) == (415, "unsupported_media_type")


def test_of_what_is_not_visible_nothing_is_said(cast: Cast) -> None:
    """A stranger's change is answered as one of a thing that never was, whatever it matches."""
    stranger = client_of(cast.stranger)

    def told(site: object, match: str) -> dict[str, Any]:
        answer = stranger.patch(
            f"/v1/sites/{site}", {"name": "x"}, format="json", headers={"If-Match": match}
        )
        assert answer.status_code == 404
        return {name: value for name, value in answer.json().items() if name != "instance"}

    for match in ('"v1"', '"v2"', "*"):
        assert told(cast.site.id, match) == told(uuid4(), match)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_two_who_saw_the_same_one_is_refused(cast: Cast) -> None:
    """Ten at once with the same tag: one change, nine told so, version 2."""
    clients = [client_of(cast.owner) for _ in range(10)]
    ready = Barrier(len(clients))

    def change(at: int) -> int:
        try:
            ready.wait(10)
            return int(patch(clients[at], cast, {"name": f"North {at}"}).status_code)
        finally:
            connection.close()

    with ThreadPoolExecutor(len(clients)) as pool:
        found = sorted(pool.map(change, range(len(clients))))
    assert found == [200] + [412] * 9
    with acting_for(cast.owner.id, write=False):
        assert Site.objects.get(id=cast.site.id).version == 2


@pytest.mark.parametrize("address", ["/v1/sites", "/v1/sites/{site}", "/v1/openings"])
def test_what_is_known_is_not_sent_again(cast: Cast, owner: APIClient, address: str) -> None:
    """304 without a body but with its tag, for one of several, weakly compared, and for a star."""
    address = address.format(site=cast.site.id)
    tag = owner.get(address)["ETag"]
    for known in (tag, f'"other", {tag}', f"W/{tag}", "*"):
        answer = owner.get(address, headers={"If-None-Match": known})
        assert (answer.status_code, answer.content, answer["ETag"]) == (304, b"", tag)
        assert answer["Cache-Control"] == "private, no-cache"
        assert "Authorization" in answer["Vary"]
    assert owner.get(address, headers={"If-None-Match": '"other"'}).status_code == 200
    assert owner.head(address, headers={"If-None-Match": tag}).status_code == 304


def test_what_has_changed_is_sent(cast: Cast, owner: APIClient) -> None:
    """A change of one row changes the tag of the thing and of the list it stands in."""
    addresses = (f"/v1/sites/{cast.site.id}", "/v1/sites")
    before = [owner.get(address)["ETag"] for address in addresses]
    patch(owner, cast, {"name": "North"})
    for address, tag in zip(addresses, before, strict=True):
        assert owner.get(address, headers={"If-None-Match": tag}).status_code == 200


def test_a_header_that_is_no_list_of_tags_is_refused(owner: APIClient) -> None:
    """A cache that garbles tags is told so."""
    answer = owner.get("/v1/sites", headers={"If-None-Match": "v1"})
    assert code_of(answer) == (400, "malformed_request")


@pytest.mark.parametrize(
    "given", ['"' + "," * 50_000, '"v1"' + "," * 50_000 + '"', '"v1" ' * 9_999]
)
def test_reading_tags_takes_no_time(given: str) -> None:
    """A hostile header is refused or read in the time of its length."""
    with pytest.raises(ProblemError):
        expected_versions(Request(RequestFactory().patch("/", headers={"If-Match": given})))
