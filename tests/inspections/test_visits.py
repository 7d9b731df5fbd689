"""A visit is stored, judged and followed by everything it moves, or nothing is."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import transaction
from django.db.utils import DatabaseError

import rules
from doors.clock import Instant
from doors.errors import (
    AlreadyExistsError,
    FutureDateError,
    NotAllowedError,
    NotVisibleError,
    RefusedError,
    WrongStateError,
)
from doors.models import Grant, LedgerEntry
from doors.services.grants import end_grant, grant_leave
from doors.services.openings import add_opening
from doors.tenancy import acting_for
from inspections.models import Activity, Deficiency, Duty, Owing, Reading, Verdict, Visit
from inspections.selectors.requirements import applicable
from inspections.services.visits import record_visit
from rules.errors import InputError
from rules.vocabulary import Activity as LibraryActivity
from rules.vocabulary import VerdictWord
from tests.cast import SINCE, Cast, conforming, findings, today, visit
from tests.clients import client_of

PERIODIC = "periodic_inspection"


def test_the_words_are_the_librarys() -> None:
    """Two lists of activities or verdicts would drift apart."""
    assert set(Activity.values) == {a.value for a in LibraryActivity}
    unsaid = {VerdictWord.NOT_APPLICABLE.value}  # of one requirement, never of a whole visit
    assert set(Verdict.values) == {v.value for v in VerdictWord} - unsaid


def test_a_visit_that_meets_everything_conforms(cast: Cast) -> None:
    """At the limit is inside; everything asked for was looked at."""
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, conforming(cast.opening, PERIODIC))
    assert (made.verdict, made.complete) == ("conforms", True)
    assert made.author_name == cast.firm.name


def test_the_judgement_is_the_librarys_own(cast: Cast) -> None:
    """Judged again from what the visit kept, it comes out the same, byte for byte."""
    with acting_for(cast.firm.id, write=True):
        sent = findings(("set_in_motion_force", "13.6", "kgf"), ("closing_speed", "24", "in/s"))
        made = Visit.objects.get(id=visit(cast.opening, sent).id)
        layers = applicable(cast.opening, made.performed_on).place.layers
    again = rules.judge(
        rules.requirements(
            facts=made.basis["facts"],
            jurisdiction=made.basis["library_place"],
            on=made.performed_on,
            listed_instructions=made.basis["listed_instructions"],
            layers=layers,
        ),
        {"activity": made.activity, "readings": sent["readings"]},
    )
    kept = {k: v for k, v in made.judgement.items() if k != "measurements"}
    assert kept == again
    assert made.requirements_digest == again["library"]["requirements_digest"]


def test_readings_are_kept_as_sent(cast: Cast) -> None:
    """The text and unit to the letter; the SI value beside it is exact to nine places."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(("set_in_motion_force", "30.00", "lbf")))
        row = Reading.objects.get()
    assert (row.value, row.unit) == ("30.00", "lbf")
    assert row.si == Decimal("133.446648458")  # 30 x 4.4482216152605 N, by definition


def test_a_failed_visit_opens_deficiencies_and_owes_a_notice(cast: Cast) -> None:
    """In the same transaction, with the ledger's lines."""
    with acting_for(cast.firm.id, write=True):
        sent = conforming(cast.opening, PERIODIC, set_in_motion_force="30.1")
        made = visit(cast.opening, sent)
        assert made.verdict == Verdict.DOES_NOT_CONFORM
        owing = Owing.objects.get(stage="test_failed")
        assert (owing.stage, owing.thing, owing.custodian_id) == (
            "test_failed",
            made.id,
            cast.owner.id,
        )
    with acting_for(cast.owner.id, write=False):
        kinds = list(LedgerEntry.objects.order_by("position").values_list("kind", flat=True))
    assert kinds[-2:] == ["visit_recorded", "deficiency_open"]


