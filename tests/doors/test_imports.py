"""Tables read in: looked at first, chunk by chunk, found again by the customer's own reference."""

from __future__ import annotations

from resource import RUSAGE_SELF, getrusage
from time import monotonic
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from doors.models import Job, Key, LedgerEntry, Opening, OpeningTag, Site
from doors.services.devices import fit_battery
from doors.services.jobs import run_waiting_jobs
from doors.services.ledger import verify_ledger
from doors.services.lives import remove_opening, retag_opening
from doors.services.tables import TableError, guarded_text, read_table, unguarded
from doors.tenancy import acting_for
from inspections.models import Duty, ReportedVisit
from inspections.services.proofs import prove_all_now
from tests.cast import TOWN, Cast, findings, today, visit
from tests.clients import client_of

HEADING = "reference,tag,location,door_type,floor,occupant_load,opening_width,sprinklered"
ROWS = (
    "0012,N-1,Lobby,swinging,1,30,36 in,yes",
    '0013,N-2,"Hall, north",accordion,2,,,',
    '0014,N-3,"Court ""lower""",rolling,B1,5,2.5 m,no',
)


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    """Whoever brings the table."""
    return client_of(cast.owner)


def csv_of(*rows: str, heading: str = HEADING) -> str:
    """A table as text."""
    return "\r\n".join([heading, *rows]) + "\r\n"


def ask(client: APIClient, table: str | bytes, **more: Any) -> Any:  # noqa: ANN401 (an answer)
    """Send a table and ask for it to be read."""
    sent: Any = table.encode() if isinstance(table, str) else table
    kept = client.generic("POST", "/v1/blobs", sent, content_type="text/csv")
    assert kept.status_code in {200, 201}, kept.content
    body = {"kind": "openings", "source_sha256": kept.json()["sha256"], "dry_run": True, **more}
    return client.post("/v1/imports", body, format="json", HTTP_IDEMPOTENCY_KEY=str(uuid4()))


def queries_of_the_work() -> int:
    """How many queries the waiting jobs ask; counted at once, for a request forgets them."""
    with CaptureQueriesContext(connection) as queries:
        run_waiting_jobs()
    return len(queries)


def done(client: APIClient, asked: Any) -> dict[str, Any]:  # noqa: ANN401 (an answer)
    """The import once its job has ended."""
    assert asked.status_code == 202, asked.content
    for _ in range(5):
        run_waiting_jobs()
    found: dict[str, Any] = client.get(f"/v1/imports/{asked.json()['id']}").json()
    return found


def fates(client: APIClient, found: dict[str, Any]) -> list[tuple[int, str]]:
    """Each row's number and what came of it."""
    rows = client.get(f"/v1/imports/{found['id']}/rows", {"limit": 200}).json()["data"]
    return [(row["row"], row["outcome"]) for row in rows]


def problems(client: APIClient, found: dict[str, Any]) -> list[tuple[int, str, str]]:
    """Row, column and code of each mistake."""
    rows = client.get(f"/v1/imports/{found['id']}/rows", {"limit": 200}).json()["data"]
    return [(row["row"], p["column"], p["code"]) for row in rows for p in row["problems"]]


def test_a_dry_run_says_what_would_come_and_stores_nothing(cast: Cast, owner: APIClient) -> None:
    """The very work, taken back; then the real run, then again without a change."""
    site = str(cast.site.id)
    dry = done(owner, ask(owner, csv_of(*ROWS), site=site))
    assert dry["job"]["state"] == "done", dry["job"]
    assert {k: dry["counts"][k] for k in ("rows", "created", "refused")} == {
        "rows": 3,
        "created": 3,
        "refused": 0,
    }
    with acting_for(cast.owner.id, write=False):
        assert Opening.objects.count() == 1
    real = done(owner, ask(owner, csv_of(*ROWS), site=site, dry_run=False, follows=dry["id"]))
    assert real["counts"]["created"] == 3
    with acting_for(cast.owner.id, write=False):
        made = Opening.objects.get(reference="0014")
        assert (made.location, made.floor, made.door_type) == ('Court "lower"', "B1", "rolling")
        assert Duty.objects.filter(opening=made).exists()
        before = (Opening.objects.count(), LedgerEntry.objects.count())
    again = done(owner, ask(owner, csv_of(*ROWS), site=site, dry_run=False, without_dry_run=True))
    assert again["counts"]["unchanged"] == 3
    with acting_for(cast.owner.id, write=False):
        assert Opening.objects.count() == before[0]
    rows = owner.get(f"/v1/imports/{real['id']}/rows").json()["data"]
    assert {row["reference"] for row in rows} == {"0012", "0013", "0014"}
    assert all(owner.get(f"/v1/openings/{row['thing']}").status_code == 200 for row in rows)


