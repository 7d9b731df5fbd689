"""A deficiency is forgotten by nobody until a retest has proven its repair."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from doors.errors import FutureDateError, NotVisibleError, RefusedError, WrongStateError
from doors.tenancy import acting_for, current
from inspections.models import Deficiency, Duty
from inspections.selectors.deficiencies import deficiency_by_id, is_guarded
from inspections.services import interim_measures
from inspections.services.deficiencies import record_repair, report_deficiency
from inspections.services.deficiency_policies import set_deficiency_policy
from inspections.services.interim_measures import (
    alarm_of_measures,
    record_interim_measure,
    stop_interim_measure,
)
from tests.cast import Cast, findings, visit

NOW = datetime.now(UTC).replace(microsecond=0)
FOUND, MENDED, RETESTED = (NOW - timedelta(hours=h) for h in (9, 6, 3))
HEAVY = findings(("set_in_motion_force", "33.4", "lbf"))
LIGHT = findings(("set_in_motion_force", "24.0", "lbf"))


@pytest.fixture
def found(cast: Cast) -> Iterator[Deficiency]:
    """A door too heavy to set in motion, seen by the firm that tested it."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, HEAVY, at=FOUND)
        yield Deficiency.objects.get()


def _repair(deficiency: Deficiency, **changed: Any) -> None:
    said = {"done_at": MENDED, "done_by": "Ivo Lund", "words": "carriers cleaned", **changed}
    record_repair(deficiency_id=deficiency.id, **said)


def _state(deficiency: Deficiency) -> str:
    return Deficiency.objects.get(id=deficiency.id).state


def test_it_says_what_is_wrong_and_what_that_protects(found: Deficiency) -> None:
    """In words that stand alone, with the requirement it fails."""
    assert (found.state, found.protects) == ("open", "egress")
    assert found.subject == "quantity:set_in_motion_force"
    assert "ibc-2018/special-purpose/set-in-motion" in found.requirements
    assert "33.4" in found.words


def test_found_again_it_stays_one(cast: Cast, found: Deficiency) -> None:
    """The same thing failing twice is one deficiency, open since the first."""
    visit(cast.opening, HEAVY, at=RETESTED)
    assert Deficiency.objects.get().opened_at == FOUND


def test_a_repair_and_its_retest_prove_it(cast: Cast, found: Deficiency) -> None:
    """Open, repaired, proven; the proof is the retest, and of its day however late it is sent."""
    _repair(found)
    assert _state(found) == "repaired"
    retest = visit(cast.opening, LIGHT, activity="repair_retest", at=RETESTED)
    proven = Deficiency.objects.get()
    assert (proven.state, proven.proven_by_id) == ("proven", retest.id)
    assert proven.ended_at == RETESTED


def test_a_retest_before_the_repair_proves_nothing(cast: Cast, found: Deficiency) -> None:
    """Whatever order the record arrives in."""
    _repair(found)
    visit(cast.opening, LIGHT, activity="repair_retest", at=MENDED - timedelta(minutes=1))
    assert _state(found) == "repaired"


def test_a_retest_of_something_else_proves_nothing(cast: Cast, found: Deficiency) -> None:
    """The failed requirement itself must be measured again."""
    _repair(found)
    other = findings(("closing_speed", "12", "in/s"))
    visit(cast.opening, other, activity="repair_retest", at=RETESTED)
    assert _state(found) == "repaired"


def test_a_good_reading_without_a_repair_proves_nothing(cast: Cast, found: Deficiency) -> None:
    """Nobody said what was mended."""
    visit(cast.opening, LIGHT, activity="repair_retest", at=RETESTED)
    assert _state(found) == "open"


def test_an_operation_test_proves_nothing(cast: Cast, found: Deficiency) -> None:
    """Only a retest after repair is a retest after repair."""
    _repair(found)
    visit(cast.opening, LIGHT, activity="operation_test", at=RETESTED)
    assert _state(found) == "repaired"


def test_a_retest_that_fails_opens_it_again(cast: Cast, found: Deficiency) -> None:
    """The repair did not hold."""
    _repair(found)
    visit(cast.opening, HEAVY, activity="repair_retest", at=RETESTED)
    assert _state(found) == "open"


def test_what_is_proven_is_not_worked_on(cast: Cast, found: Deficiency) -> None:
    """A later failure opens another one."""
    _repair(found)
    visit(cast.opening, LIGHT, activity="repair_retest", at=RETESTED)
    with pytest.raises(WrongStateError):
        _repair(found)
    visit(cast.opening, HEAVY)
    assert sorted(Deficiency.objects.values_list("state", flat=True)) == ["open", "proven"]


def test_a_repair_makes_the_retest_owed(cast: Cast, found: Deficiency) -> None:
    """NFPA 80-2013, 5.2.2.5 (secondary): also after maintenance work."""
    _repair(found)
    owed = Duty.objects.filter(requirement__endswith="after-maintenance", standing="running")
    assert [d.activity for d in owed] == ["repair_retest"]


