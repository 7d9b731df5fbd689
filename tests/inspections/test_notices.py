"""The owner's people are told once, in plain words, by whoever runs the worker."""

from __future__ import annotations

from datetime import timedelta
from smtplib import SMTPRecipientsRefused

import pytest
from django.core import mail
from django.core.mail import EmailMessage
from django.utils import timezone

from doors.services.claims import Claim
from doors.services.people import add_person
from doors.tenancy import Purpose, acting_for, looking_up
from inspections.models import Delivery, Notice, Owing
from inspections.services import notices
from inspections.services.notices import TRIES, deliver_waiting_notices
from inspections.services.owings import expand_waiting_owings
from tests.cast import Cast, findings, visit

HEAVY = findings(("set_in_motion_force", "33.4", "lbf"))


@pytest.fixture
def failed(cast: Cast) -> Cast:
    """A visit that did not conform."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, HEAVY)
    return cast


def _work() -> None:
    expand_waiting_owings()
    deliver_waiting_notices()


def _notices(cast: Cast) -> list[Notice]:
    with acting_for(cast.owner.id, write=False):
        return list(Notice.objects.select_related("person", "delivery").order_by("person__name"))


def test_the_person_is_told_what_happened_and_what_to_do(failed: Cast) -> None:
    """Building first, then the finding, what to do, the caution, whom to ask."""
    _work()
    (sent,) = mail.outbox
    assert sent.to == ["ada@owner.example"]
    assert sent.subject.startswith("Harrow Mill Estates house: fire door A-1")
    for words in ("33.4", "30", "Never secure a door in a way out shut", failed.firm.name):
        assert words in sent.body
    assert "authority having jurisdiction" in sent.body


def test_nobody_is_told_twice(failed: Cast) -> None:
    """However often the worker runs, and if the owing is expanded again."""
    _work()
    with looking_up(Purpose.SWEEP, write=True):
        Owing.objects.update(state="waiting")
    for _ in range(3):
        _work()
    assert len(mail.outbox) == 1
    assert [n.state for n in _notices(failed)] == ["done"]


def test_everybody_who_is_to_be_told_is_told_alone(failed: Cast) -> None:
    """One recipient a message; who does not receive notices gets none."""
    with acting_for(failed.owner.id, write=True):
        add_person(name="Bo Hart", email="bo@owner.example", receives_notices=True)
        add_person(name="Cy Lane", email="cy@owner.example")
        add_person(name="Di Moss", receives_notices=True)
    _work()
    assert sorted(m.to for m in mail.outbox) == [["ada@owner.example"], ["bo@owner.example"]]


def test_the_neighbour_hears_nothing(failed: Cast) -> None:
    """Nor does the firm receive what is the owner's."""
    _work()
    for who in (failed.neighbour, failed.firm, failed.stranger):
        with acting_for(who.id, write=False):
            assert not Notice.objects.exists()


def test_a_message_keeps_its_identity(failed: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tried again, it is the same message to the world."""
    seen: list[str] = []

    def refuse(message: EmailMessage) -> None:
        seen.append(message.extra_headers["Message-ID"])
        raise ConnectionRefusedError

    monkeypatch.setattr("django.core.mail.EmailMessage.send", refuse)
    _work()
    with looking_up(Purpose.SWEEP, write=True):
        Delivery.objects.update(not_before=timezone.now() - timedelta(hours=2))
    deliver_waiting_notices()
    assert len(seen) == 2
    assert len(set(seen)) == 1
    assert [(n.state, n.delivery.attempt) for n in _notices(failed)] == [("waiting", 2)]


def test_a_refusal_for_good_is_not_tried_again(
    failed: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It stands for a person to see, with the reason."""

    def refuse(message: EmailMessage) -> None:
        raise SMTPRecipientsRefused({"ada@owner.example": (550, b"no such person")})

    monkeypatch.setattr("django.core.mail.EmailMessage.send", refuse)
    _work()
    (notice,) = _notices(failed)
    assert (notice.state, notice.problem) == ("failed", "the recipient was refused")


def test_it_is_tried_a_bounded_number_of_times(
    failed: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Then a person is shown that it did not go out."""

    def refuse(message: EmailMessage) -> None:
        raise ConnectionRefusedError

    monkeypatch.setattr("django.core.mail.EmailMessage.send", refuse)
    expand_waiting_owings()
    for _ in range(TRIES + 2):
        deliver_waiting_notices()
        with looking_up(Purpose.SWEEP, write=True):
            Delivery.objects.filter(state="waiting").update(
                not_before=timezone.now() - timedelta(1)
            )
    (notice,) = _notices(failed)
    assert (notice.state, notice.delivery.attempt) == ("failed", TRIES)


def test_a_worker_that_died_while_sending_leaves_it_to_a_person(failed: Cast) -> None:
    """It may have gone out: it is never sent again by itself."""
    expand_waiting_owings()
    lapsed = timezone.now() - timedelta(minutes=1)
    with looking_up(Purpose.SWEEP, write=True):
        Delivery.objects.update(state="sending", attempt=1, leased_until=lapsed)
        Notice.objects.update(state="sending")
    deliver_waiting_notices()
    assert mail.outbox == []
    assert [n.state for n in _notices(failed)] == ["unknown"]


def test_a_worker_that_died_before_sending_is_replaced(failed: Cast) -> None:
    """Nothing had gone out, so another worker takes it."""
    expand_waiting_owings()
    lapsed = timezone.now() - timedelta(minutes=1)
    with looking_up(Purpose.SWEEP, write=True):
        Delivery.objects.update(state="claimed", attempt=1, leased_until=lapsed)
    deliver_waiting_notices()
    assert len(mail.outbox) == 1


@pytest.mark.parametrize("name", ["Ada\r\nBcc: x@y.example", "<b>Ada</b> & Söhne", "Άννα Ψ"])
def test_no_name_breaks_a_message(failed: Cast, name: str) -> None:
    """A line end in a name adds no header; letters of any alphabet arrive as they are."""
    with acting_for(failed.owner.id, write=True):
        add_person(name=name, email="x@owner.example", receives_notices=True)
    _work()
    raw = [m.message().as_string() for m in mail.outbox]
    assert len(raw) == 2
    assert not any("\nBcc:" in text.split("\n\n", 1)[0] for text in raw)


def test_one_that_cannot_be_worked_on_holds_nobody_up(
    failed: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its failure is its own: the one behind it goes out, and it waits to be tried again."""
    with acting_for(failed.owner.id, write=True):
        add_person(name="Bo Hart", email="bo@owner.example", receives_notices=True)
    expand_waiting_owings()
    broken = _notices(failed)[0]
    real = notices.begin_sending

    def fail_for_one(model: type[Delivery], claim: Claim, *, lease: timedelta) -> bool:
        if claim.id == broken.delivery_id:
            raise LookupError("nobody expected this")
        return real(model, claim, lease=lease)

    monkeypatch.setattr(notices, "begin_sending", fail_for_one)
    deliver_waiting_notices()
    assert [m.to for m in mail.outbox] == [["bo@owner.example"]]
    assert [n.state for n in _notices(failed)] == ["waiting", "done"]
