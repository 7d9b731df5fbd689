"""Visits of an app that was offline: each by itself, told where the service thinks otherwise."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any
from uuid import uuid4

import pytest
from rest_framework.test import APIClient

import rules
from doors.tenancy import acting_for
from inspections.models import Visit
from inspections.services import visits as visits_service
from tests.cast import FACTS, TOWN, Cast
from tests.clients import client_of
from tests.doors.callers import Answer


@pytest.fixture
def firm(cast: Cast) -> APIClient:
    """The inspection firm's own app."""
    return client_of(cast.firm)


def item(cast: Cast, **changed: Any) -> dict[str, Any]:
    """One visit as an app keeps it."""
    at = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=1)
    return {
        "opening": str(cast.opening.id),
        "client_ref": str(uuid4()),
        "activity": "periodic_inspection",
        "performed_at": at.isoformat(),
        "attestation": {"name": "Noor Vale", "at": at.isoformat()},
        "people": [{"name": "Noor Vale", "role": "inspector"}],
        "readings": [{"quantity": "closing_speed", "value": "12", "unit": "in/s"}],
        **changed,
    }


def post(client: APIClient, visits: object) -> Answer:
    """Send a batch."""
    return client.post("/v1/visits/batch", {"visits": visits}, format="json")


def count(cast: Cast) -> int:
    """How many visits stand."""
    with acting_for(cast.firm.id, write=False):
        return Visit.objects.count()


def test_each_succeeds_or_fails_by_itself(cast: Cast, firm: APIClient) -> None:
    """Statuses, order and problems as each would have alone; the good ones stand."""
    good = [item(cast) for _ in range(3)]
    sent = [
        good[0],
        item(cast, activity="annual"),
        good[1],
        item(cast, opening=str(cast.neighbours_opening.id)),
        item(cast, client_ref=good[0]["client_ref"], activity="acceptance_test"),
        "no object",
        item(cast, readings=[{"quantity": "closing_speed", "value": "-1", "unit": "in/s"}]),
        good[2],
    ]
    answer = post(firm, sent)
    assert answer.status_code == 200
    told = answer.json()
    results = told["results"]
    assert [each["status"] for each in results] == [201, 400, 201, 404, 409, 400, 422, 201]
    assert [each["index"] for each in results] == list(range(8))
    assert (told["recorded"], told["refused"], count(cast)) == (3, 5, 3)
    assert [each["client_ref"] for each in results if each["visit"]] == [
        each["client_ref"] for each in good
    ]
    for each in results:
        assert (each["visit"] is None) != (each["problem"] is None)
    assert results[1]["problem"]["errors"][0]["pointer"] == "/activity"
    assert results[6]["problem"]["errors"][0]["pointer"] == "/readings/0/value"
    assert results[5]["client_ref"] is None


def test_a_problem_is_that_of_a_single_visit(cast: Cast, firm: APIClient) -> None:
    """The very document, the request's id apart."""
    wrong = item(cast, readings=[{"quantity": "warp", "value": "1", "unit": "in/s"}])
    alone = firm.post("/v1/visits", wrong, format="json", headers={"Idempotency-Key": "a"}).json()
    (result,) = post(firm, [wrong]).json()["results"]
    assert result["problem"] | {"instance": ""} == alone | {"instance": ""}


@pytest.mark.parametrize(
    ("address", "field"),
    [
        ("/v1/visits", "opening"),
        ("/v1/visits", "supersedes"),
        ("/v1/deficiencies", "opening"),
        ("/v1/reported-visits", "opening"),
        ("/v1/exports", "site"),
        ("/v1/submittals", "site"),
    ],
)
def test_an_id_in_a_body_that_finds_nothing_is_named(
    cast: Cast, firm: APIClient, address: str, field: str
) -> None:
    """The address of the request is right: an app that is told which id is wrong can mend it."""
    at = datetime.now(UTC).replace(microsecond=0).isoformat()
    opening = str(cast.opening.id)
    bodies: dict[str, dict[str, Any]] = {
        "/v1/visits": item(cast, reason="a typo") if field == "supersedes" else item(cast),
        "/v1/deficiencies": {
            "opening": opening,
            "title": "Loose",
            "words": "a loose guide",
            "protects": "closing",
            "found_at": at,
            "person": "Noor Vale",
        },
        "/v1/reported-visits": {
            "opening": opening,
            "client_ref": "paper-1",
            "activity": "periodic_inspection",
            "performed_on": "2020-03-01",
            "performed_by": "Noor Vale",
            "outcome": "no_fault_reported",
        },
        "/v1/exports": {"kind": "openings", "form": "csv"},
        "/v1/submittals": {},
    }
    body = bodies[address] | {field: str(uuid4())}
    refused = firm.post(address, body, format="json", HTTP_IDEMPOTENCY_KEY=str(uuid4()))
    assert (refused.status_code, refused.json()["code"]) == (404, "not_found")
    assert [each["pointer"] for each in refused.json()["errors"]] == [f"/{field}"]