def test_a_complete_visit_moves_the_yearly_duty(cast: Cast) -> None:
    """From the visit's own day, which is the day at the site."""
    with acting_for(cast.firm.id, write=True):
        before = Duty.objects.get(activity=PERIODIC, standing="running").due_on
        made = visit(cast.opening, conforming(cast.opening, PERIODIC))
        after = Duty.objects.get(activity=PERIODIC, standing="running")
    assert after.due_on > before
    assert after.due_on.replace(year=made.performed_on.year) == made.performed_on


def test_an_incomplete_visit_moves_no_duty(cast: Cast) -> None:
    """What was not looked at is still owed."""
    with acting_for(cast.firm.id, write=True):
        before = list(Duty.objects.order_by("id").values_list("id", "due_on"))
        made = visit(cast.opening, findings(("closing_speed", "12", "in/s")))
        assert not made.complete
        assert list(Duty.objects.order_by("id").values_list("id", "due_on")) == before


def test_a_visit_is_judged_by_the_rules_of_its_day(cast: Cast) -> None:
    """Late or not, the day of the attendance decides."""
    ago = datetime.now(UTC).replace(microsecond=0) - timedelta(days=400)
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, findings(), at=ago)
        assert made.basis["on"] == made.performed_on.isoformat()
        resolved = applicable(cast.opening, made.performed_on).requirements
    assert made.requirements_digest == resolved.digest
    assert made.received_at - made.performed_at > timedelta(days=399)


def test_a_visit_tomorrow_is_refused(cast: Cast) -> None:
    """A clock may run five minutes ahead, not six."""
    now = datetime.now(UTC)
    with acting_for(cast.firm.id, write=True):
        assert visit(cast.opening, findings(), at=now + timedelta(minutes=4)).pk is not None
        with pytest.raises(FutureDateError) as refused:
            visit(cast.opening, findings(), at=now + timedelta(minutes=6))
    assert refused.value.errors[0].pointer == "/performed_at"
    clock = refused.value.detail.removesuffix(".").split()[-1]
    assert abs(datetime.fromisoformat(clock) - now) < timedelta(minutes=1)


def test_a_reason_belongs_to_a_correction(cast: Cast) -> None:
    """An app that forgot which visit it corrects would else record another one."""
    with acting_for(cast.firm.id, write=True), pytest.raises(RefusedError) as refused:
        visit(cast.opening, findings(), reason="a typo")
    assert refused.value.errors[0].pointer == "/supersedes"


def test_a_visit_before_the_door_was_there_is_refused(cast: Cast) -> None:
    """Nobody tested a door that was not installed: the moment that was sent is named."""
    past = datetime(1990, 3, 1, 10, tzinfo=UTC)
    with acting_for(cast.firm.id, write=True), pytest.raises(InputError) as refused:
        visit(cast.opening, conforming(cast.opening, PERIODIC), at=past)
    assert [(p.pointer, p.code) for p in refused.value.problems] == [
        ("/performed_at", "before_installation")
    ]


def test_an_opening_out_of_sight_does_not_exist(cast: Cast) -> None:
    """For the firm, whose leave is from another owner, and for a stranger."""
    for who in (cast.firm, cast.stranger):
        with acting_for(who.id, write=True), pytest.raises(NotVisibleError):
            visit(cast.neighbours_opening, findings())


def test_reading_is_not_recording(cast: Cast) -> None:
    """Leave to read shows the door and refuses the visit."""
    with acting_for(cast.owner.id, write=True):
        grant_leave(grantee_id=cast.stranger.id, actions=["read"], begins_on=SINCE)
    with acting_for(cast.stranger.id, write=True), pytest.raises(NotAllowedError):
        visit(cast.opening, findings())