@pytest.mark.parametrize(
    ("done_at", "error"),
    [(NOW + timedelta(days=1), FutureDateError), (FOUND - timedelta(days=1), RefusedError)],
)
def test_a_repair_lies_between_the_finding_and_now(
    found: Deficiency, done_at: datetime, error: type[RefusedError]
) -> None:
    """Neither promised nor before anybody knew."""
    with pytest.raises(error) as refused:
        _repair(found, done_at=done_at)
    assert refused.value.errors[0].pointer == "/done_at"


def test_a_telephone_ahead_by_a_minute_is_believed(cast: Cast, found: Deficiency) -> None:
    """As it is with a visit: what was just seen or mended is not refused for its clock."""
    ahead = current().now + timedelta(minutes=1)
    _repair(found, done_at=ahead)
    seen = {"title": "Loose", "words": "a loose guide", "protects": "closing"}
    made = report_deficiency(
        opening_id=cast.opening.id, found_at=ahead, found_by_person="Ada", **seen
    )
    with acting_for(cast.firm.id, write=True):
        _measure(made, "attendant")
        guard = made.interim_measures.get()
        stop_interim_measure(
            deficiency_id=made.id, measure_id=guard.id, stopped_at=ahead, because="mended"
        )
    found.refresh_from_db()
    assert (found.state, made.opened_at) == ("repaired", ahead)


def _measure(deficiency: Deficiency, kind: str, **changed: Any) -> None:
    said: dict[str, Any] = {
        "kind": kind,
        "words": "as agreed",
        "responsible": "Ada Quist",
        "begins_at": MENDED,
    }
    record_interim_measure(deficiency_id=deficiency.id, **(said | changed))


def test_an_interim_measure_guards_while_it_runs(found: Deficiency) -> None:
    """From its beginning until its end, and no longer."""
    _measure(found, "attendant", ends_at=RETESTED)
    deficiency = deficiency_by_id(found.id)
    assert not is_guarded(deficiency, MENDED - timedelta(seconds=1))
    assert is_guarded(deficiency, MENDED)
    assert not is_guarded(deficiency, RETESTED)


@pytest.mark.parametrize("kind", ["secured_shut", "closed_and_openable"])
def test_a_way_out_is_never_held_shut(found: Deficiency, kind: str) -> None:
    """Neither secured shut, nor left closed when it does not open as it must (design 6.8)."""
    with pytest.raises(RefusedError) as refused:
        _measure(found, kind)
    assert refused.value.errors[0].pointer == "/kind"


def test_a_measure_ends_after_it_begins(found: Deficiency) -> None:
    """Else it never held."""
    with pytest.raises(RefusedError) as refused:
        _measure(found, "fire_watch", ends_at=MENDED)
    assert refused.value.errors[0].pointer == "/ends_at"


def test_strangers_find_no_deficiency(cast: Cast, found: Deficiency) -> None:
    """Neither to read nor to work on."""
    with acting_for(cast.stranger.id, write=True):
        assert not Deficiency.objects.exists()
        with pytest.raises(NotVisibleError):
            _repair(found)


def _guard(cast: Cast, whose: str, ends_in: timedelta) -> None:
    """Something wrong at that owner's door, and what protects people meanwhile."""
    owner, opening = getattr(cast, whose), cast.opening
    if whose == "neighbour":
        opening = cast.neighbours_opening
    with acting_for(owner.id, write=True) as context:
        visit(opening, HEAVY, at=FOUND)
        record_interim_measure(
            deficiency_id=Deficiency.objects.get().id,
            kind="attendant",
            words="as agreed",
            responsible="Ada Quist",
            begins_at=FOUND,
            ends_at=context.now + ends_in,
        )


def test_measures_not_yet_told_of_keep_no_other_from_its_turn(cast: Cast) -> None:
    """Whoever is told late by its own policy fills no scan; a scan goes on until it owed enough."""
    with acting_for(cast.neighbour.id, write=True):
        late = {"classes": [], "rules": [], "warn_before": "PT1H"}
        set_deficiency_policy(document=late, expected=None)
    _guard(cast, "neighbour", timedelta(hours=2))
    _guard(cast, "owner", timedelta(hours=20))
    assert (alarm_of_measures(limit=1), alarm_of_measures(limit=1)) == (1, 0)


def test_one_site_that_cannot_be_told_of_holds_no_other_up(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is looked at again by the next scan."""
    _guard(cast, "neighbour", timedelta(hours=2))
    _guard(cast, "owner", timedelta(hours=20))
    real = interim_measures.policy_document

    def broken() -> Any:  # noqa: ANN401 - whatever the real one answers
        if current().acting == cast.neighbour.id:
            raise LookupError
        return real()

    monkeypatch.setattr(interim_measures, "policy_document", broken)
    assert alarm_of_measures() == 1
    monkeypatch.undo()
    assert alarm_of_measures() == 1