def test_a_cell_may_hold_several_lines(cast: Cast, owner: APIClient) -> None:
    """Quoted, with separators and quotes of its own; rows are counted, not lines."""
    heading = "reference,tag,location,door_type,remarks"
    table = csv_of(
        '1,N-1,Lobby,swinging,"two\r\nlines, ""so"""', "2,N-1,Hall,swinging,", heading=heading
    )
    more = {"site": str(cast.site.id), "dry_run": False, "without_dry_run": True, "chunk_size": 1}
    found = done(owner, ask(owner, table, **more))
    assert problems(owner, found) == [(2, "tag", "said_twice")]
    with acting_for(cast.owner.id, write=False):
        assert Opening.objects.get(tag="N-1").remarks == 'two\r\nlines, "so"'


def test_zeros_eaten_by_a_spreadsheet_are_noticed(cast: Cast, owner: APIClient) -> None:
    """12 where 0012 stands is refused; a table that says both is asked only to look again, in
    whichever chunks they are, by the dry run and the run alike.
    """
    more = {"site": str(cast.site.id), "chunk_size": 1}
    table = csv_of(ROWS[0], "0020,N-8,Hall,swinging,1,,,", "12,N-9,Hall,swinging,1,,,")
    dry = done(owner, ask(owner, table, **more))
    real = done(owner, ask(owner, table, dry_run=False, follows=dry["id"], **more))
    for found in (dry, real):
        rows = owner.get(f"/v1/imports/{found['id']}/rows").json()["data"]
        said = [[(w["column"], w["code"]) for w in row["warnings"]] for row in rows]
        assert said == [[], [], [("reference", "zeros_differ")]]
        assert found["counts"]["created"] == 3
    again = done(owner, ask(owner, csv_of("020,N-7,Hall,swinging,1,,,"), **more))
    assert problems(owner, again) == [(1, "reference", "refused")]


def test_a_dry_run_finds_what_the_run_finds(cast: Cast, owner: APIClient) -> None:
    """Row by row, though each of its chunks is taken back before the next begins."""
    heading = f"site_reference,{HEADING}"
    with acting_for(cast.owner.id, write=False):
        site = Site.objects.get(id=cast.site.id)
    bare, named = "", site.reference
    rows = [
        f"{bare},R1,N-1,Lobby,swinging,1,,,",
        f"{named},R2,N-2,Lobby,swinging,1,,,",
        f"{named},R1,N-3,Lobby,swinging,1,,,",  # the same site, said otherwise
        f"{bare},R4,N-2,Lobby,swinging,1,,,",
        f"{bare},R\u0041\u030a,N-5,Lobby,swinging,1,,,",
        f"{bare},R\u00c5,N-6,Lobby,swinging,1,,,",  # the same letter, written otherwise
        f"{bare},R7,A-1,Lobby,swinging,1,,,",
        f"{bare},R8,N-8,Lobby,curtain,1,,,",
    ]
    more = {"site": str(cast.site.id), "chunk_size": 1}
    table = csv_of(*rows, heading=heading)
    dry = done(owner, ask(owner, table, **more))
    real = done(owner, ask(owner, table, dry_run=False, follows=dry["id"], **more))
    wrong = [
        (3, "reference", "said_twice"),
        (4, "tag", "said_twice"),
        (6, "reference", "said_twice"),
        (7, "tag", "already_exists"),
        (8, "door_type", "unknown_value"),
    ]
    assert problems(owner, dry) == wrong
    assert problems(owner, real) == wrong
    assert fates(owner, dry) == fates(owner, real)


