"""What becomes of doors when their building changes: read in, retagged, sold, replaced, under
another firm, another edition, or two authorities.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import pytest

from doors.services.jurisdictions import establish_jurisdiction
from doors.services.organizations import register_organization
from rules.intervals import add, parse_period
from tests.cast import FACTS, TOWN, ZONE, today
from tests.journeys.field import OVERDUE, told_of, visit_body

if TYPE_CHECKING:
    from tests.journeys.field import Caller, Field

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres, pytest.mark.redis]

PERIODIC = "periodic_inspection"
YEARLY = "nfpa-80-2013/inspection/yearly"
INSTALLED = "nfpa-80-2013/inspection/after-installation"
RETEST = "nfpa-80-2013/inspection/after-maintenance"
FORCE = "quantity:opening_force"
KINDS = ("swinging", "accordion", "rolling", "horizontal_sliding")
DOORS = 312


def days_ago(days: int, hour: int = 10) -> datetime:
    """An hour of an earlier day at the building."""
    day = today() - timedelta(days=days)
    return datetime(day.year, day.month, day.day, hour, tzinfo=ZoneInfo(ZONE))


def a_year_after(days: int) -> str:
    """The day by which the inspection of so many days ago must be repeated."""
    return add(today() - timedelta(days=days), parse_period("P1Y")).isoformat()


def hospital() -> list[dict[str, str]]:
    """312 doors of four kinds, of which three rows are wrong: a kind that is none, a reference
    said twice, a day that is none.
    """
    rows = [
        {
            "reference": f"{n:04d}",
            "tag": f"H-{n:04d}",
            "location": f"Ward {n % 12}",
            "door_type": KINDS[n % 4],
            "installed_on": "2019-05-01",
            "fire_door": "yes",
            "in_place_since": "2020-01-31",
        }
        for n in range(1, DOORS + 1)
    ]
    rows[9]["door_type"] = "curtain"
    rows[19]["reference"] = "0019"
    rows[29]["in_place_since"] = "31/31/2020"
    return rows


def test_a_firm_brings_a_hospital_of_312_doors(field: Field) -> None:
    """The dry run says which rows are good and which are wrong, and stores nothing; the run
    answers the id of each door by the firm's own reference, and what is due stands in a calendar.
    """
    hospital_owner = field.firm.post("/v1/organizations", {"reference": "H", "name": "St Orrin"})
    house = {
        "reference": "H-01",
        "name": "St Orrin Hospital",
        "address": ["2 High Street", "Quillhaven"],
        "time_zone": ZONE,
        "jurisdiction": TOWN,
        "in_custody_from": "2020-01-01",
        "owner_id": hospital_owner["id"],
    }
    site = field.firm.post("/v1/sites", house)["id"]
    rows = hospital()
    dry = field.read_in(field.firm, rows, site, chunk_size=100, dry_run=True)
    wrong = {
        row["row"]: {(p["column"], p["code"]) for p in row["problems"]}
        for row in field.firm.every(f"/v1/imports/{dry['id']}/rows", outcome="refused")
    }
    assert wrong == {
        10: {("door_type", "unknown_value")},
        20: {("reference", "said_twice")},
        30: {("in_place_since", "ambiguous_date")},
    }
    assert (dry["counts"]["rows"], dry["counts"]["refused"]) == (DOORS, 3)
    assert list(field.firm.every("/v1/openings", site=site)) == []
    rows[9]["door_type"], rows[19]["reference"] = "rolling", "0020"
    rows[29]["in_place_since"] = "2020-01-31"
    mended = field.read_in(field.firm, rows, site, chunk_size=100, dry_run=True)
    assert (mended["counts"]["created"], mended["counts"].get("refused", 0)) == (DOORS, 0)
    real = field.read_in(
        field.firm, rows, site, chunk_size=100, dry_run=False, follows=mended["id"]
    )
    fates = list(field.firm.every(f"/v1/imports/{real['id']}/rows", limit="200"))
    ids = {fate["reference"]: fate["thing"] for fate in fates}
    assert {fate["outcome"] for fate in fates} == {"created"}
    openings = {o["reference"]: o for o in field.firm.every("/v1/openings", site=site, limit="200")}
    assert ids == {reference: o["id"] for reference, o in openings.items()}
    assert sorted(ids) == [row["reference"] for row in rows]
    kinds = [o["door_type"] for o in openings.values()]
    assert {kind: kinds.count(kind) for kind in KINDS} == dict.fromkeys(KINDS, 78)
    duties = list(field.firm.every("/v1/duties", site=site, limit="200"))
    assert {d["opening"] for d in duties} == set(ids.values())
    calendar = field.firm.file("/v1/duties/calendar").decode()
    running = [d for d in duties if d["state"] != "suspended"]  # for want of a fact
    assert calendar.count("BEGIN:VEVENT") == len(running) + 2  # and those of the cast's own door
    assert field.state(UUID(ids["0001"]), seen_by=field.firm) == {
        "visits": [],
        "wanting": [],
        "duties": {
            "cms-sc-17-38/inspection/yearly": ("suspended", "2020-05-01"),
            INSTALLED: ("overdue", "2019-05-01"),
            YEARLY: ("overdue", "2020-05-01"),
        },
        "deficiencies": [],
        "filings": [],
        "notices": [],
        "ledger": [
            "key_issued",
            "owner_made",
            *["blob_kept", "import_asked_for"] * 2,
            "import_asked_for",
        ],
    }


def test_a_door_is_given_another_tag(field: Field) -> None:
    """The same door by either tag, each with its days; a packet tells which it bore when."""
    opening = field.cast.opening.id
    before = field.begun(opening)
    field.visit(opening, field.conforming(opening), at=days_ago(40))
    changed = (today() - timedelta(days=20)).isoformat()
    field.owner.post(f"/v1/openings/{opening}/tags", {"tag": "E2-07", "begins_on": changed})
    field.visit(opening, field.conforming(opening), at=days_ago(1))
    for tag in ("A-1", "E2-07"):
        assert [o["id"] for o in field.firm.get("/v1/openings", tag=tag)["data"]] == [str(opening)]
    then, now = (today() - timedelta(days=40)).isoformat(), today().isoformat()
    found = {
        (tag, on): len(field.firm.get("/v1/openings", tag=tag, on=on)["data"])
        for tag in ("A-1", "E2-07")
        for on in (then, now)
    }
    assert found == {("A-1", then): 1, ("A-1", now): 0, ("E2-07", then): 0, ("E2-07", now): 1}
    packet = field.words_of(field.assembled())
    assert f"Tags A-1 from 2020-01-01 until {changed} E2-07 from {changed}" in packet
    assert field.state(opening) == before | {
        "visits": [(PERIODIC, "conforms", True, False)] * 2,
        "wanting": [{}, {}],
        "duties": before["duties"] | {YEARLY: ("open", a_year_after(1))},
        "notices": [OVERDUE],
        "ledger": [
            *before["ledger"],
            "visit_recorded",
            "opening_retagged",
            "visit_recorded",
            "submittal_assembled",
        ],
    }


def test_a_building_is_sold(field: Field) -> None:
    """The buyer has the door with its record, what is due and what stands open, and not the
    seller's people; the seller reads its own time and records no more; the firm's leave has ended.
    """
    opening, site = field.cast.opening.id, field.cast.site.id
    buyer = field.client(field.cast.neighbour)
    bad = field.visit(opening, field.conforming(opening, opening_force="16"), at=days_ago(30))
    sold = field.state(opening)
    bought = field.begun(opening, seen_by=buyer)
    assert (bought["visits"], bought["duties"]) == ([], {})
    offered = {"buyer": str(field.cast.neighbour.id), "begins_on": today().isoformat()}
    offer = field.owner.post(f"/v1/sites/{site}/custody", offered)
    buyer.post(f"/v1/custody-offers/{offer['id']}/acceptance", expect=200)
    same = ("visits", "wanting", "duties", "deficiencies", "filings")
    after = field.state(opening, seen_by=buyer)
    assert after == bought | {name: sold[name] for name in same} | {
        "ledger": [*bought["ledger"], "custody_received"]
    }
    assert after["deficiencies"] == [(FORCE, "open", False)]
    assert len(list(buyer.every("/v1/people"))) == 1  # its own
    body = visit_body(opening, field.conforming(opening, of=field.cast.neighbour))
    field.firm.post("/v1/visits", body, once=str(uuid4()), expect=422)
    field.owner.post("/v1/visits", body, once=str(uuid4()), expect=422)
    retest = buyer.post("/v1/visits", body, once=str(uuid4()))
    former = field.state(opening)
    assert field.owner.get(f"/v1/visits/{bad['id']}")["id"] == bad["id"]
    field.owner.get(f"/v1/visits/{retest['id']}", expect=404)
    assert former == sold | {
        "duties": {},
        "notices": [("test_failed", "Ada Quist", "sent")],  # of what is due it sees nothing more
        "ledger": [*sold["ledger"], "custody_offered", "custody_passed"],
    }


def test_another_firm_takes_over_in_the_middle_of_the_year(field: Field) -> None:
    """By the owner's grant the new firm reads what stands open and what was found; it changes no
    visit of the old firm's and closes the deficiency by a repair and a retest alone.
    """
    opening = field.cast.opening.id
    before = field.begun(opening)
    bad = field.visit(opening, field.conforming(opening, opening_force="16"), at=days_ago(30))
    (old,) = field.owner.get("/v1/grants")["data"]
    field.owner.post(f"/v1/grants/{old['id']}/end", {"ends_on": today().isoformat()}, expect=200)
    new = field.client(field.cast.stranger)
    leave = {
        "grantee": str(field.cast.stranger.id),
        "actions": ["history", "record", "repair"],
        "begins_on": (today() - timedelta(days=20)).isoformat(),
    }
    field.owner.post("/v1/grants", leave)
    assert new.get(f"/v1/visits/{bad['id']}")["judgement"] == bad["judgement"]
    good = field.conforming(opening, opening_force="11")
    edit = visit_body(opening, good, supersedes=bad["id"], reason="it was not so")
    refused = new.post("/v1/visits", edit, once=str(uuid4()), expect=422)
    assert [e["pointer"] for e in refused["errors"]] == ["/supersedes"]
    (deficiency,) = new.get("/v1/deficiencies")["data"]
    mended = {
        "done_at": days_ago(2).isoformat(),
        "done_by": "Ivo Lund",
        "words": "closer adjusted",
    }
    new.post(f"/v1/deficiencies/{deficiency['id']}/repairs", mended)
    field.visit(opening, good, by=new, activity="repair_retest", at=days_ago(1))
    assert field.firm.get(f"/v1/visits/{bad['id']}")["judgement"] == bad["judgement"]
    field.firm.get(f"/v1/openings/{opening}", expect=404)
    assert field.state(opening) == before | {
        "visits": [
            (PERIODIC, "does_not_conform", True, False),
            ("repair_retest", "conforms", True, False),
        ],
        "wanting": [{"opening_force": "does_not_conform"}, {}],
        "duties": before["duties"]
        | {
            YEARLY: ("open", a_year_after(30)),
            RETEST: ("ended", (today() - timedelta(days=2)).isoformat()),
        },
        "deficiencies": [(FORCE, "proven", False)],
        "notices": [
            OVERDUE,
            ("repair_proven", "Ada Quist", "sent"),
            ("test_failed", "Ada Quist", "sent"),
        ],
        "ledger": [
            *before["ledger"],
            "visit_recorded",
            "deficiency_open",
            "leave_ended",
            "leave_granted",
            "repair_recorded",
            "visit_recorded",
            "deficiency_proven",
        ],
    }


def test_a_door_is_replaced_by_another(field: Field) -> None:
    """The old one's duties end and its record stays; what was open on it is closed as removed,
    with the authority's reference; the new one is another door that says which it replaces.
    """
    opening = field.cast.opening.id
    before = field.begun(opening)
    field.visit(opening, field.conforming(opening, opening_force="16"), at=days_ago(30))
    gone = {
        "removed_on": today().isoformat(),
        "reason": "the wall was opened",
        "authority_reference": "permit 2291",
        "opening": {
            "tag": "A-1",
            "location": "Lobby to atrium",
            "door_type": "accordion",
            "facts": FACTS | {"installed_on": today().isoformat()},
        },
    }
    new = field.owner.post(f"/v1/openings/{opening}/replacement", gone)
    assert (new["replaces"], new["id"] != str(opening)) == (str(opening), True)
    old = field.owner.get(f"/v1/openings/{opening}")
    assert (old["removed_on"], old["removal_reference"]) == (today().isoformat(), "permit 2291")
    (closed,) = field.owner.get("/v1/deficiencies")["data"]
    assert closed["reason"] == "opening removed, permit 2291"
    body = visit_body(opening, field.conforming(opening))
    after = field.state(opening)
    assert after == before | {
        "visits": [(PERIODIC, "does_not_conform", True, False)],
        "wanting": [{"opening_force": "does_not_conform"}],
        "duties": {INSTALLED: ("ended", "2019-05-01"), YEARLY: ("ended", a_year_after(30))},
        "deficiencies": [(FORCE, "withdrawn", False)],
        "notices": [("test_failed", "Ada Quist", "sent")],
        "ledger": [
            *before["ledger"],
            "visit_recorded",
            "deficiency_open",
            "deficiency_withdrawn",
            "opening_removed",
            "opening_added",
        ],
    }
    assert field.begun(UUID(new["id"]))["duties"] == {
        INSTALLED: ("due", today().isoformat()),
        YEARLY: ("open", a_year_after(0)),
    }
    field.firm.post("/v1/visits", body, once=str(uuid4()), expect=422)


ORDER = """
[jurisdiction]
code = "us-orrin"
parent = "us"
name = "Orrin"

