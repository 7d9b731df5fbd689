"""Duties stand stored, and are what the rules library would compute."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from doors.models import Opening, Outage
from doors.services.jobs import run_waiting_jobs
from doors.services.openings import add_opening
from doors.services.overrides import draft_override, publish_override
from doors.tenancy import acting_for
from inspections.models import Duty
from inspections.selectors.duties import duty_state, duty_windows, running_duties
from inspections.services.duties import settle_duties
from tests.cast import FACTS, SINCE, TOWN, Cast, conforming, visit

QUARTERLY = f"""
[jurisdiction]
code = "{TOWN}"
parent = "us"
name = "Quillhaven"
kind = "city"
authority = "Quillhaven Fire Office"

[[adopt]]
requirement = "common-practice/quarterly-operation-test"
from = {{today}}
standing = "verified"
citation = {{{{ publication = "Quillhaven Fire Ordinance", edition = "2026", clause = "7-3" }}}}
"""


def _stored() -> dict[str, tuple[date, date, date]]:
    running = Duty.objects.filter(standing="running")
    return {d.requirement: (d.opens_on, d.due_on, d.closes_on) for d in running}


def _adopt(cast: Cast) -> None:
    today = datetime.now(UTC).date().isoformat()
    with acting_for(cast.authority.id, write=True):
        draft = draft_override(
            jurisdiction_code=TOWN,
            title="Quarterly operation test",
            document=QUARTERLY.format(today=today),
        )
        publish_override(override_id=draft.id)


def test_an_opening_owes_from_the_day_it_is_recorded(cast: Cast) -> None:
    """NFPA 80's year (secondary), as reference where no adoption is recorded."""
    with acting_for(cast.owner.id, write=False):
        duty = Duty.objects.get(activity="periodic_inspection", standing="running")
    assert duty.citation["publication"].startswith("NFPA 80,")
    assert duty.closes_on == duty.due_on  # no tolerance is published


def test_what_is_stored_is_what_is_computed(cast: Cast) -> None:
    """After a visit as before; settling again changes nothing."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, conforming(cast.opening, "periodic_inspection"))
        computed = {
            w["requirement"]: tuple(
                date.fromisoformat(w[n]) for n in ("opens_on", "due_on", "closes_on")
            )
            for w in duty_windows(cast.opening)
            if w["state"] not in {"met", "ended", "suspended"}
        }
        assert _stored() == computed
        versions = list(Duty.objects.order_by("id").values_list("version", flat=True))
        settle_duties(opening=cast.opening)
        assert list(Duty.objects.order_by("id").values_list("version", flat=True)) == versions


def test_an_override_moves_the_duties_of_its_place(cast: Cast) -> None:
    """No published text asks for a quarterly test: the town's own ordinance does."""
    with acting_for(cast.owner.id, write=False):
        assert not Duty.objects.filter(activity="operation_test").exists()
    _adopt(cast)
    assert run_waiting_jobs() == 1
    for owner in (cast.owner, cast.neighbour):
        with acting_for(owner.id, write=False):
            duty = Duty.objects.get(activity="operation_test")
            assert (duty.layer, duty.standing) == (TOWN, "running")
            assert duty.citation["publication"] == "Common practice of the trade"
            assert duty.adopted_by is not None
            assert duty.adopted_by["publication"] == "Quillhaven Fire Ordinance"


def test_a_fuller_visit_meets_the_lesser_duty(cast: Cast) -> None:
    """A periodic inspection operates the door as well; the requirement says so."""
    _adopt(cast)
    run_waiting_jobs()
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, conforming(cast.opening, "periodic_inspection"))
        duty = Duty.objects.get(activity="operation_test")
    assert duty.last_visit_id == made.id
    assert duty.due_on >= made.performed_on + timedelta(days=89)


def test_an_operation_test_leaves_the_yearly_duty(cast: Cast) -> None:
    """Scenario 3: accepted, and the year's clock is not moved."""
    with acting_for(cast.firm.id, write=True):
        before = _stored()
        made = visit(
            cast.opening, conforming(cast.opening, "operation_test"), activity="operation_test"
        )
        assert made.complete
        assert _stored() == before


def test_a_door_out_of_service_owes_nothing_meanwhile(cast: Cast) -> None:
    """Suspended, not forgotten."""
    with acting_for(cast.owner.id, write=True) as context:
        Outage.objects.create(
            site=cast.site,
            opening=cast.opening,
            begins_on=SINCE,
            reason="rebuilding",
            recorded_at=context.now,
        )
        settle_duties(opening=Opening.objects.select_related("site").get(id=cast.opening.id))
        standing = set(Duty.objects.values_list("standing", flat=True))
    assert standing == {"suspended"}


def test_a_removed_door_owes_nothing_any_more(cast: Cast) -> None:
    """Its record stays."""
    with acting_for(cast.owner.id, write=True):
        Opening.objects.filter(id=cast.opening.id).update(removed_on=SINCE, version=2)
        settle_duties(opening=Opening.objects.select_related("site").get(id=cast.opening.id))
        standing = set(Duty.objects.values_list("standing", flat=True))
    assert standing == {"ended"}


@pytest.mark.parametrize(
    ("days", "state"),
    [(-31, "upcoming"), (-30, "open"), (-1, "open"), (0, "due"), (10, "due"), (11, "overdue")],
)
def test_the_state_of_a_duty_is_that_of_the_day(days: int, state: str) -> None:
    """Overdue from the day after it closes, not a day before."""
    due = date(2028, 2, 29)
    duty = Duty(
        standing="running",
        opens_on=due - timedelta(days=30),
        due_on=due,
        closes_on=due + timedelta(days=10),
    )
    assert duty_state(duty, due + timedelta(days=days)) == state


def test_every_door_type_owes_its_year(cast: Cast) -> None:
    """Six kinds of fire door, none without a duty."""
    kinds = ["swinging", "horizontal_sliding", "rolling", "vertical_sliding", "service_counter"]
    with acting_for(cast.owner.id, write=True):
        for number, kind in enumerate(kinds):
            opening = add_opening(
                site_id=cast.site.id,
                tag=f"K-{number}",
                location="Store",
                door_type=kind,
                facts=FACTS | {"operation": "manual"},
                in_place_since=SINCE,
            )
            owed = Duty.objects.filter(opening=opening, standing="running")
            assert "periodic_inspection" in set(owed.values_list("activity", flat=True))


def test_what_is_not_known_to_apply_is_listed_and_never_owed(cast: Cast) -> None:
    """It names the fact that a person must supply, and nobody is reminded of it."""
    known = {name: fact for name, fact in FACTS.items() if name != "fire_door"}
    with acting_for(cast.owner.id, write=True):
        opening = add_opening(
            site_id=cast.site.id,
            tag="K-9",
            location="Store",
            door_type="swinging",
            facts=known | {"operation": "manual", "installed_on": "2015-01-01"},
            in_place_since=SINCE,
        )
        yearly = Duty.objects.filter(opening=opening, requirement__startswith="nfpa-80")
        assert {d.standing for d in yearly} == {"suspended"}
        assert {d.reason for d in yearly if "inspection" in d.requirement} == {
            "fact_missing: fire_door"
        }
        assert not running_duties().filter(id__in=[d.id for d in yearly]).exists()
