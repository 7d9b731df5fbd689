"""A duty may be planned, with a day and whoever is to come; a plan moves and meets nothing."""

from __future__ import annotations

from datetime import timedelta

import pytest

from doors.errors import NotAllowedError, NotVisibleError, RefusedError, WrongStateError
from doors.models import LedgerEntry
from doors.services.grants import grant_leave
from doors.tenancy import acting_for
from inspections.models import Duty
from inspections.services.plans import plan_duty
from tests.cast import SINCE, Cast, today
from tests.clients import client_of

SOON = timedelta(days=10)


def duty_of(cast: Cast) -> Duty:
    """A running duty of the owner's door."""
    with acting_for(cast.owner.id, write=False):
        return Duty.objects.filter(opening=cast.opening, standing="running").order_by("id")[0]


def test_a_plan_is_shown_with_its_duty_and_the_latest_stands(cast: Cast) -> None:
    """Also to the firm; taken back, nothing is planned."""
    at, owner = f"/v1/duties/{duty_of(cast).id}", client_of(cast.owner)
    for days in (10, 12):
        sent = {"planned_on": str(today() + timedelta(days=days)), "by": "Brass Lantern"}
        answer = owner.post(f"{at}/plan", sent)
        assert answer.status_code == 200, answer.content
    shown = client_of(cast.firm).get(at).json()["plan"]
    assert (shown["planned_on"], shown["by"]) == (
        str(today() + timedelta(days=12)),
        "Brass Lantern",
    )
    assert owner.post(f"{at}/plan", {"planned_on": None}).json()["plan"] is None


def test_a_plan_moves_nothing_and_ends_with_its_window(cast: Cast) -> None:
    """The dates stay; once the duty is due on another day, nothing is planned for that."""
    duty = duty_of(cast)
    with acting_for(cast.owner.id, write=True):
        plan_duty(duty_id=duty.id, planned_on=today() + SOON, by="Brass Lantern")
        kept = Duty.objects.get(id=duty.id)
        assert (kept.due_on, kept.version) == (duty.due_on, duty.version)
        lines = LedgerEntry.objects.filter(kind="duty_planned", subject=duty.id)
        assert lines.count() == 1
        Duty.objects.filter(id=duty.id).update(due_on=duty.due_on + SOON)
    assert client_of(cast.owner).get(f"/v1/duties/{duty.id}").json()["plan"] is None


def test_what_is_due_is_found_by_site_by_week_and_by_whom(cast: Cast) -> None:
    """The same filters for the list and for the calendar."""
    duty, owner = duty_of(cast), client_of(cast.owner)
    with acting_for(cast.owner.id, write=True):
        Duty.objects.filter(id=duty.id).update(due_on=today() + SOON)
        plan_duty(duty_id=duty.id, planned_on=today() + SOON, by="Brass Lantern")
    week = f"due_from={today() + timedelta(days=7)}&due_until={today() + timedelta(days=13)}"
    for asked, found in {
        week: 1,
        f"{week}&site={cast.site.id}": 1,
        f"{week}&site={cast.neighbours_site.id}": 0,
        "planned_by=Brass Lantern": 1,
        "planned_by=Somebody": 0,
    }.items():
        assert len(owner.get(f"/v1/duties?{asked}").json()["data"]) == found, asked
        events = owner.get(f"/v1/duties/calendar?{asked}").content.count(b"BEGIN:VEVENT")
        assert events == found, asked


def test_what_cannot_be_planned_is_refused(cast: Cast) -> None:
    """A past day, a plan without anybody, a duty that does not run."""
    duty = duty_of(cast)
    with acting_for(cast.owner.id, write=True):
        for day, by, pointer in ((-1, "x", "/planned_on"), (1, "", "/by")):
            on = today() + timedelta(days=day)
            with pytest.raises(RefusedError) as refused:
                plan_duty(duty_id=duty.id, planned_on=on, by=by)
            assert refused.value.errors[0].pointer == pointer
        Duty.objects.filter(id=duty.id).update(standing="suspended")
        with pytest.raises(WrongStateError):
            plan_duty(duty_id=duty.id, planned_on=today() + SOON, by="x")


def test_who_has_leave_to_plan_plans(cast: Cast) -> None:
    """Leave to record is none; a stranger finds no duty."""
    duty = duty_of(cast)
    with acting_for(cast.firm.id, write=True), pytest.raises(NotAllowedError):
        plan_duty(duty_id=duty.id, planned_on=today() + SOON, by="x")
    with acting_for(cast.stranger.id, write=True), pytest.raises(NotVisibleError):
        plan_duty(duty_id=duty.id, planned_on=today() + SOON, by="x")
    with acting_for(cast.owner.id, write=True):
        grant_leave(grantee_id=cast.firm.id, actions=["plan"], begins_on=SINCE)
    with acting_for(cast.firm.id, write=True):
        plan = plan_duty(duty_id=duty.id, planned_on=today() + SOON, by="Noor Vale")
    assert plan.author_name == cast.firm.name