def test_the_whole_again_is_answered_as_before(cast: Cast, firm: APIClient) -> None:
    """What stood is told as it stands and stored no second time; what failed is tried again."""
    sent = [item(cast), item(cast, activity="annual"), item(cast)]
    first, again = post(firm, sent).json(), post(firm, sent).json()
    assert [each["replayed"] for each in again["results"]] == [True, False, True]
    unmarked = [each | {"replayed": False, "problem": None} for each in again["results"]]
    assert unmarked == [each | {"problem": None} for each in first["results"]]
    assert count(cast) == 2
    sent[1]["activity"] = "operation_test"
    assert [each["status"] for each in post(firm, sent).json()["results"]] == [201] * 3


def test_an_item_again_in_another_batch_is_the_same(cast: Cast, firm: APIClient) -> None:
    """Its reference and content are its key, alone, doubled, or sent singly before."""
    one = item(cast)
    alone = firm.post("/v1/visits", one, format="json", headers={"Idempotency-Key": "a"}).json()
    results = post(firm, [one, one]).json()["results"]
    assert [each["replayed"] for each in results] == [True, True]
    assert {each["visit"]["id"] for each in results} == {alone["id"]}
    other = post(firm, [one | {"remarks": "changed"}]).json()["results"][0]
    assert (other["status"], other["problem"]["code"]) == (409, "already_exists")


def alone(client: APIClient, sent: dict[str, Any], key: str) -> Answer:
    """Send one visit by itself."""
    return client.post("/v1/visits", sent, format="json", headers={"Idempotency-Key": key})


def test_a_key_serves_alone_and_in_a_batch(cast: Cast, firm: APIClient) -> None:
    """Sent singly and again in a batch, or the other way round, it is the same visit; with other
    content it is refused, even where its reference is another.
    """
    first, second = item(cast), item(cast)
    singly = alone(firm, first, "K-1")
    (again,) = post(firm, [first | {"idempotency_key": "K-1"}]).json()["results"]
    assert (again["status"], again["replayed"]) == (201, True)
    assert again["visit"]["id"] == singly.json()["id"]
    (batched,) = post(firm, [second | {"idempotency_key": "two words"}]).json()["results"]
    assert (batched["status"], batched["replayed"]) == (201, False)
    repeated = alone(firm, second, '"two words"')
    assert (repeated.status_code, repeated["Idempotency-Replayed"]) == (201, "true")
    assert repeated["Location"] == f"/v1/visits/{batched['visit']['id']}"
    assert repeated.json() == firm.get(repeated["Location"]).json()
    other = item(cast) | {"idempotency_key": "K-1"}
    for each in post(firm, [other, first | {"idempotency_key": "K-1", "remarks": "x"}]).json()[
        "results"
    ]:
        assert (each["status"], each["problem"]["code"]) == (422, "idempotency_key_reused")
    assert count(cast) == 2


def test_a_refused_item_leaves_its_key_free(cast: Cast, firm: APIClient) -> None:
    """What stored nothing may be put right and sent again under the same key."""
    wrong = item(cast, activity="annual") | {"idempotency_key": "K-1"}
    (result,) = post(firm, [wrong]).json()["results"]
    assert result["status"] == 400
    (result,) = post(firm, [wrong | {"activity": "periodic_inspection"}]).json()["results"]
    assert (result["status"], result["replayed"]) == (201, False)


@pytest.mark.parametrize("key", ["", "x" * 256, "caf\u00e9", "a\nb", 7, None, ["k"]])
def test_an_item_with_no_key_that_serves_is_refused(
    cast: Cast, firm: APIClient, key: object
) -> None:
    """Nothing is cut or repaired, and its neighbours are recorded."""
    results = post(firm, [item(cast) | {"idempotency_key": key}, item(cast)]).json()["results"]
    assert [each["status"] for each in results] == [400, 201]
    assert results[0]["problem"]["code"] == "idempotency_key_invalid"


