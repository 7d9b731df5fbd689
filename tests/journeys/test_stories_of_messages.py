"""Who is told what is due and what has failed, and who is told when nobody answers."""

from __future__ import annotations

from datetime import timedelta
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import TYPE_CHECKING

import pytest

from doors.tenancy import Purpose, looking_up
from inspections.models import Delivery, Ladder
from rules.intervals import add, parse_period
from tests.cast import TOWN, ZONE, today
from tests.journeys.field import AT_ANY_HOUR

if TYPE_CHECKING:
    from tests.journeys.field import Field

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres, pytest.mark.redis]

YEARLY = "nfpa-80-2013/inspection/yearly"


def let_time_pass(waiting: type[Delivery | Ladder], *, minutes: int) -> None:
    """What waits for its hour, or for an answer, has waited so much longer."""
    by = timedelta(minutes=minutes)
    with looking_up(Purpose.SWEEP, write=True):
        for each in waiting.objects.filter(state="waiting"):
            waiting.objects.filter(id=each.id).update(not_before=each.not_before - by)


def mails(field: Field) -> list[EmailMessage]:
    """All mails about the owner's buildings so far."""
    files = sorted(field.mail.rglob("*.eml"))
    read = [message_from_bytes(f.read_bytes(), policy=policy.default) for f in files]
    return [mail for mail in read if "Harrow Mill" in words_of(mail)]


def words_of(mail: EmailMessage) -> str:
    """What a mail says in plain text."""
    body = mail.get_body(("plain",))
    assert body is not None
    return str(body.get_content())


def test_sixty_doors_in_two_buildings_make_one_mail(field: Field) -> None:
    """At the hour that its policy names and not before, in the reader's language, a section a
    building and none a door; whoever wants no more of them gets no more.
    """
    field.owner.put("/v1/notice-policy", AT_ANY_HOUR | {"send_at": "23:59"})
    (ada,) = field.owner.get("/v1/people")["data"]
    field.owner.patch(f"/v1/people/{ada['id']}", {"language": "es"})
    annexe = {
        "reference": "S-2",
        "name": "Annexe",
        "address": ["2 High Street"],
        "time_zone": ZONE,
        "jurisdiction": TOWN,
        "in_custody_from": "2020-01-01",
    }
    second = field.owner.post("/v1/sites", annexe)["id"]
    field.hang(field.cast.site.id, (f"A-{n}" for n in range(2, 31)))
    field.hang(second, (f"B-{n}" for n in range(1, 31)))
    opening, house = field.cast.opening.id, field.cast.site.name
    before = field.state(opening)
    assert before["notices"] == [("overdue", "Ada Quist", "waiting")] * 2
    assert mails(field) == []
    let_time_pass(Delivery, minutes=24 * 60)
    after = field.state(opening)
    assert after == before | {"notices": [("overdue", "Ada Quist", "sent")] * 2}
    (mail,) = mails(field)
    told = mail["Subject"].strip()
    assert told == "Annexe y 1 edificio más: 60 puertas cortafuego con plazo vencido"
    sections = [line for line in words_of(mail).splitlines() if line in {"Annexe", house}]
    assert sections == ["Annexe", house]
    stop = f"/v1/people/{ada['id']}/reminders"
    field.owner.post(stop, {"stopped": ["overdue"]}, expect=200)
    field.hang(second, ["B-31"])
    let_time_pass(Delivery, minutes=24 * 60)
    assert field.state(opening)["notices"] == after["notices"]
    assert len(mails(field)) == 1
    later = field.begun(opening)["ledger"][len(before["ledger"]) :]
    assert later == ["reminders_stopped", "blob_kept", "import_asked_for", "opening_added"]


def test_a_failure_at_night_climbs_until_somebody_answers(field: Field) -> None:
    """In quiet hours all the same: the first contact is told at once; half an hour without an
    answer, and the next is told who was told before; once that one has seen it, nobody further is.
    """
    people = [
        field.owner.post("/v1/people", {"name": name, "email": f"{name}@owner.example"})
        for name in ("first", "second", "third")
    ]
    contacts = [
        {"person": person["id"], "kinds": ["failures"] if n == 0 else []}
        for n, person in enumerate(people)
    ]
    at_night = {"quiet_from": "00:00", "quiet_until": "23:59", "send_at": "23:59"}
    terms = AT_ANY_HOUR | at_night | {"acknowledge_minutes": 30, "contacts": contacts}
    field.owner.put("/v1/notice-policy", terms)
    opening = field.cast.opening.id
    before = field.begun(opening)
    field.visit(opening, field.conforming(opening, opening_force="16"))
    assert told(field) == ["first"]
    let_time_pass(Ladder, minutes=29)
    assert told(field) == ["first"]
    let_time_pass(Ladder, minutes=2)
    assert told(field) == ["first", "second"]
    (climbed,) = [m for m in mails(field) if m["To"].startswith("second")]
    assert "first" in words_of(climbed)
    (notice,) = [
        n
        for n in field.owner.every("/v1/notices")
        if n["person"] == "second" and n["stage"] == "test_failed"
    ]
    field.owner.post(f"/v1/notices/{notice['id']}/acknowledgement", {}, expect=200)
    let_time_pass(Ladder, minutes=120)
    assert told(field) == ["first", "second"]
    assert field.state(opening) == before | {
        "visits": [("periodic_inspection", "does_not_conform", True, False)],
        "wanting": [{"opening_force": "does_not_conform"}],
        "duties": before["duties"]
        | {YEARLY: ("upcoming", add(today(), parse_period("P1Y")).isoformat())},
        "deficiencies": [("quantity:opening_force", "open", False)],
        "notices": [
            *[("overdue", who, "waiting") for who in ("first", "second", "third")],
            *[("test_failed", who, "sent") for who in ("first", "second")],
        ],
        "ledger": [
            *before["ledger"],
            "visit_recorded",
            "deficiency_open",
            "notice_climbed",
            "notice_acknowledged",
        ],
    }


def told(field: Field) -> list[str]:
    """Whom a failure has reached, when the waiting work is done."""
    field.settle()
    sent = [n for n in field.owner.every("/v1/notices") if n["stage"] == "test_failed"]
    return sorted(n["person"] for n in sent if n["state"] == "sent")
