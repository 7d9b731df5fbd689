"""What is in sight, written out: whole or not at all, and read in again as it was."""

from __future__ import annotations

import csv
import hashlib
import json
import zipfile
from collections.abc import Iterator
from datetime import timedelta
from io import BytesIO, StringIO
from typing import Any

import pytest
from django.apps import apps
from django.db import models
from rest_framework.test import APIClient

from doors.models import Export, Grant, Key
from doors.services import exports
from doors.services.exports import forget_old_exports
from doors.services.grants import end_grant
from doors.services.jobs import run_waiting_jobs
from doors.services.openings import add_opening
from doors.services.tables import unguarded
from doors.tenancy import acting_for
from inspections.services.accounts import ACCOUNT
from tests.cast import FACTS, SINCE, Cast, findings, visit
from tests.clients import client_of
from tests.doors.pictures import png
from tests.doors.test_openings import today

HOSTILE = ("=HYPERLINK(1)", "+1", "-2 m", "@SUM(A1)", "＝1", "a,b;c", 'say "so"', "two\nlines")  # noqa: RUF001


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    """Whoever takes their records with them."""
    return client_of(cast.owner)


@pytest.fixture
def small_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two rows in a transaction."""
    monkeypatch.setattr(exports, "CHUNK", 2)


def _doors(cast: Cast) -> None:
    with acting_for(cast.owner.id, write=True):
        for number, words in enumerate(HOSTILE):
            add_opening(
                site_id=cast.site.id,
                tag=f"T-{number}",
                location=words,
                door_type="swinging",
                facts=FACTS,
                remarks=words,
                rating_minutes=90,
                travel_length={"value": "24.0", "unit": "ft"},
                in_place_since=SINCE,
            )


def ask(client: APIClient, kind: str, form: str, **more: Any) -> str:
    """Ask for an export and answer its address."""
    asked = client.post("/v1/exports", {"kind": kind, "form": form, **more}, format="json")
    assert asked.status_code == 202, asked.content
    return str(asked["Location"])


def work() -> None:
    """Let a worker do what waits."""
    for _ in range(5):
        run_waiting_jobs()


def content(client: APIClient, address: str) -> bytes:
    """The bytes of the file, which are what the export says they are."""
    told = client.get(address).json()
    assert told["job"]["state"] == "done", told
    answer = client.get(f"{address}/file")
    assert answer.status_code == 200, answer.content
    read = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
    assert (told["file_sha256"], told["file_size"]) == (
        hashlib.sha256(read).hexdigest(),
        len(read),
    )
    return read


def test_rows_that_are_large_come_in_more_pieces(
    cast: Cast, owner: APIClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No more of them are in memory than one piece takes; the file is the same."""
    _doors(cast)
    put, real = list[str](), exports._put  # noqa: SLF001 - every piece passes here

    def counted(name: str, held: bytes) -> None:
        put.append(name)
        real(name, held)

    monkeypatch.setattr(exports, "_put", counted)

    def written() -> tuple[list[bytes], int]:
        put.clear()
        asked = [ask(owner, "openings", form) for form in ("csv", "jsonl")]
        for _ in range(3):
            work()
        return [content(owner, each) for each in asked], len(put)

    in_one, few = written()
    monkeypatch.setattr(exports, "LARGEST_PIECE", 1)
    in_many, many = written()
    assert (few, many) == (2, 2 * (len(HOSTILE) + 1))
    assert in_one == in_many


