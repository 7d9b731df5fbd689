"""A packet is frozen, filed, pulled and checked; each read of it leaves a line."""

from __future__ import annotations

import hashlib
import io
import json
from datetime import UTC, datetime, timedelta

import pypdf
import pytest
from django.core.files.storage import default_storage
from django.db import transaction
from django.db.utils import DatabaseError

from doors.errors import AlreadyExistsError, NotAllowedError, NotVisibleError
from doors.models import Job, LedgerEntry, Organization
from doors.services.grants import grant_leave
from doors.services.jobs import run_waiting_jobs
from doors.services.ledger import canonical_digest, verify_ledger
from doors.tenancy import Purpose, acting_for, looking_up
from inspections.models import FeedChange, Filing, Owing, ReadLine, Submittal
from inspections.selectors.submittals import changes_after, seal_of, submittal_by_id
from inspections.services.answers import answer_filing
from inspections.services.submittals import (
    ask_for_submittal,
    file_submittal,
    note_readings,
    path_of,
)
from tests.cast import SINCE, Cast, conforming, findings, visit
from tests.clients import client_of


@pytest.fixture
def submittal(cast: Cast, settings: object, tmp_path: object) -> Submittal:
    """The firm's packet of the site, after one visit that failed."""
    with acting_for(cast.firm.id, write=True):
        earlier = datetime.now(UTC) - timedelta(hours=3)
        visit(cast.opening, conforming(cast.opening, "periodic_inspection"), at=earlier)
        visit(cast.opening, findings(("set_in_motion_force", "33.4", "lbf")))
        job = ask_for_submittal(site_id=cast.site.id)
    assert run_waiting_jobs() == 1
    with acting_for(cast.firm.id, write=False):
        done = Job.objects.get(id=job.id)
        assert done.result is not None, done.problem
        return Submittal.objects.get(id=done.result["submittal"])


def _file(cast: Cast, submittal: Submittal) -> Filing:
    with acting_for(cast.firm.id, write=True):
        return file_submittal(submittal_id=submittal.id)


def _bytes(submittal: Submittal) -> bytes:
    with default_storage.open(path_of(submittal.file_sha256)) as stored:
        return bytes(stored.read())


def test_the_file_is_what_its_digest_says(submittal: Submittal) -> None:
    """And it says inside what it was drawn from."""
    content = _bytes(submittal)
    assert hashlib.sha256(content).hexdigest() == submittal.file_sha256
    text = "".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(content)).pages)
    assert submittal.content_sha256 in "".join(text.split())
    assert "1 of 1 openings" in text


def test_the_digest_inside_is_that_of_the_content(submittal: Submittal) -> None:
    """Of the canonical JSON of everything but itself."""
    document = json.loads(submittal.document)
    printed = document["verify"].pop("content_sha256")
    again = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert hashlib.sha256(again.encode()).hexdigest() == printed == submittal.content_sha256


def test_exceptions_stand_in_it(submittal: Submittal) -> None:
    """The open deficiency, in words."""
    document = json.loads(submittal.document)
    kinds = [e["kind"] for e in document["exceptions"]]
    assert "deficiency_open" in kinds
    assert document["counts"] == {
        "conforms": 0,  # the earlier one of this activity stays in the record
        "does_not_conform": 1,
        "inconclusive": 0,
        "not_tested": 0,
    }


def test_a_filed_packet_is_pulled_by_its_authority(cast: Cast, submittal: Submittal) -> None:
    """Through its feed, which begins at nothing and gives each change once."""
    filing = _file(cast, submittal)
    with acting_for(cast.authority.id, write=False):
        assert Submittal.objects.get().id == submittal.id
        (change,) = changes_after(0, 50)
        assert (change.position, change.filing_id, change.state) == (1, filing.id, "filed")
        assert changes_after(change.position, 50) == []


def test_before_it_is_filed_the_authority_sees_nothing(cast: Cast, submittal: Submittal) -> None:
    """Neither the packet nor the site it is about."""
    with acting_for(cast.authority.id, write=False):
        assert not Submittal.objects.exists()
        with pytest.raises(NotVisibleError):
            submittal_by_id(submittal.id)


def test_nobody_else_sees_it(cast: Cast, submittal: Submittal) -> None:
    """The neighbour and the stranger find nothing, before and after."""
    _file(cast, submittal)
    for who in (cast.neighbour, cast.stranger):
        with acting_for(who.id, write=False):
            assert not Submittal.objects.exists()
            assert not Filing.objects.exists()
            assert not FeedChange.objects.exists()


def test_an_authoritys_read_leaves_a_line_that_the_owner_finds(
    cast: Cast, submittal: Submittal
) -> None:
    """Written in the transaction of the read."""
    _file(cast, submittal)
    with acting_for(cast.authority.id, write=True):
        note_readings(submittals=[submittal_by_id(submittal.id)], what="file")
    with acting_for(cast.owner.id, write=False):
        line = ReadLine.objects.get()
    assert (line.authority_id, line.what) == (cast.authority.id, "file")
    assert line.file_sha256 == submittal.file_sha256