def test_the_same_reference_twice_is_refused(cast: Cast) -> None:
    """A client's own reference stands once, for ever."""
    now = datetime.now(UTC)
    same: dict[str, Any] = {
        "opening_id": cast.opening.id,
        "client_ref": "V-1",
        "activity": PERIODIC,
        "performed_at": Instant(now, now.isoformat()),
        "attested_by": "Noor Vale",
        "findings": findings() | {"attestation": {"name": "Noor Vale", "at": now.isoformat()}},
    }
    with acting_for(cast.firm.id, write=True):
        record_visit(**same)
        with pytest.raises(AlreadyExistsError) as refused, transaction.atomic():
            record_visit(**same)
        assert Visit.objects.count() == 1
    assert refused.value.errors[0].pointer == "/client_ref"


@pytest.mark.parametrize(
    ("reading", "pointer"),
    [
        ({"quantity": "closing_speed", "value": "12"}, "/readings/0/unit"),
        ({"quantity": "closing_speed", "value": "NaN", "unit": "in/s"}, "/readings/0/value"),
        ({"quantity": "closing_speed", "value": "12", "unit": "lbf"}, "/readings/0/unit"),
        ({"quantity": "closing_speed", "value": "-1", "unit": "in/s"}, "/readings/0/value"),
        ({"quantity": "warp", "value": "1", "unit": "in/s"}, "/readings/0/quantity"),
    ],
)
def test_a_reading_that_is_none_is_refused_with_its_place(
    cast: Cast, reading: dict[str, str], pointer: str
) -> None:
    """And nothing is stored of the whole visit."""
    with acting_for(cast.firm.id, write=True):
        with pytest.raises(InputError) as refused:
            visit(cast.opening, findings() | {"readings": [reading]})
        assert not Visit.objects.exists()
    assert [p.pointer for p in refused.value.problems] == [pointer]


def test_an_instrument_nobody_listed_is_refused(cast: Cast) -> None:
    """A reading names an instrument of its own visit."""
    reading = {"quantity": "closing_speed", "value": "12", "unit": "in/s", "instrument": "G9"}
    with acting_for(cast.firm.id, write=True), pytest.raises(RefusedError) as refused:
        visit(cast.opening, findings() | {"readings": [reading]})
    assert refused.value.errors[0].pointer == "/readings/0/instrument"


def test_an_expired_calibration_leaves_the_reading_inconclusive(cast: Cast) -> None:
    """It is never turned into a failure (design 3; scenario A24)."""
    reading = {"quantity": "closing_speed", "value": "12", "unit": "in/s", "instrument": "T1"}
    timer = {"ref": "T1", "kind": "stopwatch", "calibration_due_on": "2020-01-01"}
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, findings(instruments=[timer]) | {"readings": [reading]})
    (found,) = [v for v in made.judgement["verdicts"] if v.get("quantity") == "closing_speed"]
    assert (found["verdict"], found["reason"]) == ("inconclusive", "calibration_expired")


def test_a_reading_far_from_the_doors_past_is_marked_not_changed(cast: Cast) -> None:
    """13.5 after years of 30 is a ratio of 2.2: kgf read as lbf, perhaps. The verdict stands."""
    with acting_for(cast.firm.id, write=True):
        day = datetime.now(UTC) - timedelta(days=90)
        visit(cast.opening, findings(("set_in_motion_force", "29.7", "lbf")), at=day)
        made = visit(cast.opening, findings(("set_in_motion_force", "13.5", "lbf")))
    found = [v for v in made.judgement["verdicts"] if v.get("quantity") == "set_in_motion_force"]
    assert {v["verdict"] for v in found} == {"conforms"}
    assert "unit_to_be_confirmed" in {n["code"] for v in found for n in v["notes"]}


def test_a_correction_supersedes_and_takes_back_what_it_corrects(cast: Cast) -> None:
    """51 was 15: both visits stand in the record, the deficiency is withdrawn with the reason."""
    with acting_for(cast.firm.id, write=True):
        wrong = visit(cast.opening, findings(("opening_force", "51", "lbf")))
        right = visit(
            cast.opening,
            findings(("opening_force", "15", "lbf")),
            supersedes=wrong.id,
            reason="misread",
        )
        states = set(Deficiency.objects.values_list("state", flat=True))
        assert Visit.objects.count() == 2
    assert right.supersedes_id == wrong.id
    assert states == {"withdrawn"}


