"""Duties remind by themselves: once a stage, never of what is done, in one mail a person a day."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from django.core import mail
from django.core.mail import EmailMultiAlternatives
from pytest_django import DjangoAssertNumQueries

from doors.models import Opening, Outage, Site
from doors.services.people import add_person, end_person
from doors.services.sites import open_site
from doors.tenancy import Purpose, acting_for, looking_up
from inspections.models import Delivery, Duty, EventType, Notice, Owing
from inspections.selectors.policies import Policy
from inspections.services import reminders
from inspections.services.duties import settle_duties
from inspections.services.notices import deliver_waiting_notices
from inspections.services.owings import expand_waiting_owings
from inspections.services.policies import set_policy, set_stopped_stages
from inspections.services.reminders import remind_of_duties
from tests.cast import SINCE, TOWN, Cast, conforming, like_door, today, visit

AT_ONCE = {
    "working_days": [1, 2, 3, 4, 5, 6, 7],
    "public_holidays": False,
    "send_at": "00:00",
    "quiet_from": "00:00",
    "quiet_until": "00:00",
}
DAY = timedelta(days=1)


@pytest.fixture
def quick(cast: Cast) -> Cast:
    """An owner whose mail goes out at any time of any day, so that a test may run on any; of the
    neighbour nothing is said.
    """
    with acting_for(cast.neighbour.id, write=True):
        Duty.objects.update(look_at=None)
    with acting_for(cast.owner.id, write=True):
        set_policy(terms=AT_ONCE, expected=None)
    return cast


def move(cast: Cast, days: int, *, looked_for: timedelta = timedelta(0)) -> None:
    """Have every running duty of the owner due in so many days; `looked_for` ago a scan should
    have looked at them.
    """
    on = today() + days * DAY
    with acting_for(cast.owner.id, write=True) as context:
        at = context.now - looked_for
        running = Duty.objects.filter(standing="running")
        running.update(opens_on=on, due_on=on, closes_on=on, look_at=at)


def work() -> None:
    """All scans once."""
    remind_of_duties()
    expand_waiting_owings()
    deliver_waiting_notices()


def told(cast: Cast) -> list[tuple[str, int, str]]:
    """Stage, step and state of the owner's notices, in the order in which they came."""
    with acting_for(cast.owner.id, write=False):
        rows = Notice.objects.order_by("created_at")
        return [(n.stage, n.step, n.state) for n in rows]


def running(cast: Cast) -> int:
    """How many duties of the owner run: each door has one of each publication that asks."""
    with acting_for(cast.owner.id, write=False):
        return Duty.objects.filter(standing="running").count()


def ended(cast: Cast) -> set[str]:
    """Why what was withdrawn was."""
    with acting_for(cast.owner.id, write=False):
        rows: list[Notice | Owing] = [
            *Notice.objects.filter(state="withdrawn"),
            *Owing.objects.filter(state="withdrawn"),
        ]
        return {row.problem for row in rows}


def hold(cast: Cast) -> None:
    """Keep every message back for a day."""
    with looking_up(Purpose.SWEEP, write=True) as context:
        Delivery.objects.filter(state="waiting").update(not_before=context.now + DAY)


def let_go() -> None:
    """Let every message go."""
    with looking_up(Purpose.SWEEP, write=True) as context:
        Delivery.objects.filter(state="waiting").update(not_before=context.now)


@pytest.mark.parametrize(
    ("days", "expected"),
    [(30, ("before_due", 30)), (5, ("before_due", 7)), (0, ("due", 0)), (-3, ("overdue", 1))],
)
def test_each_stage_is_told_once(quick: Cast, days: int, expected: tuple[str, int]) -> None:
    """However often the scans run; earlier stages that a later one has overtaken are not told."""
    move(quick, days)
    for _ in range(3):
        work()
        with acting_for(quick.owner.id, write=True) as context:
            Duty.objects.update(look_at=context.now)
    assert set(told(quick)) == {(*expected, "done")}
    assert len(told(quick)) == running(quick)
    assert len(mail.outbox) == 1