def test_many_openings_ask_no_more_of_the_site_than_few(cast: Cast, owner: APIClient) -> None:
    """What is asked of a site, its places, its chain and of what bears the names of the rows is
    asked once a chunk, not once a row.
    """

    def asked(first: int, many: int) -> int:
        rows = [f"Q{n},Q-{n},Lobby,swinging,1,{n},36 in,yes" for n in range(first, first + many)]
        more = {"site": str(cast.site.id), "dry_run": False, "without_dry_run": True}
        left = ask(owner, csv_of(*rows), **more)
        took = queries_of_the_work()
        assert done(owner, left)["counts"]["created"] == many
        return took

    few, many = asked(100, 10), asked(200, 60)
    assert 0 < few <= many <= few + 5  # of fifty more
    with acting_for(cast.owner.id, write=False):
        assert Duty.objects.filter(opening__reference="Q259").exists()
        assert verify_ledger()[1] is None


@pytest.mark.parametrize("chunk_size", [1, 2, 10])
def test_a_dry_run_sees_the_tags_that_earlier_rows_free(
    cast: Cast, owner: APIClient, chunk_size: int
) -> None:
    """In whichever chunk: it says what the real import then does, and changes nothing itself."""
    site, real = str(cast.site.id), {"dry_run": False, "without_dry_run": True}
    first = [f"K{n},K-{n},Lobby,swinging,1,,," for n in range(3)]
    done(owner, ask(owner, csv_of(*first), site=site, **real))
    moved = ["K0,K-9,Lobby,swinging,1,,,", "K1,K-0,Lobby,swinging,1,,,", "K8,K-1,Hall,rolling,1,,,"]
    more = {"site": site, "chunk_size": chunk_size}
    dry = done(owner, ask(owner, csv_of(*moved), **more))
    assert (dry["counts"]["refused"], dry["counts"]["updated"]) == (0, 2), dry["counts"]
    taken = done(owner, ask(owner, csv_of(moved[2], moved[0], moved[1]), **more))
    assert taken["counts"]["refused"] == 1  # its tag is freed by a later row only
    with acting_for(cast.owner.id, write=False):
        borne = Opening.objects.filter(reference__startswith="K").order_by("reference")
        assert list(borne.values_list("tag", flat=True)) == ["K-0", "K-1", "K-2"]
    assert done(owner, ask(owner, csv_of(*moved), **more, **real))["counts"] == dry["counts"]


@pytest.mark.long
def test_five_thousand_openings_in_three_minutes(cast: Cast, owner: APIClient) -> None:
    """With facts of their own, progress that moves, and memory that does not grow with rows."""
    rows = [
        f"R{n:05d},T-{n},Lobby {n},swinging,{n % 40},{n % 997},{20 + n % 61}.{n % 8} in,yes"
        for n in range(5_000)
    ]
    left = ask(owner, csv_of(*rows), site=str(cast.site.id), dry_run=False, without_dry_run=True)
    seen, began, resident = [], monotonic(), []
    while run_waiting_jobs():
        seen.append(owner.get(f"/v1/imports/{left.json()['id']}").json()["job"]["done"])
        resident.append(getrusage(RUSAGE_SELF).ru_maxrss)
    took = monotonic() - began
    assert done(owner, left)["counts"]["created"] == 5_000
    assert took < 180, f"{took:.0f} s"
    assert seen == sorted(set(seen)), seen
    # kB, from the second turn on: by then the bounded caches of resolved rules are full
    assert resident[-1] - resident[1] < 40_000, resident


def lived_since(cast: Cast, things: dict[str, str]) -> None:
    """A visit by the firm, another tag, a battery, a removal: of 0010 to 0013, one each."""
    with acting_for(cast.firm.id, write=True):
        visited = Opening.objects.get(id=things["0010"])
        visit(visited, findings(("closing_speed", "12", "in/s")))
    with acting_for(cast.owner.id, write=True):
        retag_opening(opening_id=UUID(things["0011"]), tag="T-X")
        fit_battery(opening_id=UUID(things["0012"]), begins_on=today(), battery_type="agm")
        remove_opening(opening_id=UUID(things["0013"]), removed_on=today(), reason="walled up")