def test_forty_after_a_day_without_network(cast: Cast, firm: APIClient) -> None:
    """Partly sent before, in any order, two under one key with other bodies, one bad: each has an
    answer of its own, and everything that can stand does, once.
    """
    kept = [item(cast) | {"idempotency_key": f"K-{n}"} for n in range(38)]
    for each in kept[:5]:
        alone(firm, {k: v for k, v in each.items() if k != "idempotency_key"},
              each["idempotency_key"])  # fmt: skip
    post(firm, kept[5:12])
    sent = [*kept, item(cast) | {"idempotency_key": "K-20"}, item(cast, activity="annual")]
    Random(7).shuffle(sent)
    results = post(firm, sent).json()["results"]
    refused = [(each["index"], each["status"]) for each in results if each["status"] != 201]
    rivals = [n for n, each in enumerate(sent) if each.get("idempotency_key") == "K-20"]
    bad = next(n for n, each in enumerate(sent) if each["activity"] == "annual")
    assert sorted(refused) == sorted([(rivals[1], 422), (bad, 400)])
    assert sum(each["replayed"] for each in results) == 12
    assert [each["client_ref"] for each in results] == [each["client_ref"] for each in sent]
    assert count(cast) == 38


def test_another_organizations_reference_is_no_key(cast: Cast, firm: APIClient) -> None:
    """The owner's own visit of the same reference is a visit of its own."""
    one = item(cast)
    post(firm, [one])
    (result,) = post(client_of(cast.owner), [one]).json()["results"]
    assert (result["status"], result["replayed"]) == (201, False)


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({}, 400),
        ({"visits": {}}, 400),
        ({"visits": []}, 400),
        ({"visits": [{}] * 1_001}, 400),
        ({"visits": [{}], "more": 1}, 400),
        ([], 400),
    ],
    ids=["empty", "object", "none", "too many", "unknown", "list"],
)
def test_only_an_unreadable_envelope_fails_whole(
    cast: Cast, firm: APIClient, body: object, status: int
) -> None:
    """One problem, and nothing was looked at."""
    answer = firm.post("/v1/visits/batch", json.dumps(body), content_type="application/json")
    assert answer.status_code == status
    assert answer["Content-Type"] == "application/problem+json"


