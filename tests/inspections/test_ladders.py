"""A failure that nobody has seen climbs from contact to contact, and all of it can be read."""

from __future__ import annotations

from datetime import timedelta
from smtplib import SMTPRecipientsRefused

import pytest
from django.core import mail
from django.core.mail import EmailMessage

from doors.errors import NotVisibleError
from doors.models import LedgerEntry
from doors.services.people import add_person
from doors.tenancy import Purpose, acting_for, looking_up
from inspections.models import Ladder, Notice
from inspections.services.ladders import acknowledge_notice, climb_ladders
from inspections.services.notices import deliver_waiting_notices
from inspections.services.owings import expand_waiting_owings
from inspections.services.policies import set_policy
from tests.cast import Cast, findings, visit

HEAVY = findings(("set_in_motion_force", "33.4", "lbf"))


@pytest.fixture
def failed(cast: Cast) -> Cast:
    """A failure, an owner with three contacts of whom the first hears of failures, and quiet
    hours that never end: what climbs knows none.
    """
    with acting_for(cast.owner.id, write=True):
        people = [add_person(name=n, email=f"{n}@owner.example") for n in ("one", "two", "three")]
        kinds: list[list[str]] = [["failures"], [], []]
        contacts = [
            {"person": str(person.id), "kinds": of}
            for person, of in zip(people, kinds, strict=True)
        ]
        terms = {"contacts": contacts, "quiet_from": "00:00", "quiet_until": "23:59"}
        set_policy(terms={**terms, "send_at": "23:59"}, expected=None)
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, HEAVY)
    work()
    return cast


def work() -> None:
    """What the schedule runs."""
    expand_waiting_owings()
    climb_ladders()
    deliver_waiting_notices()


def wait(minutes: int = 61) -> None:
    """Let time pass for every ladder."""
    with looking_up(Purpose.SWEEP, write=True):
        for ladder in Ladder.objects.filter(state="waiting"):
            then = ladder.not_before - timedelta(minutes=minutes)
            Ladder.objects.filter(id=ladder.id).update(not_before=then)


def told() -> list[str]:
    """Who got mail, in order."""
    return [m.to[0].partition("@")[0] for m in mail.outbox]


def ladder(cast: Cast) -> Ladder:
    """The one ladder of the owner."""
    with acting_for(cast.owner.id, write=False):
        return Ladder.objects.get()


def test_it_waits_for_the_time_that_the_policy_gives(failed: Cast) -> None:
    """The first contact has an hour; then the next hears, who was told before, and so on."""
    wait(minutes=59)
    work()
    assert told() == ["one"]
    wait(minutes=2)
    work()
    assert told() == ["one", "two"]
    assert "Told before you, without saying that they have seen it: one." in mail.outbox[1].body
    wait()
    work()
    assert told() == ["one", "two", "three"]


def test_behind_the_contacts_stands_whoever_receives_notices(failed: Cast) -> None:
    """And where nobody is left, that stands there to be seen, and nothing is repeated."""
    for _ in range(6):
        wait()
        work()
    assert told() == ["one", "two", "three", "ada"]
    assert (ladder(failed).state, ladder(failed).rung) == ("failed", 3)
    assert "nobody is left to tell" in ladder(failed).problem


def test_once_somebody_has_seen_it_it_climbs_no_further(failed: Cast) -> None:
    """Who said so and when stands with the notice; said again, the first stands."""
    with acting_for(failed.owner.id, write=True):
        notice = Notice.objects.get()
        seen = acknowledge_notice(notice_id=notice.id, by="Ada Quist")
        again = acknowledge_notice(notice_id=notice.id, by="Somebody else")
    wait()
    work()
    assert told() == ["one"]
    assert seen.acknowledged_at is not None
    assert (again.acknowledged_by, again.acknowledged_at) == ("Ada Quist", seen.acknowledged_at)
    assert ladder(failed).state == "done"


def test_what_bounces_climbs_at_once(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """A mailbox that does not exist acknowledges nothing."""
    with acting_for(cast.owner.id, write=True):
        first = add_person(name="one", email="one@owner.example")
        contacts = [{"person": str(first.id), "kinds": ["failures"]}]
        set_policy(terms={"contacts": contacts}, expected=None)
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, HEAVY)
    real = EmailMessage.send

    def refuse(message: EmailMessage, fail_silently: bool = False) -> int:  # noqa: FBT001, FBT002
        if message.to == ["one@owner.example"]:
            raise SMTPRecipientsRefused({"one@owner.example": (550, b"no such person")})
        return real(message, fail_silently)

    monkeypatch.setattr(EmailMessage, "send", refuse)
    work()
    assert told() == []
    work()
    assert told() == ["ada"]


def test_a_scan_that_runs_twice_tells_nobody_twice(failed: Cast) -> None:
    """Each rung is climbed once."""
    wait()
    climb_ladders()
    climb_ladders()
    work()
    assert told() == ["one", "two"]


def test_each_rung_leaves_a_line(failed: Cast) -> None:
    """Who was told when, and who acknowledged it, by ids; no name stands in the ledger."""
    wait()
    work()
    with acting_for(failed.owner.id, write=True):
        last = Notice.objects.order_by("-created_at")[0]
        acknowledge_notice(notice_id=last.id)
        lines = LedgerEntry.objects.filter(kind__in=["notice_climbed", "notice_acknowledged"])
        kinds = list(lines.order_by("position").values_list("kind", flat=True))
    assert kinds == ["notice_climbed", "notice_acknowledged"]


def test_nobody_acknowledges_for_another(failed: Cast) -> None:
    """To all others the notice does not exist."""
    with acting_for(failed.owner.id, write=False):
        notice = Notice.objects.get()
    for who in (failed.firm, failed.neighbour, failed.authority):
        with acting_for(who.id, write=True), pytest.raises(NotVisibleError):
            acknowledge_notice(notice_id=notice.id)