def test_a_far_duty_is_not_spoken_of_and_is_looked_at_on_its_day(quick: Cast) -> None:
    """In good time, and not before: the scan sleeps until the first stage begins there."""
    move(quick, 300)
    work()
    assert told(quick) == []
    assert remind_of_duties() == 0
    with acting_for(quick.owner.id, write=False) as context:
        duty = Duty.objects.filter(standing="running").first()
        assert duty is not None
        assert duty.look_at is not None
        assert timedelta(days=269) < duty.look_at - context.now < timedelta(days=270)


def test_after_a_day_of_silence_each_duty_is_told_of_once_and_as_late(quick: Cast) -> None:
    """26 hours without a scan, in which it was to be told before, at and after the day."""
    move(quick, -1, looked_for=timedelta(days=2))
    work()
    assert set(told(quick)) == {("overdue", 1, "done")}
    assert "is late" in mail.outbox[0].body


def test_what_was_in_time_is_not_called_late(quick: Cast) -> None:
    """Nor what became known only now."""
    move(quick, -1)
    work()
    assert "is late" not in mail.outbox[0].body


def test_a_visit_that_arrives_withdraws_what_waits(quick: Cast) -> None:
    """Nobody is reminded of a door whose visit has arrived: neither by what was owed nor by what
    lay ready, and the reason is kept.
    """
    move(quick, 0)
    remind_of_duties()
    expand_waiting_owings()
    hold(quick)
    with acting_for(quick.firm.id, write=True):
        visit(quick.opening, conforming(quick.opening, "periodic_inspection"))
    let_go()
    deliver_waiting_notices()
    assert mail.outbox == []
    assert {state for _, _, state in told(quick)} == {"withdrawn"}
    assert any(why.startswith("a visit has arrived") for why in ended(quick))


def test_what_was_owed_only_is_withdrawn_too(quick: Cast) -> None:
    """Before it became anybody's notice."""
    move(quick, 0)
    remind_of_duties()
    with acting_for(quick.firm.id, write=True):
        visit(quick.opening, conforming(quick.opening, "periodic_inspection"))
    work()
    with acting_for(quick.owner.id, write=False):
        met = Duty.objects.filter(last_visit__isnull=False)
        assert met.exists()
        assert not Notice.objects.filter(thing__in=met.values("id")).exists()
    assert any(why.startswith("a visit has arrived") for why in ended(quick))


def test_a_door_out_of_service_is_not_spoken_of(quick: Cast) -> None:
    """The scan itself withdraws it; back in service with the same day, it is told after all."""
    move(quick, 0)
    remind_of_duties()
    expand_waiting_owings()
    hold(quick)
    stand(quick, "suspended")
    remind_of_duties()
    assert {state for _, _, state in told(quick)} == {"withdrawn"}
    assert ended(quick) == {"nothing is due there now: out_of_service"}
    stand(quick, "running")
    work()
    let_go()
    work()
    assert set(told(quick)) == {("due", 0, "done")}
    assert len(mail.outbox) == 1


def stand(cast: Cast, standing: str) -> None:
    """Suspend the owner's duties, or let them run on, as a settlement would."""
    was, reason = ("running", "out_of_service") if standing == "suspended" else ("suspended", "")
    with acting_for(cast.owner.id, write=True) as context:
        rows = Duty.objects.filter(standing=was)
        rows.update(standing=standing, reason=reason, look_at=context.now)


def test_a_later_stage_overtakes_one_that_has_not_gone_out(quick: Cast) -> None:
    """A mail server that was down for a week does not make two mails of it."""
    move(quick, 0)
    remind_of_duties()
    expand_waiting_owings()
    hold(quick)
    with acting_for(quick.owner.id, write=True) as context:
        on = today() - DAY
        Duty.objects.filter(standing="running").update(
            opens_on=on, due_on=on, closes_on=on, look_at=context.now
        )
    work()
    let_go()
    work()
    assert {t for t in told(quick) if t[2] == "done"} == {("overdue", 1, "done")}
    assert len(mail.outbox) == 1