def test_what_an_import_made_is_taken_back_where_nothing_came_since(
    cast: Cast, owner: APIClient
) -> None:
    """What has been visited, changed or fitted since stays and is named, and so does what stood
    before; the doors taken back are removed with the reason, and can be brought again.
    """
    site = str(cast.site.id)
    more = {"site": site, "dry_run": False, "without_dry_run": True}
    done(owner, ask(owner, csv_of("0009,N-0,Attic,swinging,3,,,"), **more))
    rows = [f"00{n},T-{n},Lobby,accordion,1,30,36 in,yes" for n in range(10, 16)]
    table = csv_of("0009,N-0,Attic,swinging,4,,,", *rows)
    made = done(owner, ask(owner, table, **more))
    things = {
        row["reference"]: row["thing"]
        for row in owner.get(f"/v1/imports/{made['id']}/rows").json()["data"]
    }
    lived_since(cast, things)
    undo = f"/v1/imports/{made['id']}/withdrawal"
    found = done(owner, owner.post(undo, {"reason": "the wrong table"}, format="json"))
    assert found["job"]["state"] == "done", found["job"]
    assert (found["withdraws"], found["counts"]["taken_back"]) == (made["id"], 2)
    told = owner.get(f"/v1/imports/{found['id']}/rows").json()["data"]
    kept = {row["reference"]: row["problems"][0]["detail"] for row in told if row["problems"]}
    assert set(kept) == {"0009", "0010", "0011", "0012", "0013"}
    came = {"0009": "stood before", "0010": "visit", "0011": "change"}
    assert all(words in kept[reference] for reference, words in came.items())
    gone = owner.get(f"/v1/openings/{things['0014']}").json()
    assert (gone["removed_on"], gone["removal_reason"]) == (today().isoformat(), "the wrong table")
    with acting_for(cast.owner.id, write=False):
        ended = Duty.objects.filter(opening=things["0015"])
        assert {duty.standing for duty in ended} == {"ended"}
        assert verify_ledger()[1] is None
    again = done(owner, ask(owner, csv_of(rows[4], rows[5]), **more))
    assert again["counts"]["created"] == 2
    twice = done(owner, owner.post(undo, {"reason": "again"}, format="json"))
    assert (twice["counts"]["taken_back"], twice["counts"]["kept"]) == (0, 7)


def test_taking_many_back_asks_no_more_than_taking_few(cast: Cast, owner: APIClient) -> None:
    """What happened since, the duties and the chain are looked at once a chunk, not once a row;
    what is stored of their duties is what is computed.
    """

    def asked(first: int, many: int) -> int:
        rows = [f"U{n},U-{n},Lobby,swinging,1,{n},36 in,yes" for n in range(first, first + many)]
        more = {"site": str(cast.site.id), "dry_run": False, "without_dry_run": True}
        made = done(owner, ask(owner, csv_of(*rows), **more))
        undo = f"/v1/imports/{made['id']}/withdrawal"
        left = owner.post(undo, {"reason": "the wrong table"}, format="json")
        took = queries_of_the_work()
        assert done(owner, left)["counts"]["taken_back"] == many
        return took

    few, many = asked(100, 10), asked(200, 60)
    assert 0 < few <= many <= few + 5  # of fifty more
    with acting_for(cast.owner.id, write=False):
        gone = Duty.objects.filter(opening__reference__startswith="U")
        assert {duty.standing for duty in gone} == {Duty.Standing.ENDED}
        assert verify_ledger()[1] is None
    assert {differences for _, _, differences in prove_all_now()} == {0}


@pytest.mark.parametrize("kind", ["dry run", "withdrawal", "sites", "unended", "stranger"])
def test_only_what_an_import_made_is_taken_back(cast: Cast, owner: APIClient, kind: str) -> None:
    """A dry run made nothing, sites have no end of their own, and one under way is waited for."""
    more = {"site": str(cast.site.id), "dry_run": kind == "dry run", "without_dry_run": True}
    table = csv_of(ROWS[0])
    if kind == "sites":
        heading = "reference,name,address_1,time_zone,jurisdiction"
        table = csv_of(f"P-1,Mill,1 Mill Lane,America/Chicago,{TOWN}", heading=heading)
        more |= {"kind": "sites"}
    asked = ask(owner, table, **more)
    found = asked.json() if kind == "unended" else done(owner, asked)
    by = client_of(cast.firm) if kind == "stranger" else owner
    address = f"/v1/imports/{found['id']}/withdrawal"
    if kind == "withdrawal":
        found = done(owner, owner.post(address, {"reason": "wrong"}, format="json"))
        address = f"/v1/imports/{found['id']}/withdrawal"
    answer = by.post(address, {"reason": "wrong"}, format="json")
    assert answer.status_code == (404 if kind == "stranger" else 409), answer.content