def test_a_visit_is_corrected_once(cast: Cast) -> None:
    """The next correction corrects the correction."""
    with acting_for(cast.firm.id, write=True):
        first = visit(cast.opening, findings())
        visit(cast.opening, findings(), supersedes=first.id, reason="typing")
        with pytest.raises(WrongStateError), transaction.atomic():
            visit(cast.opening, findings(), supersedes=first.id, reason="typing")


def test_a_correction_needs_a_reason(cast: Cast) -> None:
    """And its own earlier visit."""
    with acting_for(cast.firm.id, write=True):
        first = visit(cast.opening, findings())
        with pytest.raises(RefusedError) as refused:
            visit(cast.opening, findings(), supersedes=first.id)
    assert refused.value.errors[0].pointer == "/reason"


def test_a_recorded_visit_never_changes(cast: Cast) -> None:
    """The database itself refuses."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings())
        with pytest.raises(DatabaseError), transaction.atomic():
            Visit.objects.update(verdict="conforms")


def test_what_is_waved_away_meets_no_duty(cast: Cast) -> None:
    """Every item said not to apply, where the facts say that it does, is no inspection."""
    with acting_for(cast.firm.id, write=True):
        before = list(Duty.objects.order_by("id").values_list("id", "due_on"))
        full = conforming(cast.opening, PERIODIC)
        for item in (*full["checks"], *full["sequences"]):
            item.update(result="not_applicable", reason="n")
            item.pop("steps", None)
            item.pop("times", None)
        made = visit(cast.opening, full | {"readings": []})
        assert (made.verdict, made.complete) == ("not_tested", False)
        assert list(Duty.objects.order_by("id").values_list("id", "due_on")) == before


def test_a_retest_of_nothing_is_none(cast: Cast) -> None:
    """Nothing looked at conforms to nothing and completes nothing."""
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, findings(), activity="repair_retest")
    assert (made.verdict, made.complete) == ("not_tested", False)


def test_what_a_person_saw_fail_is_a_failure_whatever_is_not_known(cast: Cast) -> None:
    """A door freshly recorded has few facts; a push through an obstruction is none the less."""
    with acting_for(cast.owner.id, write=True):
        bare = add_opening(
            site_id=cast.site.id, tag="N-1", location="Hall", door_type="accordion", facts={}
        )
        failed = {"sequence": "obstruction", "result": "does_not_conform"}
        made = visit(bare, findings(sequences=[failed]))
        assert made.verdict == Verdict.DOES_NOT_CONFORM
        assert Deficiency.objects.filter(opening=bare, subject="sequence:obstruction").exists()


@pytest.mark.parametrize("hours", [-24, 24])
def test_nobody_attests_before_the_visit_nor_in_the_future(cast: Cast, hours: int) -> None:
    """The signature's time is checked like the visit's own."""
    now = datetime.now(UTC)
    at = (now + timedelta(hours=hours)).isoformat()
    with acting_for(cast.firm.id, write=True), pytest.raises(RefusedError) as refused:
        record_visit(
            opening_id=cast.opening.id,
            client_ref="V-2",
            activity=PERIODIC,
            performed_at=Instant(now, now.isoformat()),
            attested_by="Noor Vale",
            findings=findings() | {"attestation": {"name": "Noor Vale", "at": at}},
        )
    assert refused.value.errors[0].pointer == "/attestation/at"


def test_who_wrote_a_visit_reads_it_for_ever(cast: Cast) -> None:
    """Also when the grant has ended, on either database; the opening is then out of sight."""
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, findings())
    with acting_for(cast.owner.id, write=True):
        end_grant(grant_id=Grant.objects.get().id, ends_on=today())
    client = client_of(cast.firm)
    assert client.get(f"/v1/visits/{made.id}").status_code == 200
    assert client.get(f"/v1/openings/{cast.opening.id}").status_code == 404