def test_settling_has_a_duty_looked_at_and_changing_nothing_does_not(quick: Cast) -> None:
    """In the transaction that moves it."""
    work()
    with acting_for(quick.owner.id, write=True):
        opening = Opening.objects.select_related("site").get(id=quick.opening.id)
        before = list(Duty.objects.order_by("id").values_list("look_at", flat=True))
        settle_duties(opening=opening)
        assert list(Duty.objects.order_by("id").values_list("look_at", flat=True)) == before
        Outage.objects.create(
            site=quick.site,
            opening=quick.opening,
            begins_on=SINCE,
            reason="works",
            recorded_at=before[0] or opening.created_at,
        )
        settle_duties(opening=opening)
    assert remind_of_duties() == 1


def _doors(cast: Cast, site: Site, count: int) -> None:
    for n in range(count):
        like_door(site, tag=f"B-{n}")


def test_sixty_doors_in_two_buildings_are_one_mail(quick: Cast) -> None:
    """Scenario 11: one section a building, never one a door; local dates; the buildings in the
    subject.
    """
    with acting_for(quick.owner.id, write=True):
        second = open_site(
            reference="S-9",
            name="Annexe",
            address=["2 High Street"],
            time_zone="America/Denver",
            jurisdiction_code=TOWN,
            in_custody_from=SINCE,
        )
        _doors(quick, second, 5)
    move(quick, 0)
    work()
    (sent,) = mail.outbox
    assert sent.subject.startswith("Annexe and 1 more building: 6 fire doors due")
    assert sent.body.count("Annexe\n") == 1
    assert "B-0 (Hall); B-1 (Hall); B-2 (Hall)" in sent.body
    assert "neither replaces nor extends the legal date" in sent.body
    assert quick.firm.name in sent.body
    assert len(told(quick)) == running(quick)
    with acting_for(quick.owner.id, write=False):
        assert Delivery.objects.count() == 1


def test_who_wants_no_digest_gets_one_mail_a_building(quick: Cast) -> None:
    """And still none a door."""
    with acting_for(quick.owner.id, write=True):
        _doors(quick, quick.site, 3)
        set_policy(terms=AT_ONCE | {"digest": False}, expected=None)
    move(quick, 0)
    work()
    assert len(mail.outbox) == 1
    assert mail.outbox[0].subject.startswith(quick.site.name)


def test_what_comes_after_the_mail_of_the_day_waits_for_the_next(quick: Cast) -> None:
    """One mail a person a day, whatever turns up meanwhile."""
    move(quick, 0)
    work()
    with acting_for(quick.owner.id, write=True):
        _doors(quick, quick.site, 2)
    move(quick, 0)
    work()
    assert len(mail.outbox) == 1
    let_go()
    work()
    assert len(mail.outbox) == 2
    assert len(told(quick)) == running(quick)


def test_plain_text_and_html_say_the_same_in_spanish_too(quick: Cast) -> None:
    """Each in their own language; nothing of what was typed becomes markup."""
    with acting_for(quick.owner.id, write=True):
        add_person(name="<b>Bo</b>", email="bo@owner.example", language="es", receives_notices=True)
    move(quick, 0)
    work()
    messages = {m.to[0]: m for m in mail.outbox}
    spanish = messages["bo@owner.example"]
    assert isinstance(spanish, EmailMultiAlternatives)
    html = str(spanish.alternatives[0][0])
    assert "Qué hay que hacer ahora" in spanish.body
    assert "&lt;b&gt;Bo" in html
    assert 'lang="es"' in html
    for words in ("Qué hay que hacer ahora", "Inspección periódica"):
        assert words in html
    assert "What to do now" in messages["ada@owner.example"].body