@pytest.mark.usefixtures("small_chunks")
def test_a_table_is_read_back_as_it_was(cast: Cast, owner: APIClient) -> None:
    """Every text minus its guard; numbers are numbers; nothing is a live formula."""
    _doors(cast)
    lines, plain = ask(owner, "openings", "jsonl"), ask(owner, "openings", "csv")
    work()
    records = [json.loads(line) for line in content(owner, lines).splitlines()]
    text = content(owner, plain).decode("utf-8-sig")
    rows = list(csv.DictReader(StringIO(text, newline="")))
    assert len(records) == len(rows) == len(HOSTILE) + 1
    for record, row in zip(records, rows, strict=True):
        assert unguarded(row["location"]) == record["location"]
        assert unguarded(row["remarks"]) == record["remarks"]
        assert not row["location"].startswith(tuple("=+-@＝"))  # noqa: RUF001
        assert row["occupant_load"] == str(record["occupant_load"])
    assert {r["location"] for r in records} >= set(HOSTILE)
    made = next(r for r in records if r["tag"] == "T-0")
    assert made["travel_length"] == {"value": "24.0", "unit": "ft"}
    assert next(r for r in rows if r["tag"] == "T-0")["travel_length"] == "24.0 ft"


@pytest.mark.parametrize("kind", ["visits", "deficiencies", "duties", "sites", "reported_visits"])
def test_each_table_is_written(cast: Cast, owner: APIClient, kind: str) -> None:
    """As many rows as the list has, in both forms."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(("set_in_motion_force", "33.4", "lbf")))
    listed = owner.get(f"/v1/{kind.replace('_', '-')}", {"limit": 200}).json()["data"]
    addresses = [ask(owner, kind, form) for form in ("csv", "jsonl")]
    work()
    text = content(owner, addresses[0]).decode("utf-8-sig")
    assert len(list(csv.reader(StringIO(text, newline="")))) == len(listed) + 1
    assert len(content(owner, addresses[1]).splitlines()) == len(listed)


@pytest.mark.usefixtures("small_chunks")
def test_leave_that_ends_meanwhile_stops_it(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """After the first piece; the state says so, and nothing is handed out."""
    _doors(cast)
    firm = client_of(cast.firm)
    address = ask(firm, "openings", "csv")
    monkeypatch.setattr("doors.services.jobs.TURN", -1)  # one step, then others have their turn
    run_waiting_jobs(limit=1)
    assert firm.get(address).json()["job"]["state"] == "waiting"
    with acting_for(cast.owner.id, write=True):
        end_grant(grant_id=Grant.objects.get().id, ends_on=today())
    work()
    told = firm.get(address).json()
    assert (told["job"]["state"], told["job"]["problem"]["code"]) == ("failed", "not_allowed")
    assert firm.get(f"{address}/file").status_code == 404


def test_a_file_is_not_had_once_leave_has_ended(cast: Cast) -> None:
    """Finished or not: who may not see what is in it does not get it."""
    firm = client_of(cast.firm)
    address = ask(firm, "openings", "csv")
    work()
    content(firm, address)
    with acting_for(cast.owner.id, write=True):
        end_grant(grant_id=Grant.objects.get().id, ends_on=today())
    assert firm.get(f"{address}/file").status_code == 403


def test_a_revoked_key_stops_it(cast: Cast, owner: APIClient) -> None:
    """Work goes on only in the name of a key that stands."""
    address = ask(owner, "openings", "csv")
    with acting_for(cast.owner.id, write=True) as context:
        Key.objects.update(revoked_at=context.now)
    work()
    told = client_of(cast.owner).get(address).json()
    assert (told["job"]["state"], told["job"]["problem"]["code"]) == ("failed", "not_allowed")


def test_a_file_is_kept_for_a_time(cast: Cast, owner: APIClient) -> None:
    """Then it is gone; the record of it stays."""
    address = ask(owner, "openings", "csv")
    work()
    content(owner, address)
    with acting_for(cast.owner.id, write=True) as context:
        Export.objects.update(expires_at=context.now - timedelta(seconds=1))
    assert owner.get(f"{address}/file").status_code == 404
    assert owner.get(address).status_code == 200
    assert forget_old_exports() == 0  # not yet older than its promise


def test_another_sees_neither_the_export_nor_its_file(cast: Cast, owner: APIClient) -> None:
    """Though both see the opening."""
    address = ask(owner, "openings", "csv")
    work()
    for name in (address, f"{address}/file"):
        assert client_of(cast.firm).get(name).status_code == 404


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"kind": "openings", "form": "zip"}, "/form"),
        ({"kind": "account", "form": "csv"}, "/form"),
        ({"kind": "keys", "form": "csv"}, "/kind"),
        ({"kind": "openings", "form": "csv", "site": "x"}, "/site"),
        ({"kind": "openings", "form": "csv", "hue": 1}, "/hue"),
    ],
)
def test_a_wrong_wish_is_refused(owner: APIClient, body: dict[str, str], pointer: str) -> None:
    """With the member that is wrong."""
    answer = owner.post("/v1/exports", body, format="json")
    assert answer.status_code in {400, 422}
    assert answer.json()["errors"][0]["pointer"] == pointer


@pytest.mark.usefixtures("small_chunks")
def test_a_whole_account_is_taken_along(cast: Cast, owner: APIClient) -> None:
    """Every table, the ledger and the bytes; each file is what the manifest says; no secret."""
    _doors(cast)
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, findings(("set_in_motion_force", "33.4", "lbf")))
    kept = owner.generic("POST", "/v1/blobs", png(), content_type="image/png").json()  # type: ignore[arg-type]
    address = ask(owner, "account", "zip")
    work()
    with zipfile.ZipFile(BytesIO(content(owner, address))) as archive:
        manifest = json.loads(archive.read("manifest.json"))
        told = {entry["name"]: entry["sha256"] for entry in manifest["files"]}
        assert set(archive.namelist()) == {*told, "manifest.json"}
        for name, digest in told.items():
            assert hashlib.sha256(archive.read(name)).hexdigest() == digest
        visits = [json.loads(line) for line in archive.read("tables/visits.jsonl").splitlines()]
        ledger = archive.read("tables/ledger_entries.jsonl").splitlines()
        assert archive.read(f"blobs/{kept['sha256']}.png") == png()
        everything = b"".join(archive.read(name) for name in archive.namelist())
    assert [v["id"] for v in visits] == [str(made.id)]
    assert visits[0]["findings"]["readings"][0]["value"] == "33.4"
    entries = sorted((json.loads(line) for line in ledger), key=lambda e: e["position"])
    assert all(hashlib.sha256(e["body"].encode()).hexdigest() == e["entry_sha256"] for e in entries)
    assert b"secret" not in everything.replace(b"keys and other secrets", b"")


LEFT_OUT = {
    "Account": "a human's, not an organization's",
    "DoorCode": "a secret",
    "DutyProof": "of the last night: what differed stands in the differences",
    "Export": "about taking along, not of the doors",
    "FeedChange": "an authority's own order of its filings",
    "FeedHead": "a counter",
    "FrozenUntestedItem": "said in the submittals",
    "Invitation": "a secret once sent",
    "Job": "work under way",
    "Jurisdiction": "public",
    "Key": "a secret",
    "LedgerHead": "the last entry says as much",
    "Owing": "work under way: what was told stands in the notices",
    "Replay": "answers to repeated requests",
    "Sandbox": "play",
    "SandboxMessage": "play",
    "Sight": "derived from custody and grants",
    "Trace": "said in the visits",
    "UntestedItem": "said in the visits",
    "Webhook": "an address, its secrets apart",
    "WebhookAttempt": "work under way",
    "WebhookDelivery": "work under way",
    "WebhookSecret": "a secret",
}


def _ours() -> Iterator[type[models.Model]]:
    for model in apps.get_models():
        if model._meta.app_label in {"doors", "inspections"}:
            yield model


def test_no_table_is_left_out_without_a_reason() -> None:
    """A new table is taken along, or says here why not."""
    taken = {table.model.__name__ for table in ACCOUNT}
    assert {m.__name__ for m in _ours()} - taken == set(LEFT_OUT)
