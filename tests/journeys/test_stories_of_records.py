"""What becomes of a record: sent late, twice, or wrong, and on the odd days of a calendar."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import pytest

from rules.intervals import add, parse_period
from tests.cast import FACTS, ZONE
from tests.journeys.field import OVERDUE, told_of, visit_body

if TYPE_CHECKING:
    from tests.journeys.field import Field

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres, pytest.mark.redis]

PERIODIC = "periodic_inspection"
WITHIN = 30  # seconds that a request may take here
YEARLY = "nfpa-80-2013/inspection/yearly"


def test_a_visit_from_a_telephone_that_was_long_offline(field: Field) -> None:
    """Made seventeen days ago by a clock 47 minutes ahead, received today: both times are kept
    with the offset as it was sent, by how much that clock differs is noted, and the next
    inspection counts from the visit's day.
    """
    opening = field.cast.opening.id
    before = field.begun(opening)
    made = datetime.now(ZoneInfo(ZONE)).replace(microsecond=0) - timedelta(days=17)
    by_its_clock = made + timedelta(minutes=47)
    clock_now = datetime.now(ZoneInfo(ZONE)) + timedelta(minutes=47)
    visit = field.visit(
        opening, field.conforming(opening), at=by_its_clock, sent_at=clock_now.isoformat()
    )
    assert abs(visit["clock_skew_s"] - 47 * 60) < WITHIN
    (warned,) = (w for w in visit["warnings"] if w["code"] == "clock_differs")
    assert "minutes" in warned["detail"]
    assert "kept as sent and not corrected" in warned["detail"]
    assert visit["performed_at"] == by_its_clock.isoformat()
    received = datetime.fromisoformat(visit["received_at"])
    assert timedelta(days=16) < received - by_its_clock < timedelta(days=17)
    due_on = add(by_its_clock.date(), parse_period("P1Y")).isoformat()
    assert field.state(opening) == before | {
        "visits": [(PERIODIC, "conforms", True, False)],
        "wanting": [{}],
        "duties": before["duties"] | {YEARLY: ("open", due_on)},
        "notices": [OVERDUE],
        "ledger": [*before["ledger"], "visit_recorded"],
    }


def test_a_reading_corrected_after_signature_and_filing(field: Field) -> None:
    """51 lbf was typed for 15: the signed and filed visit stays as it was, a second one corrects
    it with its reason, and the deficiency that never was is withdrawn.
    """
    opening = field.cast.opening.id
    before = field.begun(opening)
    wrong = field.visit(opening, field.conforming(opening, opening_force="51"))
    filed = field.filed()
    right = field.visit(
        opening,
        field.conforming(opening, opening_force="15"),
        supersedes=wrong["id"],
        reason="51 was typed for 15",
    )
    assert told_of(right, "opening_force")["verdict"] == "conforms"
    kept = field.owner.get(f"/v1/visits/{wrong['id']}")
    assert kept["superseded_by"] == right["id"]
    for same in ("judgement", "findings", "content_sha256", "attested_by"):
        assert kept[same] == wrong[same], same
    assert field.state(opening) == before | {
        "visits": [
            (PERIODIC, "does_not_conform", True, True),
            (PERIODIC, "conforms", True, False),
        ],
        "wanting": [{"opening_force": "does_not_conform"}, {}],
        "duties": before["duties"] | {YEARLY: ("upcoming", a_year_from(right))},
        "deficiencies": [("quantity:opening_force", "withdrawn", False)],
        "filings": [("Quillhaven Fire Office", "filed")],
        "notices": [
            OVERDUE,
            ("submittal_filed", "Ada Quist", "sent"),
            ("test_failed", "Ada Quist", "sent"),
        ],
        "ledger": [
            *before["ledger"],
            "visit_recorded",
            "deficiency_open",
            "submittal_assembled",
            "submittal_filed",
            "visit_recorded",
            "deficiency_withdrawn",
            "submittal_amended",
        ],
    }
    for who in (field.authority, field.owner, field.firm):
        packet = who.get(f"/v1/submittals/{filed['id']}")
        assert packet["file_sha256"] == filed["file_sha256"]
        (amended,) = packet["amended_since"]
        assert (amended["visit"], amended["corrected_by"]) == (wrong["id"], right["id"])
        assert amended["reason"] == "51 was typed for 15"


def a_year_from(visit: dict[str, Any]) -> str:
    """The day on which the next inspection is due after this one."""
    day = datetime.fromisoformat(visit["performed_on"]).date()
    return add(day, parse_period("P1Y")).isoformat()


def test_the_same_visit_sent_twice_with_another_force(field: Field) -> None:
    """The first is kept; the answer names the field that differs and how to correct the record;
    nothing is mailed twice.
    """
    opening = field.cast.opening.id
    before = field.begun(opening)
    first = visit_body(opening, field.conforming(opening, opening_force="16"))
    once = str(uuid4())
    kept = field.firm.post("/v1/visits", first, once=once)
    assert field.firm.post("/v1/visits", first, once=once) == kept
    (place,) = [n for n, r in enumerate(first["readings"]) if r["quantity"] == "opening_force"]
    readings = [dict(r) for r in first["readings"]]
    readings[place]["value"] = "14"
    other = first | {"readings": readings}
    by_key = field.firm.post("/v1/visits", other, once=once, expect=422)
    by_reference = field.firm.post("/v1/visits", other, once=str(uuid4()), expect=409)
    for clash in (by_key, by_reference):
        (differs,) = [e for e in clash["errors"] if e["code"] == "differs"]
        assert differs["pointer"] == f"/readings/{place}/value"
        assert differs["detail"] == "Sent now: 14. Recorded: 16."
        assert kept["id"] in clash["detail"]
    assert field.state(opening) == before | {
        "visits": [(PERIODIC, "does_not_conform", True, False)],
        "wanting": [{"opening_force": "does_not_conform"}],
        "duties": before["duties"] | {YEARLY: ("upcoming", a_year_from(kept))},
        "deficiencies": [("quantity:opening_force", "open", False)],
        "notices": [OVERDUE, ("test_failed", "Ada Quist", "sent")],
        "ledger": [*before["ledger"], "visit_recorded", "deficiency_open"],
    }


class Trial:
    """A sandbox with a building of its own, whose days can be moved."""

    def __init__(self, field: Field, time_zone: str) -> None:
        """Opened by its own owner, in a zone; one accordion door."""
        self.field = field
        self.maker = field.client(field.cast.stranger)
        made = self.maker.post("/v1/sandboxes", {"name": "Trial"})
        self.id = made["id"]
        keys = {each["role"]: each["key"] for each in made["organizations"]}
        self.owner, self.firm = field.newcomer(keys["owner"]), field.newcomer(keys["firm"])
        (site, *_) = self.owner.every("/v1/sites")
        (place, *_) = self.owner.every(f"/v1/sites/{site['id']}/places")
        house = {
            "reference": "D-1",
            "name": "Mill house",
            "address": ["1 High Street"],
            "time_zone": time_zone,
            "jurisdiction": place["jurisdiction"],
            "in_custody_from": "2020-01-01",
        }
        door = {
            "site": self.owner.post("/v1/sites", house)["id"],
            "tag": "D-1",
            "location": "Hall",
            "door_type": "accordion",
            "facts": FACTS,
            "in_place_since": "2020-01-01",
        }
        self.opening = UUID(self.owner.post("/v1/openings", door)["id"])

    def visited(self, at: str) -> dict[str, Any]:
        """A full inspection in which all is well, at a moment with its offset."""
        body = visit_body(self.opening, self.field.conforming(self.field.cast.opening.id))
        body |= {"performed_at": at, "attestation": {"name": "Noor Vale", "at": at}}
        return self.firm.post("/v1/visits", body, once=str(uuid4()))

    def state_at(self, now: str) -> dict[str, Any]:
        """All that stands when the clock shows that moment."""
        self.maker.put(f"/v1/sandboxes/{self.id}/clock", {"now": now})
        return self.field.state(self.opening, seen_by=self.owner)


def test_an_hour_that_happens_twice_and_a_due_day_that_is_the_buildings(field: Field) -> None:
    """At half past one in the night in which the clocks go back, and again an hour later: two
    visits with their offsets. Due on a day of Denver: still due at half past eleven that night,
    when it is the next day in Greenwich, and overdue an hour later.
    """
    trial = Trial(field, "America/Denver")
    first = trial.visited("2025-11-02T01:30:00-06:00")
    second = trial.visited("2025-11-02T01:30:00-07:00")
    assert first["performed_at"] != second["performed_at"]
    assert {first["performed_on"], second["performed_on"]} == {"2025-11-02"}
    late = trial.visited("2025-03-09T23:30:00-06:00")  # the day on which clocks went forward
    assert late["performed_on"] == "2025-03-09"
    still = trial.state_at("2026-11-02T23:30:00-07:00")
    assert still["visits"] == [(PERIODIC, "conforms", True, False)] * 3
    assert still["duties"][YEARLY] == ("due", "2026-11-02")
    people = ("Jonas Tallowby", "Ottoline Fennimore")
    never_accepted = [("overdue", person, "waiting") for person in people]
    due = [("due", person, "waiting") for person in people]  # for eight in the morning there
    assert (still["deficiencies"], still["notices"]) == ([], [*due, *never_accepted])
    gone = trial.state_at("2026-11-03T00:30:00-07:00")
    assert gone == still | {
        "duties": still["duties"] | {YEARLY: ("overdue", "2026-11-02")},
        "notices": sorted(
            [*(("due", person, "withdrawn") for person in people), *never_accepted * 2]
        ),
    }
    told = trial.state_at("2026-11-03T08:00:30-07:00")
    assert told == gone | {
        "notices": [
            (stage, who, state.replace("waiting", "sent")) for stage, who, state in gone["notices"]
        ]
    }


def test_a_year_from_the_leap_day(field: Field) -> None:
    """Passed on 29 February 2024, due by 28 February 2025: not later than a year, and a year has
    no 29th then. What was passed on the 28th is due on a 28th, also in the next leap year.
    """
    trial = Trial(field, "America/Chicago")
    trial.visited("2024-02-29T10:00:00-06:00")
    found = trial.state_at("2024-03-01T08:00:00-06:00")
    assert found["visits"] == [(PERIODIC, "conforms", True, False)]
    assert found["duties"][YEARLY] == ("open", "2025-02-28")
    asked = trial.owner.get(f"/v1/openings/{trial.opening}/requirements")["requirements"]
    (yearly,) = [r for r in asked if r["requirement"] == YEARLY]
    assert (yearly["interval"]["every"], yearly["interval"]["meaning"]) == (
        "P1Y",
        "not_later_than",
    )
    assert (yearly["citation"]["clause"], yearly["interval"]["next_from"]) == ("5.2.1", "visit")
    trial.visited("2025-02-28T10:00:00-06:00")
    found = trial.state_at("2025-03-01T08:00:00-06:00")
    assert found["duties"][YEARLY] == ("open", "2026-02-28")