def test_who_wants_no_reminders_gets_none_and_hears_of_failures(quick: Cast) -> None:
    """Also what lay ready; a failure is told all the same."""
    with acting_for(quick.owner.id, write=True):
        ada = add_person(name="Cy", email="cy@owner.example", receives_notices=True)
    move(quick, 0)
    remind_of_duties()
    expand_waiting_owings()
    with acting_for(quick.owner.id, write=True):
        stopped = set_stopped_stages(person_id=ada.id, stages=["due", "overdue"])
    assert stopped == ["due", "overdue"]
    with acting_for(quick.firm.id, write=True):
        visit(
            quick.opening,
            {
                "people": [{"name": "Noor Vale", "role": "inspector"}],
                "readings": [{"quantity": "set_in_motion_force", "value": "33.4", "unit": "lbf"}],
            },
        )
    work()
    to_cy = [m.subject for m in mail.outbox if m.to == ["cy@owner.example"]]
    assert len(to_cy) == 1
    assert "did not conform" in to_cy[0]
    assert "this person asked for no such reminder" in ended(quick)


def test_who_has_left_is_told_nothing_more(quick: Cast) -> None:
    """Not even what lay ready."""
    move(quick, 0)
    remind_of_duties()
    expand_waiting_owings()
    with acting_for(quick.owner.id, write=True):
        person = add_person(name="Bo", email="bo@owner.example", receives_notices=True)
        ada = Notice.objects.first()
        assert ada is not None
        end_person(person_id=ada.person_id, reach=frozenset())
    work()
    assert mail.outbox == []
    assert ended(quick) == {"this person has left"}
    assert person.ended_at is None


def test_overdue_climbs_to_the_next_contact(quick: Cast) -> None:
    """Who hears of reminders is told first; a week on, one more."""
    with acting_for(quick.owner.id, write=True):
        named = [
            add_person(name=name, email=f"{name}@owner.example") for name in ("first", "second")
        ]
        contacts: list[dict[str, Any]] = [
            {"person": str(named[0].id), "kinds": ["reminders"]},
            {"person": str(named[1].id), "kinds": ["failures"]},
        ]
        set_policy(terms=AT_ONCE | {"contacts": contacts}, expected=None)
    move(quick, -1)
    work()
    assert [m.to for m in mail.outbox] == [["first@owner.example"]]
    with acting_for(quick.owner.id, write=True) as context:
        on = today() - 8 * DAY
        Duty.objects.filter(standing="running").update(
            opens_on=on, due_on=on, closes_on=on, look_at=context.now
        )
    work()
    let_go()
    work()
    assert sorted(m.to[0] for m in mail.outbox[1:]) == [
        "first@owner.example",
        "second@owner.example",
    ]


def test_machines_hear_that_it_is_due(quick: Cast) -> None:
    """One event a duty and day, whatever runs twice."""
    move(quick, 0)
    for _ in range(2):
        work()
        move(quick, 0)
    with acting_for(quick.owner.id, write=False):
        events = Owing.objects.filter(stage=EventType.DUTY_DUE)
        assert events.count() == Duty.objects.filter(standing="running").count()
        assert events[0].words["due_on"] == today().isoformat()


def test_one_site_that_cannot_be_looked_at_holds_no_other_up(
    quick: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is looked at again in an hour."""
    real = reminders.policy_of

    def broken(site_id: UUID) -> Policy:
        if site_id == quick.neighbours_site.id:
            raise LookupError("nobody expected this")
        return real(site_id)

    monkeypatch.setattr(reminders, "policy_of", broken)
    move(quick, 0)
    work()
    assert len(mail.outbox) == 1
    assert remind_of_duties() == 0


def test_it_costs_the_same_whatever_falls_due(
    quick: Cast, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    """Twenty doors are looked at with as many questions as one."""
    with acting_for(quick.owner.id, write=True):
        _doors(quick, quick.site, 20)
    move(quick, 0)
    with django_assert_max_num_queries(32):
        remind_of_duties(limit=1)


def test_the_scan_looks_at_the_longest_waiting_first(quick: Cast) -> None:
    """A neighbour with many doors does not keep a small owner waiting."""
    move(quick, 0, looked_for=timedelta(hours=3))
    assert remind_of_duties(limit=1) == 1
    with acting_for(quick.owner.id, write=False) as context:
        assert not Duty.objects.filter(look_at__lte=context.now).exists()