def test_reports_an_import_told_are_withdrawn(cast: Cast) -> None:
    """With the reason, and they count no more."""
    firm = client_of(cast.firm)
    heading = "client_ref,tag,activity,performed_on,performed_by,outcome"
    row = "b-1,A-1,periodic_inspection,2024-05-03,A former firm,no_fault_reported"
    more = {"kind": "reported_visits", "site": str(cast.site.id)}
    made = done(firm, ask(firm, csv_of(row, heading=heading), dry_run=False,
                          without_dry_run=True, **more))  # fmt: skip
    asked = firm.post(f"/v1/imports/{made['id']}/withdrawal", {"reason": "twice"}, format="json")
    assert done(firm, asked)["counts"]["taken_back"] == 1
    with acting_for(cast.firm.id, write=False):
        assert ReportedVisit.objects.get().withdrawal_reason == "twice"


def test_a_changed_row_changes_its_thing_from_today(cast: Cast, owner: APIClient) -> None:
    """Particulars, facts and tag; an empty cell says nothing; another kind of door is refused."""
    site = str(cast.site.id)
    more = {"site": site, "dry_run": False, "without_dry_run": True}
    done(owner, ask(owner, csv_of(*ROWS), **more))
    changed = csv_of("0012,N-9,Lobby,swinging,,31,,", "0013,N-2,Hall,rolling,2,,,")
    found = done(owner, ask(owner, changed, chunk_size=1, **more))
    assert fates(owner, found) == [(1, "updated"), (2, "refused")]
    assert problems(owner, found) == [(2, "door_type", "refused")]
    with acting_for(cast.owner.id, write=False):
        row = Opening.objects.get(reference="0012")
        assert (row.tag, row.floor) == ("N-9", "1")
        assert OpeningTag.objects.filter(opening=row).count() == 2
    facts = owner.get(f"/v1/openings/{row.id}").json()["facts"]
    assert facts["occupant_load"] == 31
    assert facts["opening_width"] == {"value": "36", "unit": "in"}


def test_a_chunk_is_stored_whole_or_not_at_all(cast: Cast, owner: APIClient) -> None:
    """The good row beside a bad one is held back; other chunks stand."""
    rows = [*ROWS, "0015,N-4,Attic,curtain,3,,,"]
    more = {"site": str(cast.site.id), "dry_run": False, "without_dry_run": True}
    found = done(owner, ask(owner, csv_of(*rows), chunk_size=2, **more))
    assert fates(owner, found) == [
        (1, "created"),
        (2, "created"),
        (3, "held_back"),
        (4, "refused"),
    ]
    assert problems(owner, found) == [(4, "door_type", "unknown_value")]
    assert found["counts"]["held_back"] == 1
    with acting_for(cast.owner.id, write=False):
        assert set(Opening.objects.exclude(reference="").values_list("reference", flat=True)) == {
            "0012",
            "0013",
        }