def test_a_failure_of_ours_spoils_no_other(
    cast: Cast, firm: APIClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The item is told so, without a word of what it was, and leaves nothing half written."""
    sent = [item(cast), item(cast, remarks="fail"), item(cast)]
    settle = visits_service.settle_locked_duties

    def fails(**given: Any) -> None:
        settle(**given)
        if Visit.objects.filter(findings__remarks="fail").exists():
            raise LookupError("a secret of the inside")

    monkeypatch.setattr(visits_service, "settle_locked_duties", fails)
    results = post(firm, sent).json()["results"]
    assert [each["status"] for each in results] == [201, 500, 201]
    assert "secret" not in json.dumps(results)
    assert count(cast) == 2


def test_a_thousand_are_taken(cast: Cast, firm: APIClient) -> None:
    """As many as an envelope may hold are each looked at."""
    results = post(firm, [{"client_ref": f"r-{n}"} for n in range(1_000)]).json()["results"]
    assert [each["client_ref"] for each in results] == [f"r-{n}" for n in range(1_000)]
    assert {each["status"] for each in results} == {400}


def downloaded(client: APIClient, cast: Cast) -> dict[str, Any]:
    """What the app holds of the opening, as it sends it back."""
    held = client.get(f"/v1/openings/{cast.opening.id}/requirements").json()
    return {
        "requirements_digest": held["digest"],
        "library": held["library_version"],
        "requirements": [
            {"requirement": each["requirement"], "digest": each["digest"]}
            for each in held["requirements"]
        ],
    }


def recorded(client: APIClient, sent: dict[str, Any]) -> dict[str, Any]:
    """Record a visit and return it as judged."""
    answer = client.post(
        "/v1/visits", sent, format="json", headers={"Idempotency-Key": uuid4().hex}
    )
    assert answer.status_code == 201, answer.content
    found: dict[str, Any] = answer.json()
    return found


def test_who_judged_alike_is_told_so(cast: Cast, firm: APIClient) -> None:
    """Same digest, library and verdicts: nothing differs; who sent nothing is told nothing."""
    plain = recorded(firm, item(cast))
    assert plain["difference"] is None
    judgement = plain["judgement"]
    verdicts = [
        {"requirement": each["requirement"], "verdict": each["verdict"]}
        for each in judgement["verdicts"] + judgement["advisory"]
    ]
    again = recorded(firm, item(cast, judged_with=downloaded(firm, cast) | {"verdicts": verdicts}))
    assert again["difference"]["same"] is True
    assert again["difference"]["words"] == "The service judged as the app did."
    assert again["difference"]["verdicts"] == []
    silent = recorded(firm, item(cast, judged_with=downloaded(firm, cast)))["difference"]
    assert (silent["same"], "sent no verdicts" in silent["words"]) == (True, True)
    assert firm.get(f"/v1/visits/{again['id']}").json()["difference"] == again["difference"]


def test_who_judged_otherwise_is_told_where_and_why(cast: Cast, firm: APIClient) -> None:
    """Which requirements changed, which are held on one side, which verdicts differ."""
    held = downloaded(firm, cast)
    changed, missing = held["requirements"][0], held["requirements"].pop(1)
    changed["digest"] = "0" * 64
    held["requirements"].append({"requirement": "gone/by-now", "digest": "1" * 64})
    held |= {"requirements_digest": "2" * 64, "library": "0.0.1"}
    plain = recorded(firm, item(cast))
    own = plain["judgement"]["verdicts"]
    held["verdicts"] = [{"requirement": each["requirement"], "verdict": "conforms"} for each in own]
    found = recorded(firm, item(cast, judged_with=held))["difference"]
    assert found["same"] is False
    assert found["changed"] == [changed["requirement"]]
    assert found["only_ours"] == [missing["requirement"]]
    assert found["only_yours"] == ["gone/by-now"]
    assert found["library"] == {"yours": "0.0.1", "ours": rules.__version__}
    differing = {each["requirement"]: each for each in found["verdicts"]}
    expected = {each["requirement"] for each in own if each["verdict"] != "conforms"}
    advisory = {each["requirement"] for each in plain["judgement"]["advisory"]}
    assert set(differing) == expected | advisory
    assert all(each["message"] for each in differing.values())
    assert found["words"].startswith("The service judged by other requirements than the app did")
    assert "0.0.1" in found["words"]


def test_a_batch_tells_the_difference_too(cast: Cast, firm: APIClient) -> None:
    """For each item that says what it was judged by."""
    held = downloaded(firm, cast)
    results = post(firm, [item(cast, judged_with=held), item(cast)]).json()["results"]
    assert results[0]["visit"]["difference"]["same"] is True
    assert results[1]["visit"]["difference"] is None


@pytest.mark.parametrize(
    "address",
    ["/v1/openings/{opening}/requirements", f"/v1/places/{TOWN}/requirements"],
)
def test_rules_are_sent_again_only_when_they_change(
    cast: Cast, firm: APIClient, address: str
) -> None:
    """The tag is the digest, whichever day is asked about while nothing changes."""
    address = address.format(opening=cast.opening.id)
    first = firm.get(address)
    held = first.json()
    assert first["ETag"] == f'W/"{held["digest"]}"'
    for known in (first["ETag"], f'"{held["digest"]}"'):
        assert firm.get(address, headers={"If-None-Match": known}).status_code == 304
    assert firm.get(f"{address}?on=1990-01-01", headers={"If-None-Match": known}).status_code == 200


def test_a_place_answers_for_a_door_of_given_facts(cast: Cast, firm: APIClient) -> None:
    """The same as an opening of these facts there has; without facts each says what it misses."""
    facts = {"door_type": "accordion", **FACTS}
    address = f"/v1/places/{TOWN}/requirements"
    given = firm.get(address, {"facts": json.dumps(facts)}).json()
    opening = firm.get(f"/v1/openings/{cast.opening.id}/requirements").json()
    assert given["digest"] == opening["digest"]
    assert given["requirements"] == opening["requirements"]
    bare = firm.get(address).json()
    assert len(bare["requirements"]) >= len(given["requirements"])
    assert any(each["missing_facts"] for each in bare["requirements"])


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ({"facts": "{"}, 400),
        ({"facts": "[]"}, 400),
        ({"facts": '{"a": 1, "a": 2}'}, 400),
        ({"facts": '{"door_type": "sideways"}'}, 422),
        ({"facts": '{"colour": "red"}'}, 422),
        ({"on": "soon"}, 400),
        ({"fact": "{}"}, 400),
    ],
)
def test_facts_that_cannot_be_read_are_refused(
    cast: Cast, firm: APIClient, query: dict[str, str], status: int
) -> None:
    """With the parameter, or by the library; nothing is guessed."""
    answer = firm.get(f"/v1/places/{TOWN}/requirements", query)
    assert answer.status_code in {status, 400}
    assert answer["Content-Type"] == "application/problem+json"


def test_a_place_that_is_none_does_not_exist(firm: APIClient) -> None:
    """404, as everywhere."""
    assert firm.get("/v1/places/atlantis/requirements").status_code == 404
    assert firm.get("/v1/places/atl%00antis/requirements").status_code == 404
