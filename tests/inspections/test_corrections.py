"""Duties, deficiencies and the past of a door follow the visit that stands."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from doors.errors import WrongStateError
from doors.models import LedgerEntry
from doors.tenancy import acting_for
from inspections.models import Deficiency, Duty, Visit
from inspections.selectors.visits import past_readings, standing_visits
from inspections.services.deficiencies import record_repair, withdraw_deficiency
from tests.cast import Cast, conforming, findings, today, visit

NOW = datetime.now(UTC).replace(microsecond=0)
FOUND, MENDED, RETESTED = (NOW - timedelta(hours=h) for h in (9, 6, 3))
HEAVY = findings(("set_in_motion_force", "33.4", "lbf"))
LIGHT = findings(("set_in_motion_force", "24.0", "lbf"))
SILENT = findings(("closing_speed", "12", "in/s"))


@pytest.fixture
def acting(cast: Cast) -> Iterator[Cast]:
    """The firm at work."""
    with acting_for(cast.firm.id, write=True):
        yield cast


def _correct(cast: Cast, earlier: Visit, sent: dict[str, Any], **more: Any) -> Visit:
    said = {"activity": earlier.activity, "at": earlier.performed_at, **more}
    return visit(cast.opening, sent, supersedes=earlier.id, reason="misread", **said)


def _mended(cast: Cast) -> tuple[Visit, Visit]:
    """Found, repaired, and proven by a retest."""
    found = visit(cast.opening, HEAVY, at=FOUND)
    record_repair(
        deficiency_id=Deficiency.objects.get().id, done_at=MENDED, done_by="Ivo", words="cleaned"
    )
    return found, visit(cast.opening, LIGHT, activity="repair_retest", at=RETESTED)


def _states() -> list[str]:
    return list(Deficiency.objects.order_by("opened_at").values_list("state", flat=True))


def _kinds(cast: Cast) -> list[str]:
    with acting_for(cast.owner.id, write=False):
        rows = LedgerEntry.objects.filter(kind__startswith="deficiency").order_by("position")
        return list(rows.values_list("kind", flat=True))


def test_a_failing_visit_corrected_takes_back_what_it_opened(acting: Cast) -> None:
    """Both stay readable, and the deficiency with its reason."""
    earlier = visit(acting.opening, HEAVY, at=FOUND)
    later = _correct(acting, earlier, LIGHT)
    withdrawn = Deficiency.objects.get()
    assert (withdrawn.state, withdrawn.withdrawn_for) == ("withdrawn", "correction")
    assert withdrawn.reason
    assert set(Visit.objects.values_list("id", flat=True)) == {earlier.id, later.id}
    assert [v.id for v in standing_visits(acting.opening)] == [later.id]
    assert _kinds(acting) == ["deficiency_open", "deficiency_withdrawn"]


def test_a_conforming_visit_corrected_to_failing_opens(acting: Cast) -> None:
    """Of the day on which it was performed."""
    later = _correct(acting, visit(acting.opening, LIGHT, at=FOUND), HEAVY)
    opened = Deficiency.objects.get()
    assert (opened.state, opened.found_by_id, opened.opened_at) == ("open", later.id, FOUND)


def test_a_correction_that_says_nothing_of_it_leaves_it(acting: Cast) -> None:
    """Nothing passes by silence: a person may withdraw it with a reason."""
    _correct(acting, visit(acting.opening, HEAVY, at=FOUND), SILENT)
    assert _states() == ["open"]


def test_a_correction_of_a_correction_brings_it_back(acting: Cast) -> None:
    """The same deficiency, not another one, with a line for each turn."""
    first = visit(acting.opening, HEAVY, at=FOUND)
    second = _correct(acting, first, LIGHT)
    _correct(acting, second, HEAVY)
    assert _states() == ["open"]
    kinds = ["deficiency_open", "deficiency_withdrawn", "deficiency_reopened"]
    assert _kinds(acting) == kinds
    assert Deficiency.objects.get().reason == ""


def test_what_a_person_withdrew_a_correction_brings_not_back(acting: Cast) -> None:
    """The finding is the same that was withdrawn."""
    first = visit(acting.opening, HEAVY, at=FOUND)
    withdraw_deficiency(deficiency_id=Deficiency.objects.get().id, reason="seen twice")
    _correct(acting, first, findings(("set_in_motion_force", "33.5", "lbf")))
    assert _states() == ["withdrawn"]


def test_found_by_two_it_stands_while_one_stands(acting: Cast) -> None:
    """Another visit found it too."""
    first = visit(acting.opening, HEAVY, at=FOUND)
    visit(acting.opening, HEAVY, at=MENDED)
    _correct(acting, first, LIGHT)
    assert _states() == ["open"]


def test_a_proving_retest_corrected_to_failing_takes_the_proof_back(acting: Cast) -> None:
    """It is open, since the repair did not hold, and the ledger says so."""
    _, retest = _mended(acting)
    assert _states() == ["proven"]
    _correct(acting, retest, HEAVY)
    deficiency = Deficiency.objects.get()
    assert (deficiency.state, deficiency.proven_by_id, deficiency.ended_at) == ("open", None, None)
    assert _kinds(acting)[-2:] == ["deficiency_proven", "deficiency_reopened"]


def test_a_proving_retest_corrected_to_silence_leaves_it_repaired(acting: Cast) -> None:
    """What was not measured proves nothing."""
    _, retest = _mended(acting)
    _correct(acting, retest, SILENT)
    assert _states() == ["repaired"]
    assert _kinds(acting)[-1] == "deficiency_repaired"


def test_a_failing_retest_corrected_to_conforming_proves(acting: Cast) -> None:
    """The reopening is taken back with the reading that caused it."""
    visit(acting.opening, HEAVY, at=FOUND)
    deficiency = Deficiency.objects.get()
    record_repair(deficiency_id=deficiency.id, done_at=MENDED, done_by="Ivo", words="cleaned")
    failed = visit(acting.opening, HEAVY, activity="repair_retest", at=RETESTED)
    assert _states() == ["open"]
    proof = _correct(acting, failed, LIGHT)
    deficiency.refresh_from_db()
    assert (deficiency.state, deficiency.proven_by_id) == ("proven", proof.id)


def test_a_finding_corrected_after_its_proof_withdraws_it(acting: Cast) -> None:
    """There was nothing to prove."""
    found, _ = _mended(acting)
    _correct(acting, found, LIGHT)
    assert _states() == ["withdrawn"]


def test_a_proof_taken_back_where_it_recurred_goes_on_as_the_later_one(acting: Cast) -> None:
    """Of one thing at most one deficiency stands."""
    _, retest = _mended(acting)
    visit(acting.opening, HEAVY, at=RETESTED + timedelta(hours=1))
    earlier, later = Deficiency.objects.order_by("opened_at")
    assert (later.recurs_id, later.state) == (earlier.id, "open")
    _correct(acting, retest, SILENT)
    earlier.refresh_from_db()
    assert (earlier.state, str(later.id) in earlier.reason) == ("withdrawn", True)
    assert _states() == ["withdrawn", "open"]


def test_duties_follow_the_visit_that_stands(acting: Cast) -> None:
    """A whole inspection that was not whole moves the duty back."""
    whole = conforming(acting.opening, "periodic_inspection")
    before = _due()
    made = visit(acting.opening, whole, at=FOUND)
    assert _due() != before
    _correct(acting, made, LIGHT)
    assert _due() == before


def _due() -> list[Any]:
    rows = Duty.objects.filter(activity="periodic_inspection").order_by("requirement")
    return list(rows.values_list("due_on", "last_visit_id"))


def test_the_past_of_a_door_follows_the_visit_that_stands(acting: Cast) -> None:
    """What was misread is no history."""
    made = visit(acting.opening, HEAVY, at=FOUND - timedelta(days=3))
    _correct(acting, made, LIGHT)
    past = past_readings(acting.opening, today())
    assert past["set_in_motion_force"] == [{"value": "24.0", "unit": "lbf"}]


def test_of_fifty_corrections_one_stands(acting: Cast) -> None:
    """Forty-nine are told to correct the latest (at once: among what comes at once)."""
    first = visit(acting.opening, HEAVY, at=FOUND)
    told = 0
    for number in range(50):
        try:
            _correct(acting, first, HEAVY if number % 2 else LIGHT)
        except WrongStateError:
            told += 1
    assert told == 49
    (standing,) = standing_visits(acting.opening)
    assert (standing.supersedes_id, standing.verdict) == (first.id, "not_tested")
    assert _states() == ["withdrawn"]