@pytest.mark.parametrize(
    ("row", "column", "code"),
    [
        ("0012,N-8,Lobby,swinging,1,,,", "reference", "said_twice"),
        ("0020,N-1,Lobby,swinging,1,,,", "tag", "said_twice"),
        ("0020,A-1,Lobby,swinging,1,,,", "tag", "already_exists"),
        ("0020,,Lobby,swinging,1,,,", "tag", "missing"),
        ("0020,N-8,Lobby,Swinging,1,,,", "door_type", "unknown_value"),
        ("0020,N-8,Lobby,swinging,1,x,,", "occupant_load", "not_whole"),
        ("0020,N-8,Lobby,swinging,1," + "9" * 5000 + ",,", "occupant_load", "not_whole"),
        ("0020,N-8,Lobby,swinging,1,,36 lbf,", "opening_width", "wrong_dimension"),
        ("0020,N-8,Lobby,swinging,1,,36,", "opening_width", "unknown_unit"),
        ("0020,N-8,Lobby,swinging,1,,,maybe", "sprinklered", "not_a_flag"),
        ("0020,N-8,Lob\u202eby,swinging,1,,,", "location", "direction_control"),
        ("0020,N-8,Lob\u200bby,swinging,1,,,", "location", "invisible_character"),
        ("0020,N-8, Lobby,swinging,1,,,", "location", "outer_space"),
        ("0020,N-8,Lob\x07by,swinging,1,,,", "location", "control_character"),
        (f"0020,{'N' * 61},Lobby,swinging,1,,,", "tag", "too_long"),
    ],
)
def test_a_mistake_is_named_by_row_and_column(
    cast: Cast, owner: APIClient, row: str, column: str, code: str
) -> None:
    """And the rows beside it are looked at all the same."""
    found = done(owner, ask(owner, csv_of(ROWS[0], row), site=str(cast.site.id)))
    assert problems(owner, found) == [(2, column, code)]
    assert fates(owner, found)[0] == (1, "created")


@pytest.mark.parametrize(
    ("order", "cell", "expected"),
    [
        (None, "2020-01-31", "2020-01-31"),
        ("dmy", "2020-01-31", "2020-01-31"),
        (None, "03/04/2020", "ambiguous_date"),
        (None, "31/01/2020", "ambiguous_date"),
        ("dmy", "03/04/2020", "2020-04-03"),
        ("mdy", "03/04/2020", "2020-03-04"),
        ("mdy", "31/01/2020", "not_a_date"),
        ("dmy", "3.4.20", "not_a_date"),
        ("ymd", "2020/4/3", "2020-04-03"),
        (None, "2020-02-30", "not_a_date"),
        (None, "yesterday", "not_a_date"),
    ],
)
def test_a_day_is_read_as_the_sender_says(
    cast: Cast, owner: APIClient, order: str | None, cell: str, expected: str
) -> None:
    """A day that could be another one is refused until they have said."""
    heading = "reference,tag,location,door_type,in_place_since"
    table = csv_of(f"7,N-1,Lobby,swinging,{cell}", heading=heading)
    more = {"date_order": order} if order else {}
    options = {"site": str(cast.site.id), "dry_run": False, "without_dry_run": True}
    found = done(owner, ask(owner, table, **options, **more))
    if expected[0].isdigit():
        with acting_for(cast.owner.id, write=False):
            assert OpeningTag.objects.get(tag="N-1").begins_on.isoformat() == expected
    else:
        assert problems(owner, found) == [(1, "in_place_since", expected)]


def test_columns_and_words_are_mapped_as_the_sender_says(cast: Cast, owner: APIClient) -> None:
    """With a byte-order mark, semicolons and their own words."""
    table = "\ufeffNr;Schild;Ort;Art;Notiz\n0099;N-1;Lobby;Falttor;x\n"
    mapping = {"Nr": "reference", "Schild": "tag", "Ort": "location", "Art": "door_type"}
    unmapped = ask(owner, table, site=str(cast.site.id), mapping=mapping)
    assert (unmapped.status_code, unmapped.json()["errors"][0]["pointer"]) == (422, "/mapping")
    found = done(
        owner,
        ask(
            owner,
            table,
            site=str(cast.site.id),
            mapping=mapping | {"Notiz": ""},
            values={"door_type": {"Falttor": "accordion"}},
        ),
    )
    assert found["counts"]["created"] == 1, problems(owner, found)


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"mapping": {"nothing": "tag"}}, "/mapping"),
        ({"mapping": {"floor": "hue"}}, "/mapping"),
        ({"mapping": {"floor": "tag"}}, "/mapping"),
        ({"mapping": {"tag": ""}}, "/mapping"),
        ({"dry_run": False}, "/follows"),
        ({"dry_run": False, "follows": str(uuid4())}, "/follows"),
        ({"source_sha256": "0" * 64}, "/source_sha256"),
        ({"kind": "visits"}, "/kind"),
        ({"chunk_size": 0}, "/chunk_size"),
        ({"chunk_size": 100_000}, "/chunk_size"),
        ({"separator": "|"}, "/separator"),
        ({"hue": 1}, "/hue"),
    ],
)
def test_a_wrong_request_is_refused_at_once(
    cast: Cast, owner: APIClient, wrong: dict[str, Any], pointer: str
) -> None:
    """Before any job is left."""
    answer = ask(owner, csv_of(*ROWS), site=str(cast.site.id), **wrong)
    assert answer.status_code in {400, 422}, answer.content
    assert answer.json()["errors"][0]["pointer"] == pointer
    with acting_for(cast.owner.id, write=False):
        assert not Job.objects.filter(kind="import_table").exists()