[[adopt]]
publication = "{edition}"
from = {begins_on}
standing = "verified"
supersedes = {supersedes}
citation = {{ publication = "Ordinance of the town (invented)", edition = "1", clause = "2" }}
"""


def publish(authority: Caller, edition: str, begins_on: str, supersedes: str = "false") -> str:
    """The town adopts an edition from a day on."""
    document = ORDER.format(edition=edition, begins_on=begins_on, supersedes=supersedes)
    draft = {"jurisdiction": "us-orrin", "title": f"Ordinance {edition}", "document": document}
    made = authority.post("/v1/overrides", draft)
    authority.post(f"/v1/overrides/{made['id']}/publication", expect=200)
    return str(made["id"])


def test_an_edition_is_adopted_between_two_visits(field: Field) -> None:
    """Each visit is judged by what held on its day, and no visit is judged anew; the edition by
    which the door was built stays its own; what the next edition will ask can be seen beforehand.
    """
    opening, site = field.cast.opening.id, field.cast.site.id
    country = establish_jurisdiction(code="us", name="United States", kind="country")
    office = register_organization(name="Orrin Fire Office", capabilities=["authority"])
    establish_jurisdiction(
        code="us-orrin", name="Orrin", kind="city", parent=country, time_zone=ZONE, authority=office
    )
    places = {"jurisdictions": ["us-orrin"], "begins_on": "2020-01-02"}
    field.owner.post(f"/v1/sites/{site}/places", places)
    before = field.state(opening)
    earlier = field.visit(opening, field.conforming(opening), at=days_ago(1))
    authority = field.client(office)
    publish(authority, "nfpa-80-2013", today().isoformat())
    sheet = field.conforming(opening)
    later = field.visit(opening, sheet, at=datetime.now(UTC).replace(microsecond=0))
    stored = field.owner.get(f"/v1/visits/{earlier['id']}")
    assert stored["judgement"] == earlier["judgement"]
    for visit, adoption in ((stored, "not_recorded"), (later, "recorded")):
        assert told_of(visit, "looked-at-first")["adoption"] == adoption
        built_by = told_of(visit, "set_in_motion_force")
        assert built_by["requirement"] == "ibc-2018/special-purpose/set-in-motion"
    assert told_of(earlier, "opening-kept-clear")["verdict"] == "conforms"
    coming = publish(authority, "nfpa-80-2022", (today() + timedelta(days=30)).isoformat(), "true")
    seen = field.owner.get(f"/v1/openings/{opening}/what-if", override=coming)
    added = {r["requirement"] for r in seen["requirements"]["added"]}
    assert added == {"nfpa-80-2016/opening-kept-clear"}
    (again,) = seen["visits"]
    assert (again["visit"], again["summary"]) == (
        later["id"],
        {"before": "conforms", "after": "not_tested"},
    )
    assert field.state(opening) == before | {
        "visits": [(PERIODIC, "conforms", True, False)] * 2,
        "wanting": [{}, {}],
        "duties": before["duties"] | {YEARLY: ("upcoming", a_year_after(0))},
        "ledger": [*before["ledger"], "visit_recorded", "visit_recorded"],
    }


def test_a_city_and_a_county_both_claim_a_building(field: Field) -> None:
    """Both may hold, each from a day on; a packet is filed with each, and each answers for itself
    and sees the other's answer nowhere.
    """
    opening, site = field.cast.opening.id, field.cast.site.id
    office = register_organization(name="Harrow County Fire Office", capabilities=["authority"])
    country = establish_jurisdiction(code="us", name="United States", kind="country")
    establish_jurisdiction(
        code="us-harrow", name="Harrow County", kind="county", parent=country, authority=office
    )
    before = field.begun(opening)
    since = (today() - timedelta(days=10)).isoformat()
    both = {"jurisdictions": [TOWN, "us-harrow"], "begins_on": since}
    placed = field.owner.post(f"/v1/sites/{site}/places", both)["data"]
    assert {(p["jurisdiction"], p["begins_on"]) for p in placed} == {
        (TOWN, "2020-01-01"),
        ("us-harrow", since),
    }
    field.visit(opening, field.conforming(opening))
    packet = field.assembled()
    for code in (TOWN, "us-harrow"):
        field.firm.post(f"/v1/submittals/{packet['id']}/filings", {"jurisdiction": code})
    county = field.client(office)
    answer = f"/v1/submittals/{packet['id']}/answer"
    field.authority.post(answer, {"state": "accepted"}, expect=200)
    county.post(answer, {"state": "returned", "remarks": "Name the annexed parcel."}, expect=200)
    for who, state in ((field.authority, "accepted"), (county, "returned")):
        (filing,) = who.get(f"/v1/submittals/{packet['id']}")["filings"]
        assert filing["state"] == state
        feed = who.get("/v1/submittals/changes")["data"]
        assert [(c["position"], c["state"]) for c in feed] == [(1, "filed"), (2, state)]
    assert field.state(opening) == before | {
        "visits": [(PERIODIC, "conforms", True, False)],
        "wanting": [{}],
        "duties": before["duties"] | {YEARLY: ("upcoming", a_year_after(0))},
        "filings": [
            ("Quillhaven Fire Office", "accepted"),
            ("Harrow County Fire Office", "returned"),
        ],
        "notices": [OVERDUE, *[("submittal_filed", "Ada Quist", "sent")] * 2],
        "ledger": [
            *before["ledger"],
            "places_changed",
            "visit_recorded",
            "submittal_assembled",
            "submittal_filed",
            "submittal_filed",
            "submittal_answered",
            "submittal_answered",
        ],
    }
