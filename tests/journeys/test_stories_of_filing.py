"""What is filed with an authority, what it answers, and what it pulls by night."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any

import pytest

from doors.services.jurisdictions import establish_jurisdiction
from doors.services.organizations import register_organization
from rules.intervals import add, parse_period
from tests.cast import findings, today
from tests.journeys.field import OVERDUE, named, visit_body

if TYPE_CHECKING:
    from uuid import UUID

    from tests.journeys.field import Caller, Field

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres, pytest.mark.redis]

PERIODIC = "periodic_inspection"
YEARLY = "nfpa-80-2013/inspection/yearly"
FORCE = "quantity:opening_force"
FILED = ("submittal_filed", "Ada Quist", "sent")
FAILED = ("test_failed", "Ada Quist", "sent")
CLOSED_OFF = "tenant absent"


def due_again() -> str:
    """The day by which the inspection of today must be repeated."""
    return add(today(), parse_period("P1Y")).isoformat()


def visit_all(field: Field, doors: dict[str, UUID]) -> None:
    """One door fails, thirty conform, the last nine are not accessed; sent at once."""
    good = field.conforming(doors["A-1"])
    bad = field.conforming(doors["A-1"], opening_force="16")
    locked = findings(no_access=CLOSED_OFF)
    sent = {n: locked if n > 31 else bad if n == 1 else good for n in range(1, 41)}
    visits = [visit_body(doors[f"A-{n}"], sheet) for n, sheet in sent.items()]
    answer = field.firm.post("/v1/visits/batch", {"visits": visits}, expect=200)
    assert (answer["recorded"], answer["refused"]) == (40, 0)


def test_a_packet_of_forty_doors_of_which_nine_were_not_accessed(field: Field) -> None:
    """It says 31 of 40, puts the exceptions first, and no door behind a locked one passes."""
    doors = field.hang(field.cast.site.id, (f"A-{n}" for n in range(2, 41)))
    before = field.begun(doors["A-40"])
    visit_all(field, doors)
    packet = field.filed()
    assert packet["counts"]["says"] == "31 of 40 openings; 9 not accessed"
    assert {w: packet["counts"][w] for w in ("conforms", "does_not_conform", "not_tested")} == {
        "conforms": 30,
        "does_not_conform": 1,
        "not_tested": 9,
    }
    (last,) = field.owner.get("/v1/visits", opening=str(doors["A-40"]))["data"]
    verdicts = field.owner.get(f"/v1/visits/{last['id']}")["judgement"]["verdicts"]
    asked = [v for v in verdicts if v["required"]]
    assert {(v["verdict"], v["reason"]) for v in asked} == {("not_tested", "no_access")}
    assert packet["counts"]["exceptions"] == [
        "deficiency open: 1",
        f"not tested: {9 * len(asked)}",
        "overdue: 49",  # the first test of all forty, the year's of nine
    ]
    words = field.words_of(packet)
    assert words.index("Exceptions") < words.index("Opening A-1 ")
    assert words.index("16 lbf") < words.index("Opening A-1 ")
    after = field.state(doors["A-40"])
    (untested,) = after.pop("wanting")
    assert set(untested) >= set(map(named, asked))
    assert set(untested.values()) == {"not_tested"}
    told = [(stage, who) for stage, who, _ in after.pop("notices")]  # what is due once a day
    assert told == [(stage, who) for stage, who, _ in (OVERDUE, OVERDUE, FILED, FAILED)]
    assert after == {name: before[name] for name in after} | {
        "visits": [(PERIODIC, "not_tested", False, False)],
        "filings": [("Quillhaven Fire Office", "filed")],
        "ledger": [
            *before["ledger"],
            "visit_recorded",
            "deficiency_open",
            *["visit_recorded"] * 39,
            "submittal_assembled",
            "submittal_filed",
        ],
    }


def test_a_packet_comes_back_and_is_filed_again(field: Field) -> None:
    """The authority returns it with what is wanting; only those concerned read that; the next
    packet holds what was wanting and is accepted, and the first stays as it was filed.
    """
    opening = field.cast.opening.id
    before = field.begun(opening)
    field.visit(opening, findings(("opening_force", "11", "lbf")))
    first = field.filed()
    wanting = "A-1: no closing speed.\nA-1: the sequences are missing."
    answer = {"state": "returned", "remarks": wanting}
    field.authority.post(f"/v1/submittals/{first['id']}/answer", answer, expect=200)
    for who in (field.firm, field.owner):
        (filing,) = who.get(f"/v1/submittals/{first['id']}")["filings"]
        assert (filing["state"], filing["remarks"]) == ("returned", wanting)
    for stranger in (field.cast.neighbour, field.cast.stranger):
        field.client(stranger).get(f"/v1/submittals/{first['id']}", expect=404)
    field.visit(opening, field.conforming(opening))
    second = field.filed()
    field.authority.post(f"/v1/submittals/{second['id']}/answer", {"state": "accepted"}, expect=200)
    kept = field.authority.file(f"/v1/submittals/{first['id']}/file")
    assert hashlib.sha256(kept).hexdigest() == first["file_sha256"] != second["file_sha256"]
    after = field.state(opening)
    short, full = after.pop("wanting")
    assert (set(short.values()), full) == ({"not_tested"}, {})
    assert after == {n: before[n] for n in after} | {
        "visits": [
            (PERIODIC, "not_tested", False, False),
            (PERIODIC, "conforms", True, False),
        ],
        "duties": before["duties"] | {YEARLY: ("upcoming", due_again())},
        "filings": [
            ("Quillhaven Fire Office", "returned"),
            ("Quillhaven Fire Office", "accepted"),
        ],
        "notices": [OVERDUE, OVERDUE, FILED, FILED],  # the year's was overdue at the first
        "ledger": [
            *before["ledger"],
            "visit_recorded",
            "submittal_assembled",
            "submittal_filed",
            "submittal_answered",
            "visit_recorded",
            "submittal_assembled",
            "submittal_filed",
            "submittal_answered",
        ],
    }


def pulled(authority: Caller, after: int) -> tuple[list[dict[str, Any]], int]:
    """What a nightly pull finds, one change a page, from the position stored last."""
    found: list[dict[str, Any]] = []
    while True:
        page = authority.get("/v1/submittals/changes", after=str(after), limit="1")
        if not page["data"]:
            return found, after
        found, after = [*found, *page["data"]], page["last"]


def test_an_authority_pulls_by_night(field: Field) -> None:
    """From the position it stored: nothing twice, nothing left out, nothing of another place; each
    file is the bytes on record, and the owner finds each read.
    """
    opening = field.cast.opening.id
    office = register_organization(name="Saltmarsh Fire Office", capabilities=["authority"])
    country = establish_jurisdiction(code="us", name="United States", kind="country")
    establish_jurisdiction(
        code="us-saltmarsh", name="Saltmarsh", kind="city", parent=country, authority=office
    )
    neighbour = field.client(field.cast.neighbour)
    elsewhere = {"jurisdictions": ["us-saltmarsh"], "begins_on": "2020-01-02"}
    neighbour.post(f"/v1/sites/{field.cast.neighbours_site.id}/places", elsewhere)
    before = field.begun(opening)
    field.visit(opening, field.conforming(opening))
    first = field.filed()
    night, position = pulled(field.authority, 0)
    assert [(c["submittal"], c["state"]) for c in night] == [(first["id"], "filed")]
    second = field.filed()
    neighbour.post("/v1/submittals", {"site": str(field.cast.neighbours_site.id)}, expect=202)
    field.settle()
    (theirs,) = neighbour.get("/v1/submittals")["data"]
    neighbour.post(f"/v1/submittals/{theirs['id']}/filings", {})
    field.authority.post(f"/v1/submittals/{first['id']}/answer", {"state": "accepted"}, expect=200)
    night, last = pulled(field.authority, position)
    assert [(c["submittal"], c["state"]) for c in night] == [
        (second["id"], "filed"),
        (first["id"], "accepted"),
    ]
    assert [c["position"] for c in night] == [position + 1, last]
    assert pulled(field.authority, last) == ([], last)
    assert [c["submittal"] for c in pulled(field.client(office), 0)[0]] == [theirs["id"]]
    field.authority.get(f"/v1/submittals/{theirs['id']}", expect=404)
    for each in (first, second):
        content = field.authority.file(f"/v1/submittals/{each['id']}/file")
        assert hashlib.sha256(content).hexdigest() == each["file_sha256"]
    reads = [(r["submittal"], r["what"]) for r in field.owner.every("/v1/authority-reads")]
    assert {(each["id"], "file") for each in (first, second)} <= set(reads)
    assert field.state(opening) == before | {
        "visits": [(PERIODIC, "conforms", True, False)],
        "wanting": [{}],
        "duties": before["duties"] | {YEARLY: ("upcoming", due_again())},
        "filings": [
            ("Quillhaven Fire Office", "accepted"),
            ("Quillhaven Fire Office", "filed"),
        ],
        "notices": [OVERDUE, FILED, FILED],
        "ledger": [
            *before["ledger"],
            "visit_recorded",
            "submittal_assembled",
            "submittal_filed",
            "submittal_assembled",
            "submittal_filed",
            "submittal_answered",
        ],
    }