def test_a_real_run_follows_a_dry_run_of_the_same(cast: Cast, owner: APIClient) -> None:
    """Another table, or the same read otherwise, has not been looked at."""
    site = str(cast.site.id)
    dry = done(owner, ask(owner, csv_of(ROWS[0]), site=site))
    other = ask(owner, csv_of(ROWS[1]), site=site, dry_run=False, follows=dry["id"])
    assert other.json()["errors"][0]["pointer"] == "/follows"
    read = ask(
        owner, csv_of(ROWS[0]), site=site, dry_run=False, follows=dry["id"], date_order="dmy"
    )
    assert read.json()["errors"][0]["pointer"] == "/follows"


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "no heading"),
        (b"\n\n", "no heading"),
        ("a,b\n1,2\n".encode("utf-16"), "UTF-16"),
        (b"a,b\n\xe9,2\n", "Line 2 is not UTF-8"),
        (b"a,b\n1,\x002\n", "Line 2 holds a NUL"),
        (b"a,a\n1,2\n", "more than once"),
        (b'a,b\n"1,2\n', "cannot be read"),
        (b"a,b\n" + b"x" * 10_000_000 + b",2\n", "cannot be read"),
        (b"a,b\n" + b"x" * 20_000 + b",2\n", "too long"),
        (b"a,b\n1,2,3\n", "Row 1 has 3 cells"),
        (b"a,b\n1\n", "Row 1 has 1 cells"),
        (b",".join(b"c%d" % n for n in range(300)) + b"\n", "at most 200 columns"),
        (b"a\n" + b"1\n" * 50_001, "at most 50000 rows"),
        (b"a,b;c\n1,2;3\n", "which separator"),
    ],
)
def test_what_is_no_table_says_where_and_why(content: bytes, says: str) -> None:
    """A bomb, a long line, a NUL, another encoding: one plain sentence each."""
    with pytest.raises(TableError, match=says):
        list(read_table(content).rows())


TEXTS = ("=1+1", "+1", "-1", "@x", "\tx", "\rx", "\uff1d1", "\uff0d1", "'=1", "''-1", "'", "x", "")


@pytest.mark.parametrize("text", TEXTS)
def test_the_guard_is_taken_off_again(text: str) -> None:
    """What was written out is read in as it was."""
    assert unguarded(guarded_text(text)) == text


def test_the_firm_imports_nothing_it_may_not_manage(cast: Cast) -> None:
    """Each row looks for leave; a site out of sight does not exist."""
    firm = client_of(cast.firm)
    found = done(firm, ask(firm, csv_of(*ROWS), site=str(cast.site.id)))
    assert {code for _, _, code in problems(firm, found)} == {"not_allowed"}
    stranger = client_of(cast.stranger)
    assert ask(stranger, csv_of(*ROWS), site=str(cast.site.id)).status_code == 404


def test_a_revoked_key_stops_it(cast: Cast, owner: APIClient) -> None:
    """The next chunk is not done, and the job says why."""
    asked = ask(owner, csv_of(*ROWS), site=str(cast.site.id))
    with acting_for(cast.owner.id, write=True) as context:
        Key.objects.update(revoked_at=context.now)
    run_waiting_jobs()
    found = client_of(cast.owner).get(f"/v1/imports/{asked.json()['id']}").json()
    assert (found["job"]["state"], found["job"]["problem"]["code"]) == ("failed", "not_allowed")