def test_the_owners_own_read_leaves_none(cast: Cast, submittal: Submittal) -> None:
    """It is the owner's record."""
    _file(cast, submittal)
    with acting_for(cast.owner.id, write=True):
        note_readings(submittals=[submittal_by_id(submittal.id)], what="file")
        assert not ReadLine.objects.exists()


def test_it_is_filed_once_with_an_authority(cast: Cast, submittal: Submittal) -> None:
    """And the feed moves once."""
    _file(cast, submittal)
    with acting_for(cast.firm.id, write=True):
        with pytest.raises(AlreadyExistsError):
            file_submittal(submittal_id=submittal.id)
        assert FeedChange.objects.count() == 1


def test_filing_is_told_and_stands_in_the_ledger(cast: Cast, submittal: Submittal) -> None:
    """The owner's chain holds the digests of the file and of its content, and is whole."""
    filing = _file(cast, submittal)
    with acting_for(cast.owner.id, write=False):
        assert Owing.objects.filter(stage="submittal_filed", thing=filing.id).exists()
        entry = LedgerEntry.objects.get(kind="submittal_assembled")
        content = json.loads(entry.body)["content"]
        assert verify_ledger()[1] is None
    assert content == {
        "content_sha256": submittal.content_sha256,
        "file_sha256": submittal.file_sha256,
    }


@pytest.mark.parametrize(("state", "remarks"), [("accepted", ""), ("returned", "Door 4?")])
def test_the_answer_stands_in_both_chains(
    cast: Cast, submittal: Submittal, state: str, remarks: str
) -> None:
    """Of the authority that gave it and of the owner whose building it is about, who wrote it
    among what is hashed; the remarks by their digest alone.
    """
    filing = _file(cast, submittal)
    answered = client_of(cast.authority).post(
        f"/v1/submittals/{submittal.id}/answer",
        {"state": state, "remarks": remarks},
        format="json",
    )
    assert answered.status_code == 200, answered.content
    for whose, site in ((cast.authority, None), (cast.owner, str(cast.site.id))):
        with acting_for(whose.id, write=False):
            entry = LedgerEntry.objects.get(kind="submittal_answered", organization=whose)
            assert verify_ledger()[1] is None
        body = json.loads(entry.body)
        assert (entry.subject, body["site"]) == (filing.id, site)
        assert body["actor"] == str(cast.authority.id)
        assert body["content"] == {
            "submittal": str(submittal.id),
            "authority": cast.town.authority_name,
            "state": state,
            "remarks_sha256": canonical_digest(remarks),
        }


def test_an_answer_about_a_merged_owners_filing_stands_in_the_new_ones_chain(
    cast: Cast, submittal: Submittal
) -> None:
    """The former chain has ended; whoever took the owner over answers for its buildings."""
    _file(cast, submittal)
    with looking_up(Purpose.CLAIM, write=True):
        Organization.objects.filter(id=cast.owner.id).update(merged_into=cast.neighbour)
    with acting_for(cast.authority.id, write=True):
        answer_filing(submittal_id=submittal.id, state="accepted")
    with acting_for(cast.neighbour.id, write=False):
        found = LedgerEntry.objects.get(kind="submittal_answered")
        assert found.organization_id == cast.neighbour.id


def test_a_stranger_may_check_a_file_without_a_key(cast: Cast, submittal: Submittal) -> None:
    """By its bytes or by the id printed in it: filed when, by whom, with whom."""
    with pytest.raises(NotVisibleError):
        seal_of(sha256=submittal.file_sha256)
    _file(cast, submittal)
    for seal in (seal_of(sha256=submittal.file_sha256), seal_of(submittal_id=submittal.id)):
        assert seal.file_sha256 == submittal.file_sha256
        assert (seal.filed_by, seal.filed_with) == (cast.firm.name, cast.authority.name)
    with pytest.raises(NotVisibleError):
        seal_of(sha256="0" * 64)


def test_leave_to_record_is_not_leave_to_submit(cast: Cast) -> None:
    """An owner may keep the filing to itself."""
    with acting_for(cast.neighbour.id, write=True):
        grant_leave(grantee_id=cast.firm.id, actions=["record"], begins_on=SINCE)
    with acting_for(cast.firm.id, write=True), pytest.raises(NotAllowedError):
        ask_for_submittal(site_id=cast.neighbours_site.id)


def test_a_sealed_packet_never_changes(cast: Cast, submittal: Submittal) -> None:
    """The database refuses."""
    with acting_for(cast.firm.id, write=True):
        with pytest.raises(DatabaseError), transaction.atomic():
            Submittal.objects.update(file_sha256="x")
        assert Submittal.objects.get().file_sha256 == submittal.file_sha256


@pytest.mark.parametrize(
    ("address", "what"), [("/v1/submittals", "list"), ("/v1/submittals/changes", "feed")]
)
def test_what_an_authority_reads_in_bulk_leaves_its_line_too(
    cast: Cast, submittal: Submittal, address: str, what: str
) -> None:
    """A row tells as much as the item does."""
    _file(cast, submittal)
    assert client_of(cast.authority).get(address).json()["data"]
    with acting_for(cast.owner.id, write=False):
        assert [line.what for line in ReadLine.objects.all()] == [what]
