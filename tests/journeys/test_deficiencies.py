"""What is wrong, over HTTP, from the finding to the proof, with the state that it leaves."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

from rest_framework.test import APIClient

from doors.models import LedgerEntry
from doors.tenancy import acting_for
from inspections.models import Owing
from inspections.selectors.requirements import applicable
from inspections.services.interim_measures import alarm_of_measures
from rules.model import SequenceSpec
from tests.cast import Cast, today
from tests.clients import client_of

NOW = datetime.now(UTC).replace(microsecond=0)
POLICY = {
    "classes": [{"name": "at once", "within": "P1D"}, {"name": "soon", "within": "P1M"}],
    "rules": [{"subject": "sequence:obstruction", "class": "at once"}, {"class": "soon"}],
}


def _ago(hours: int) -> str:
    return (NOW - timedelta(hours=hours)).isoformat()


def _post(
    client: APIClient, address: str, body: dict[str, Any], status: int = 201
) -> dict[str, Any]:
    headers = {"Idempotency-Key": str(uuid4())}
    answer = client.post(address, body, format="json", headers=headers)
    assert answer.status_code == status, answer.content[:500]
    told: dict[str, Any] = answer.json()
    return told


def _sequences(cast: Cast) -> list[dict[str, Any]]:
    """Every sequence that binds at the door, as seen in order."""
    with acting_for(cast.firm.id, write=False):
        items = applicable(cast.opening, today()).requirements.items
    specs = [i.requirement.spec for i in items if not i.advisory]
    return [
        {
            "sequence": spec.sequence,
            "result": "conforms",
            "steps": [{"step": step.step, "seen": True} for step in spec.steps],
        }
        for spec in specs
        if isinstance(spec, SequenceSpec)
    ]


def _visit(cast: Cast, activity: str, hours: int, sequences: list[dict[str, Any]]) -> Any:  # noqa: ANN401
    person = {"name": "Noor Vale", "role": "inspector", "qualification": "fire doors"}
    body = {
        "opening": str(cast.opening.id),
        "client_ref": str(uuid4()),
        "activity": activity,
        "performed_at": _ago(hours),
        "attestation": {"name": "Noor Vale", "at": _ago(hours)},
        "people": [person],
        "sequences": sequences,
    }
    return _post(client_of(cast.firm), "/v1/visits", body)


def _failing(sequence: dict[str, Any]) -> dict[str, Any]:
    steps = [{"step": s["step"], "seen": False} for s in sequence["steps"]]
    return {**sequence, "result": "does_not_conform", "steps": steps}


def test_from_the_obstruction_to_the_proof(cast: Cast) -> None:  # noqa: PLR0915 (one story)
    """It drives on through an obstruction: classed, guarded, mended, and proven only when every
    sequence that hangs on the repaired part was shown again.
    """
    owner, firm = client_of(cast.owner), client_of(cast.firm)
    put = owner.put("/v1/deficiency-policy", POLICY, format="json", headers={"If-Match": '"v0"'})
    assert (put.status_code, put.json()["version"]) == (200, 1)
    sequences = {s["sequence"]: s for s in _sequences(cast)}
    judged = _visit(cast, "operation_test", 30, [_failing(sequences["obstruction"])])
    (found,) = [d for d in judged["found"] if "obstruction" in str(d["requirements"])]
    at = f"/v1/deficiencies/{found['id']}"
    opened = owner.get(at).json()
    assert (opened["state"], opened["class"]) == ("open", "at once")
    assert opened["due_on"] is not None
    assert [s["source"] for s in opened["deadline_from"] if s["governs"]] == ["organization"]
    assert opened["retest_missing"] == [{"what": "repair", "because": "No repair is recorded."}]

    _shut_is_refused_and_an_end_is_told(cast, owner, at)

    parts = [{"part": "controller", "words": "logic board", "listed_basis": "as listed"}]
    mended = {"done_at": _ago(20), "done_by": "Ivo Lund", "licence": "R-1", "words": "replaced"}
    repaired = _post(firm, f"{at}/repairs", {**mended, "parts": parts})
    scope = {m["what"] for m in repaired["retest_missing"]}
    assert {"sequence:obstruction"} < scope
    only = _visit(cast, "repair_retest", 10, [sequences["obstruction"]])
    assert only["proved"] == []
    (still,) = [d for d in only["not_proven"] if d["id"] == found["id"]]
    missing = {m["what"] for m in still["retest_missing"]}
    assert missing == scope - {"sequence:obstruction"}
    assert all(m["because"] for m in still["retest_missing"])

    rest = [s for name, s in sequences.items() if f"sequence:{name}" in missing]
    proof = _visit(cast, "repair_retest", 5, rest)
    assert found["id"] in {d["id"] for d in proof["proved"]}
    proven = owner.get(at).json()
    assert (proven["state"], proven["proven_by"], proven["guarded"]) == (
        "proven",
        proof["id"],
        False,
    )
    assert (proven["retest_missing"], proven["same_firm"]) == ([], True)
    assert proven["same_firm_words"]
    _the_ledger_tells_it(cast, found["id"])
    (row,) = [
        r
        for r in owner.get("/v1/deficiencies/time-open?by=class").json()["data"]
        if r["key"] == "at once"
    ]
    assert (row["deficiencies"], row["still_open"], row["longest_days"]) == (1, 0, "1.0")


def _shut_is_refused_and_an_end_is_told(cast: Cast, owner: APIClient, at: str) -> None:
    measure = {"words": "as agreed", "responsible": "Ada Quist", "begins_at": _ago(29)}
    shut = {**measure, "kind": "secured_shut", "ends_at": _ago(-10)}
    refused = _post(owner, f"{at}/interim-measures", shut, 422)
    assert refused["errors"][0]["pointer"] == "/kind"
    ending = {**measure, "kind": "attendant", "ends_at": _ago(-10)}
    over = {**measure, "kind": "fire_watch", "ends_at": _ago(25)}
    _post(owner, f"{at}/interim-measures", over)
    guarded = _post(owner, f"{at}/interim-measures", ending)
    assert guarded["guarded"]
    assert (alarm_of_measures(), alarm_of_measures()) == (2, 0)
    with acting_for(cast.owner.id, write=False):
        stages = Owing.objects.filter(stage__startswith="interim").values_list("stage", flat=True)
        assert sorted(stages) == ["interim_measure_expired", "interim_measure_expiring"]
    (running,) = [m for m in guarded["interim_measures"] if m["kind"] == "attendant"]
    end = {"stopped_at": _ago(1), "because": "the door is kept out of use"}
    stopped = _post(owner, f"{at}/interim-measures/{running['id']}/end", end, 200)
    assert not stopped["guarded"]
    _post(owner, f"{at}/interim-measures/{running['id']}/end", end, 409)


def _the_ledger_tells_it(cast: Cast, id_: str) -> None:
    with acting_for(cast.owner.id, write=False):
        rows = LedgerEntry.objects.filter(kind__startswith="deficiency", subject=id_)
        kinds = list(rows.order_by("position").values_list("kind", flat=True))
    assert kinds == ["deficiency_open", "deficiency_proven"]


def test_what_a_person_saw_is_retested_by_its_name(cast: Cast) -> None:
    """Opened by hand, handed on, grouped, mended, and found again where it was not right."""
    firm, owner = client_of(cast.firm), client_of(cast.owner)
    seen = {
        "opening": str(cast.opening.id),
        "title": "Pocket used for storage",
        "words": "Boxes stand in it.",
        "protects": "closing",
        "found_at": _ago(30),
        "person": "Ada Quist",
    }
    id_ = _post(owner, "/v1/deficiencies", seen)["id"]
    at = f"/v1/deficiencies/{id_}"
    handed = {"organization": str(cast.firm.id), "until": "2100-01-01"}
    assert _post(owner, f"{at}/assignment", handed)["assignment"]["organization"] == str(
        cast.firm.id
    )
    stranger = {"organization": str(cast.stranger.id)}
    _post(owner, f"{at}/assignment", stranger, 422)
    assert [
        d["id"] for d in firm.get(f"/v1/deficiencies?assigned={cast.firm.id}").json()["data"]
    ] == [id_]
    group = _post(firm, "/v1/deficiency-groups", {"title": "Storage", "deficiencies": [id_]})
    assert group["counts"] == {"open": 1}
    mended = {"done_at": _ago(20), "done_by": "Ada Quist", "words": "cleared"}
    assert _post(owner, f"{at}/repairs", mended)["state"] == "repaired"
    for hours, result, state in ((10, "does_not_conform", "open"), (5, "conforms", "open")):
        _retest(cast, id_, hours, result)
        assert owner.get(at).json()["state"] == state
    _post(owner, f"{at}/repairs", {**mended, "done_at": _ago(4)})
    _retest(cast, id_, 3, "conforms")
    proven = owner.get(at).json()
    assert (proven["state"], proven["same_firm"]) == ("proven", False)
    _post(owner, f"{at}/withdrawal", {"reason": "too late"}, 409)


def _retest(cast: Cast, id_: str, hours: int, result: str) -> None:
    body = {
        "opening": str(cast.opening.id),
        "client_ref": str(uuid4()),
        "activity": "repair_retest",
        "performed_at": _ago(hours),
        "attestation": {"name": "Noor Vale", "at": _ago(hours)},
        "people": [{"name": "Noor Vale", "role": "inspector", "qualification": "fire doors"}],
        "retests": [{"deficiency": id_, "result": result}],
    }
    _post(client_of(cast.firm), "/v1/visits", body)