def test_a_portfolio_makes_sites(cast: Cast, owner: APIClient) -> None:
    """And its doors find them by their reference."""
    heading = "reference,name,address_1,time_zone,jurisdiction"
    rows = (f"P-1,Mill,1 Mill Lane,America/Chicago,{TOWN}", f"P-2,Quay,2 Quay,Mars/Base,{TOWN}")
    more = {"dry_run": False, "without_dry_run": True, "chunk_size": 1}
    sites = csv_of(*rows, heading=heading)
    found = done(owner, ask(owner, sites, kind="sites", **more))
    assert fates(owner, found) == [(1, "created"), (2, "refused")]
    assert problems(owner, found) == [(2, "time_zone", "refused")]
    assert fates(owner, done(owner, ask(owner, sites, kind="sites", **more)))[0] == (1, "unchanged")
    doors = csv_of("P-1,1,N-1,Lobby,swinging", "P-9,1,N-1,Lobby,swinging",
                   heading="site_reference,reference,tag,location,door_type")  # fmt: skip
    found = done(owner, ask(owner, doors, **more))
    assert problems(owner, found) == [(2, "site_reference", "refused")]
    with acting_for(cast.owner.id, write=False):
        assert Opening.objects.get(reference="1").site == Site.objects.get(reference="P-1")


def test_a_firm_brings_the_portfolio_of_an_owner_it_made(cast: Cast) -> None:
    """Sites and doors, until the owner speaks for itself; nobody else's owner can be named."""
    firm = client_of(cast.firm)
    made = firm.post("/v1/organizations", {"reference": "O-7", "name": "Mill"}, format="json")
    assert made.status_code == 201, made.content
    heading = "reference,name,address_1,time_zone,jurisdiction,owner_reference"
    rows = [f"P-1,Mill,1 Mill Lane,America/Chicago,{TOWN},{owner}" for owner in ("O-7", "O-8")]
    more = {"dry_run": False, "without_dry_run": True, "chunk_size": 1}
    found = done(firm, ask(firm, csv_of(*rows, heading=heading), kind="sites", **more))
    assert fates(firm, found) == [(1, "created"), (2, "refused")]
    doors = csv_of(
        "P-1,1,N-1,Lobby,swinging", heading="site_reference,reference,tag,location,door_type"
    )
    assert fates(firm, done(firm, ask(firm, doors, **more))) == [(1, "created")]


def test_earlier_visits_come_from_a_table(cast: Cast) -> None:
    """By the tag the door bore that day; twice changes nothing; told otherwise is refused."""
    firm = client_of(cast.firm)
    heading = "client_ref,tag,activity,performed_on,performed_by,outcome"
    row = "b-1,A-1,periodic_inspection,2024-05-03,A former firm,no_fault_reported"
    more = {
        "kind": "reported_visits",
        "site": str(cast.site.id),
        "dry_run": False,
        "without_dry_run": True,
    }
    table = csv_of(row, heading=heading)
    assert fates(firm, done(firm, ask(firm, table, **more))) == [(1, "created")]
    assert fates(firm, done(firm, ask(firm, table, **more))) == [(1, "unchanged")]
    other = csv_of(row.replace("no_fault", "faults"), heading=heading)
    found = done(firm, ask(firm, other, **more))
    assert problems(firm, found) == [(1, "client_ref", "already_exists")]
    with acting_for(cast.firm.id, write=False):
        assert ReportedVisit.objects.count() == 1


def test_a_template_is_a_table_that_can_be_read(cast: Cast, owner: APIClient) -> None:
    """Its own example is good, for every kind."""
    template = owner.get("/v1/import-templates/openings")
    assert template["Content-Disposition"].startswith('attachment; filename="openings.csv"')
    found = done(owner, ask(owner, template.content, mapping={"site_reference": ""},
                            site=str(cast.site.id)))  # fmt: skip
    assert found["counts"]["created"] == 1, problems(owner, found)
    for kind in ("sites", "reported_visits"):
        assert owner.get(f"/v1/import-templates/{kind}").status_code == 200
    assert owner.get("/v1/import-templates/visits").status_code == 404
