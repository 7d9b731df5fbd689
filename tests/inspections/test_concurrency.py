"""Many at once: each gets its own answer, and what follows is worked out one by one."""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from random import Random
from uuid import UUID, uuid4

import pytest
from django.db import connections

from doors.services.ledger import verify_ledger
from doors.tenancy import acting_for
from inspections.models import Deficiency, Duty, Visit
from inspections.selectors.duties import duty_windows
from inspections.selectors.visits import standing_visits
from tests.cast import Cast, assemble, conforming, today
from tests.clients import client_of
from tests.doors.callers import Answer
from tests.journeys.test_bad_input import body, post, reading

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]
AT_ONCE = 12


@pytest.fixture
def cast() -> Cast:
    """Everybody, committed, so that every connection sees them."""
    return assemble()


def _at_once(send: Callable[[int], Answer], many: int = AT_ONCE) -> list[Answer]:
    def one(number: int) -> Answer:
        try:
            return send(number)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(AT_ONCE) as pool:
        return list(pool.map(one, range(many)))


def test_the_same_request_many_times_is_one_visit(cast: Cast) -> None:
    """Each caller gets the visit or is told that it is under way."""
    sent, client = body(cast), client_of(cast.firm)
    answers = _at_once(lambda _: post(client, sent, "k1"))
    assert {a.status_code for a in answers} <= {201, 409}
    assert len({a.content for a in answers if a.status_code == 201}) == 1
    with acting_for(cast.firm.id, write=False):
        assert Visit.objects.count() == 1


def test_one_batch_many_times_stores_nothing_twice_and_loses_nothing(cast: Cast) -> None:
    """In whichever order; who comes while another is at an item is told so, and asks again."""
    client = client_of(cast.firm)
    sent = [body(cast, client_ref=f"v-{n}", idempotency_key=f"K-{n}") for n in range(8)]

    def batch(number: int) -> Answer:
        visits = Random(number).sample(sent, len(sent))
        return client_of(cast.firm).post("/v1/visits/batch", {"visits": visits}, format="json")

    answers = [answer.json()["results"] for answer in _at_once(batch)]
    assert {each["status"] for results in answers for each in results} <= {201, 409}
    stood = {each["visit"]["id"] for results in answers for each in results if each["visit"]}
    again = client.post("/v1/visits/batch", {"visits": sent}, format="json").json()
    assert {each["visit"]["id"] for each in again["results"]} == stood
    assert all(each["replayed"] for each in again["results"])
    with acting_for(cast.owner.id, write=False):
        assert Visit.objects.count() == len(sent)
        assert verify_ledger()[1] is None


def test_visits_to_one_door_at_once_leave_one_deficiency(cast: Cast) -> None:
    """All are recorded, the chain has no gap, and the door is too fast once."""
    client = client_of(cast.firm)
    answers = _at_once(lambda _: post(client, body(cast, readings=reading(value="31"))))
    assert [a.status_code for a in answers] == [201] * AT_ONCE
    with acting_for(cast.owner.id, write=False):
        assert Visit.objects.count() == AT_ONCE
        assert Deficiency.objects.count() == 1
        assert verify_ledger()[1] is None


def test_fifty_corrections_at_once_leave_one(cast: Cast) -> None:
    """Forty-nine are told to correct the latest; what is wrong follows the one that stands."""
    client = client_of(cast.firm)
    first = post(client, body(cast, readings=reading(value="31")))
    wrong = json.loads(first.content)["id"]

    def send(number: int) -> Answer:
        value = "31" if number % 2 else "12"
        said = {"supersedes": wrong, "reason": "misread", "readings": reading(value=value)}
        return post(client, body(cast, **said))

    answers = _at_once(send, 50)
    assert sorted(a.status_code for a in answers) == [201, *[409] * 49]
    (made,) = [a.json() for a in answers if a.status_code == 201]
    with acting_for(cast.owner.id, write=False):
        assert [v.id for v in standing_visits(cast.opening)] == [UUID(made["id"])]
        state = "open" if made["verdict"] == "does_not_conform" else "withdrawn"
        assert Deficiency.objects.get().state == state
        assert verify_ledger()[1] is None


def test_duties_after_visits_at_once_are_those_of_all_of_them(cast: Cast) -> None:
    """Stored is what would be computed, whichever came last."""
    client = client_of(cast.firm)
    with acting_for(cast.firm.id, write=False):
        full = conforming(cast.opening, "periodic_inspection")
    sent = {name: full[name] for name in ("readings", "checks", "sequences")}
    answers = _at_once(lambda n: post(client, body(cast, client_ref=f"{n}-{uuid4()}", **sent)))
    assert [a.status_code for a in answers] == [201] * AT_ONCE
    with acting_for(cast.firm.id, write=False):
        stored = {d.requirement: d.due_on.isoformat() for d in Duty.objects.all()}
        computed = {w["requirement"]: w["due_on"] for w in duty_windows(cast.opening)}
    assert stored == computed


def test_an_ended_grant_ends_whatever_happens_beside_it(cast: Cast) -> None:
    """Grants given and sites opened at the same moment bring no ended sight back."""
    owner = client_of(cast.owner)
    given = {"grantee": str(cast.stranger.id), "actions": ["record"], "begins_on": "2020-01-01"}
    doomed = owner.post("/v1/grants", given, format="json").json()["id"]
    other = given | {"grantee": str(cast.neighbour.id)}

    def send(number: int) -> Answer:
        if number == 5:
            end = {"ends_on": today().isoformat()}
            return owner.post(f"/v1/grants/{doomed}/end", end, format="json")
        return owner.post("/v1/grants", other, format="json")

    answers = _at_once(send)
    assert {a.status_code for a in answers} == {200, 201}
    assert client_of(cast.stranger).get(f"/v1/sites/{cast.site.id}").status_code == 404
    with acting_for(cast.owner.id, write=False):
        assert verify_ledger()[1] is None
