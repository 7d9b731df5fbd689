"""Raw traces: kept compressed and apart, and returned, drawn, judged and taken along as sent."""

from __future__ import annotations

import json
from itertools import count
from typing import Any
from uuid import uuid4

import pytest
from django.conf import settings
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from doors.api.parsing import LARGEST_WITH_TRACES
from doors.services.ledger import canonical_digest
from doors.tenancy import acting_for
from inspections.models import Trace, Visit
from inspections.selectors.findings import judged_again
from inspections.selectors.traces import traces_of
from inspections.services.accounts import VISITS
from tests.cast import Cast, findings, visit
from tests.clients import client_of
from tests.inspections.test_attendance import at, codes, post, read

PUSH = {  # on a leaf: numbers in every spelling that a trace may have
    "id": "Öffnung 1",
    "kind": "force",
    "units": {"t": "s", "force": "lbf"},
    "samples": [["0", 0], ["0.50", "12.0"], [1, "2.0e1"], ["1.50", None], ["1.6", "8.10"], [2, 8]],
}
AGAIN = PUSH | {"id": "2", "samples": [["0", "0"], ["0.5", "9"], ["1", "7"], ["2", "8"]]}


def long_run(samples: int) -> dict[str, Any]:
    """A door of 24 ft that runs at 1 ft/s with a tape of a hundredth of an inch."""
    steps = [[f"{n * 24 / samples:.4f}", f"{288 - n * 288 / samples:.2f}"] for n in range(samples)]
    units = {"t": "s", "position": "in"}
    return {"kind": "travel", "units": units, "samples": steps}


def recorded(client: APIClient, cast: Cast, *traces: dict[str, Any], **more: Any) -> dict[str, Any]:
    """A visit with traces, as it is answered."""
    answer = post(client, cast.opening, traces=list(traces), **more)
    assert answer.status_code == 201, read(answer)
    return read(answer)


def test_traces_come_back_as_sent_in_their_order(cast: Cast) -> None:
    """To the letter of every number, at once and when read; the digest covers them."""
    client = client_of(cast.firm)
    made = recorded(client, cast, PUSH, AGAIN)
    kept = client.get(f"/v1/visits/{made['id']}").json()
    for told in (made, kept):
        assert json.dumps(told["findings"]["traces"]) == json.dumps([PUSH, AGAIN])
    assert kept["content_sha256"] == canonical_digest(kept["findings"])


def test_a_list_of_no_traces_stays_one(cast: Cast) -> None:
    """What was sent is what is digested and returned, an empty list too."""
    made = recorded(client_of(cast.firm), cast)
    assert made["findings"]["traces"] == []
    assert made["content_sha256"] == canonical_digest(made["findings"])


def test_lists_and_visits_without_traces_never_load_them(cast: Cast) -> None:
    """The visit's own row holds none, and only what shows them asks for them."""
    client = client_of(cast.firm)
    recorded(client, cast, PUSH)
    plain = read(post(client, cast.opening))["id"]
    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert client.get("/v1/visits").status_code == 200
        assert client.get(f"/v1/visits/{plain}").status_code == 200
    assert not [q["sql"] for q in asked if "inspections_trace" in q["sql"]]
    with acting_for(cast.firm.id, write=False):
        assert not [v for v in Visit.objects.all() if "traces" in v.findings]


def test_a_trace_is_kept_in_a_fraction_of_what_was_sent(cast: Cast) -> None:
    """Of a long run, at most a fifth of its bytes."""
    client, trace = client_of(cast.firm), long_run(5_000)
    made = recorded(client, cast, trace)
    assert made["findings"]["traces"] == [trace]
    with acting_for(cast.firm.id, write=False):
        kept = Trace.objects.get()
        assert len(kept.content) * 5 < len(json.dumps(trace, separators=(",", ":")))


def test_what_was_judged_is_judged_again_the_same(cast: Cast) -> None:
    """From the traces as they are kept."""
    recorded(client_of(cast.firm), cast, PUSH, AGAIN)
    with acting_for(cast.firm.id, write=False):
        (kept,) = Visit.objects.all()
        assert len(kept.judgement["measurements"]) == 2
        assert judged_again(kept) == kept.judgement


def test_the_same_under_its_key_or_reference_stands_once(cast: Cast) -> None:
    """Another sample is another content, and the place where it differs is named."""
    client, key = client_of(cast.firm), uuid4().hex
    sent = {
        "opening": str(cast.opening.id),
        "client_ref": "T-1",
        "activity": "periodic_inspection",
        "performed_at": at(0),
        "attestation": {"name": "Noor Vale", "at": at(1)},
        "people": [{"name": "Noor Vale", "role": "inspector"}],
        "traces": [PUSH],
    }
    first = client.post("/v1/visits", sent, HTTP_IDEMPOTENCY_KEY=key)
    again = client.post("/v1/visits", sent, HTTP_IDEMPOTENCY_KEY=key)
    assert (again.status_code, again.content) == (201, first.content)
    batch = client.post("/v1/visits/batch", {"visits": [sent]}, HTTP_IDEMPOTENCY_KEY=uuid4().hex)
    assert batch.json()["results"][0]["replayed"] is True
    other = sent | {"traces": [AGAIN | {"id": PUSH["id"]}]}
    for used in (key, uuid4().hex):
        refused = client.post("/v1/visits", other, HTTP_IDEMPOTENCY_KEY=used)
        assert refused.status_code in {409, 422}
        assert "/traces/0/samples" in {e["pointer"] for e in refused.json()["errors"]}
    with acting_for(cast.firm.id, write=False):
        assert Trace.objects.count() == 1


def test_a_second_visit_with_the_same_trace_is_told(cast: Cast) -> None:
    """A likely duplicate is one by its traces too."""
    client = client_of(cast.firm)
    recorded(client, cast, PUSH)
    assert codes(post(client, cast.opening, traces=[PUSH])) == {"possible_duplicate"}
    assert codes(post(client, cast.opening, traces=[AGAIN])) == set()


def test_a_trace_of_a_visit_is_drawn_by_its_place(cast: Cast) -> None:
    """And what is not there is not drawn."""
    client = client_of(cast.firm)
    made = recorded(client, cast, PUSH, AGAIN)["id"]
    drawn = [client.get(f"/v1/visits/{made}/traces/{n}/plot") for n in range(3)]
    assert [each.status_code for each in drawn] == [200, 200, 404]
    assert drawn[0].content != drawn[1].content


def test_whoever_takes_visits_along_takes_their_traces(cast: Cast) -> None:
    """Within what was sent, as before."""
    recorded(client_of(cast.firm), cast, PUSH)
    with acting_for(cast.owner.id, write=False):
        (record,) = [table.record(row) for table in VISITS for row in table.rows()]
    assert record["findings"]["traces"] == [PUSH]


def test_a_kept_trace_is_never_changed(cast: Cast) -> None:
    """Nor deleted: the database refuses it."""
    recorded(client_of(cast.firm), cast, PUSH)
    with acting_for(cast.firm.id, write=True):
        for change in (
            lambda: Trace.objects.update(content=b""),
            lambda: Trace.objects.all().delete(),
        ):
            with pytest.raises(DatabaseError), transaction.atomic():
                change()
        assert traces_of(Visit.objects.get()) == [PUSH]


def test_a_trace_belongs_to_the_site_of_its_visit(cast: Cast) -> None:
    """None can be hung on a visit elsewhere, nor seen by who does not see the visit."""
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, findings(traces=[PUSH]))
    with acting_for(cast.neighbour.id, write=False):
        assert not Trace.objects.exists()

    def hang() -> None:
        Trace.objects.create(
            site_id=cast.neighbours_opening.site_id,
            author_id=cast.neighbour.id,
            author_name="Neighbour",
            visit_id=made.id,
            index=9,
            content=b"",
            performed_at=made.performed_at,
        )
        connection.check_constraints()

    with (
        pytest.raises(DatabaseError),
        acting_for(cast.neighbour.id, write=True),
        transaction.atomic(),
    ):
        hang()


def _padded(size: int) -> str:
    """A body of so many bytes, whose shape is wrong."""
    return json.dumps({"a": "x" * (size - len('{"a": ""}'))})


@pytest.mark.parametrize("address", ["/v1/visits", "/v1/visits/batch", "/v1/measurements"])
def test_a_body_with_traces_may_be_larger_than_others(cast: Cast, address: str) -> None:
    """Up to its own limit, which is named where it is passed; no other body may."""
    client, keys = client_of(cast.firm), count()
    answers = {}
    for size in (LARGEST_WITH_TRACES, LARGEST_WITH_TRACES + 1, LARGEST_WITH_TRACES + 20_000):
        headers = {"Idempotency-Key": f"k{next(keys)}"}
        sent: Any = _padded(size)
        answers[size] = client.generic(
            "POST", address, sent, content_type="application/json", headers=headers
        )
    first, *others = answers.values()
    assert first.status_code == 400
    for answer in others:
        assert (answer.status_code, answer.json()["code"]) == (413, "too_large")
        assert str(LARGEST_WITH_TRACES) in answer.json()["detail"]
    small: Any = _padded(settings.DATA_UPLOAD_MAX_MEMORY_SIZE + 1)
    elsewhere = client.generic("POST", "/v1/sites", small, content_type="application/json")
    assert elsewhere.status_code == 413
