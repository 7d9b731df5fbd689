"""Machines are told what happened, signed, until it arrives, and of nothing they may not see."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.utils import timezone as django_timezone
from pytest_django.fixtures import Settings
from rest_framework.test import APIClient
from standardwebhooks import Webhook as Verifier
from standardwebhooks import WebhookVerificationError

from doors.clock import civil_date
from doors.models import Grant, LedgerEntry, Organization
from doors.services.grants import end_grant
from doors.services.people import add_person
from doors.tenancy import NoContextError, Purpose, acting_for, current, looking_up
from inspections.channels.addresses import Target
from inspections.channels.signatures import new_secret, signature_headers
from inspections.channels.webhooks import NotReached
from inspections.models import Notice, Owing, WebhookAttempt, WebhookDelivery, WebhookSecret
from inspections.services import deliveries, webhooks
from inspections.services.deliveries import JITTER, TRIES, WAITS, deliver_waiting_webhooks
from inspections.services.owings import expand_waiting_owings
from inspections.services.secrets import seal_anew
from tests.cast import ZONE, Cast, findings, visit
from tests.clients import client_of

URL = "http://127.0.0.1:9/hooks"
HEAVY = findings(("set_in_motion_force", "33.4", "lbf"))


class Receiver:
    """Stands where the network begins: keeps what is posted and answers what it is told to."""

    def __init__(self) -> None:
        """It takes everything."""
        self.got: list[tuple[str, bytes, dict[str, str]]] = []
        self.answers: list[int | BaseException] = []

    def post(self, url: str, body: bytes, headers: dict[str, str]) -> int:
        """Keep it, and answer."""
        self.got.append((url, body, dict(headers)))
        answer = self.answers.pop(0) if self.answers else 204
        if isinstance(answer, BaseException):
            raise answer
        return answer

    @property
    def events(self) -> list[dict[str, Any]]:
        """What was told, in order."""
        return [json.loads(body) for _, body, _ in self.got]


@pytest.fixture
def receiver(monkeypatch: pytest.MonkeyPatch, settings: Settings) -> Receiver:
    """A receiver in place of the network."""
    settings.WEBHOOKS_TO_LOOPBACK = True
    found = Receiver()
    monkeypatch.setattr(deliveries, "post", found.post)
    return found


def asked(client: APIClient, *events: str, url: str = URL) -> dict[str, Any]:
    """A webhook of the client's, with its secret."""
    answer = client.post("/v1/webhooks", {"url": url, "events": list(events)})
    assert answer.status_code == 201, answer.content
    return answer.json()


def work() -> None:
    """What a worker does."""
    while expand_waiting_owings() + deliver_waiting_webhooks():
        pass


def hasten() -> None:
    """Make everything that waits due."""
    with looking_up(Purpose.SWEEP, write=True):
        past = django_timezone.now() - timedelta(seconds=1)
        WebhookDelivery.objects.filter(state="waiting").update(not_before=past)


def of(organization: Organization) -> list[WebhookDelivery]:
    """The deliveries of an organization."""
    with acting_for(organization.id, write=False):
        return list(WebhookDelivery.objects.order_by("created_at", "id"))


def test_an_owner_is_told_of_a_visit_with_ids_alone(cast: Cast, receiver: Receiver) -> None:
    """What happened, to what, and where to read it; no reading, no name, no words of the record."""
    asked(client_of(cast.owner), "visit.recorded", "deficiency.opened")
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, HEAVY)
    work()
    told = {event["type"]: event["data"] for event in receiver.events}
    assert set(told) == {"visit.recorded", "deficiency.opened"}
    assert told["visit.recorded"]["visit"] == str(made.id)
    assert told["visit.recorded"]["link"].endswith(f"/v1/visits/{made.id}")
    for _, body, _ in receiver.got:
        assert len(body) < 20_000
        for secret in ("33.4", "Noor Vale", cast.owner.name, cast.opening.location):
            assert secret not in body.decode()


def test_only_the_kinds_asked_for_are_told(cast: Cast, receiver: Receiver) -> None:
    """Each to whoever asked; a webhook for another kind hears nothing."""
    asked(client_of(cast.owner), "deficiency.proven")
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, HEAVY)
    work()
    assert receiver.got == []


def test_nobody_else_is_told(cast: Cast, receiver: Receiver) -> None:
    """Neighbour, stranger and authority asked, and have no sight of the site."""
    for who in (cast.neighbour, cast.stranger, cast.authority):
        asked(client_of(who), "visit.recorded", "deficiency.opened", "submittal.filed")
    asked(client_of(cast.firm), "visit.recorded")
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, HEAVY)
    work()
    assert [event["type"] for event in receiver.events] == ["visit.recorded"]
    for who in (cast.neighbour, cast.stranger, cast.authority):
        assert of(who) == []


def _end_grant(cast: Cast) -> None:
    with acting_for(cast.owner.id, write=True):
        today = civil_date(django_timezone.now(), ZONE)
        end_grant(grant_id=Grant.objects.get().id, ends_on=today)  # as the day began


def test_a_firm_whose_grant_ended_before_expansion_hears_nothing(
    cast: Cast, receiver: Receiver
) -> None:
    """Not even of what it recorded itself."""
    asked(client_of(cast.firm), "visit.recorded")
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, HEAVY)
    _end_grant(cast)
    work()
    assert receiver.got == []


def test_a_firm_whose_grant_ended_before_sending_hears_nothing(
    cast: Cast, receiver: Receiver
) -> None:
    """What waited for it is withdrawn, and says why."""
    asked(client_of(cast.firm), "visit.recorded")
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, HEAVY)
    expand_waiting_owings()
    assert [row.state for row in of(cast.firm)] == ["waiting"]
    _end_grant(cast)
    deliver_waiting_webhooks()
    assert receiver.got == []
    (row,) = of(cast.firm)
    assert (row.state, "no sight" in row.problem) == ("withdrawn", True)


def test_both_parties_hear_of_a_grant(cast: Cast, receiver: Receiver) -> None:
    """That its end was set, and to which day."""
    for who in (cast.owner, cast.firm):
        asked(client_of(who), "grant.end_set")
    with acting_for(cast.owner.id, write=True):
        grant = Grant.objects.get()
        end = datetime.now(UTC).date() + timedelta(days=30)
        end_grant(grant_id=grant.id, ends_on=end)
    work()
    assert [e["data"]["ends_on"] for e in receiver.events] == [end.isoformat()] * 2
    assert {e["data"]["grant"] for e in receiver.events} == {str(grant.id)}


def test_the_request_is_known_to_the_end(cast: Cast, receiver: Receiver) -> None:
    """From the call over the outbox to the payload, its headers and the log of deliveries."""
    client = client_of(cast.owner)
    hook = asked(client, "visit.recorded")
    request = str(uuid4())
    answer = client.post(f"/v1/webhooks/{hook['id']}/test", headers={"X-Request-Id": request})
    assert answer.status_code == 202
    work()
    ((_, body, headers),) = receiver.got
    assert json.loads(body)["request_id"] == request
    assert headers["X-Request-Id"] == request
    assert client.get(answer["Location"]).json()["request_id"] == request


def test_an_independent_library_verifies_what_is_sent(cast: Cast, receiver: Receiver) -> None:
    """By the `standardwebhooks` package; one flipped byte anywhere, and it refuses."""
    client = client_of(cast.owner)
    hook = asked(client, "visit.recorded")
    client.post(f"/v1/webhooks/{hook['id']}/test")
    work()
    ((_, body, headers),) = receiver.got
    verifier = Verifier(hook["secret"])
    assert verifier.verify(body, headers)["type"] == "webhook.tested"
    flips = 0
    for name in ("webhook-id", "webhook-timestamp"):
        for at in range(len(headers[name])):
            flips += _refused(verifier, body, headers | {name: _flipped(headers[name], at)})
    for at in range(len(body)):
        changed = bytearray(body)
        changed[at] ^= 1
        flips += _refused(verifier, bytes(changed), headers)
    assert flips == len(body) + sum(len(headers[n]) for n in ("webhook-id", "webhook-timestamp"))


def _flipped(text: str, at: int) -> str:
    return text[:at] + chr(ord(text[at]) ^ 1) + text[at + 1 :]


def _refused(verifier: Verifier, body: bytes, headers: dict[str, str]) -> bool:
    with pytest.raises(WebhookVerificationError):
        verifier.verify(body, headers)
    return True


@pytest.mark.parametrize("hours", [-11, -5, 0, 5, 14])
def test_a_moment_in_any_zone_gives_the_same_signature(hours: int) -> None:
    """An aware time that is not in UTC is the same moment."""
    secret, message_id, body = new_secret(), uuid4(), b'{"a":1}'
    at = datetime.now(timezone(timedelta(hours=hours)))
    headers = signature_headers(message_id=message_id, at=at, body=body, by=[secret])
    assert headers == signature_headers(
        message_id=message_id, at=at.astimezone(UTC), body=body, by=[secret]
    )
    Verifier(secret).verify(body, dict(headers))


def test_during_a_rotation_old_and_new_receivers_both_verify(
    cast: Cast, receiver: Receiver
) -> None:
    """For 24 hours two signatures; a third secret ends the first at once."""
    client = client_of(cast.owner)
    first = asked(client, "visit.recorded")
    second = client.post(f"/v1/webhooks/{first['id']}/secrets").json()
    client.post(f"/v1/webhooks/{first['id']}/test")
    work()
    _, body, headers = receiver.got[-1]
    for secret in (first["secret"], second["secret"]):
        Verifier(secret).verify(body, headers)
    third = client.post(f"/v1/webhooks/{first['id']}/secrets").json()
    client.post(f"/v1/webhooks/{first['id']}/test")
    work()
    _, body, headers = receiver.got[-1]
    _refused(Verifier(first["secret"]), body, headers)
    for secret in (second["secret"], third["secret"]):
        Verifier(secret).verify(body, headers)


def test_what_a_repetition_does_is_as_described(cast: Cast, receiver: Receiver) -> None:
    """A second webhook, the newest of the list; ending it leaves the first, once only."""
    client = client_of(cast.owner)
    kept, lost = (asked(client, "visit.recorded")["id"] for _ in range(2))
    assert [each["id"] for each in client.get("/v1/webhooks").json()["data"]] == [lost, kept]
    assert client.post(f"/v1/webhooks/{lost}/end").status_code == 200
    again = client.post(f"/v1/webhooks/{lost}/end")
    assert (again.status_code, again.json()["code"]) == (409, "wrong_state")
    states = {each["id"]: each["state"] for each in client.get("/v1/webhooks").json()["data"]}
    assert (states[lost], states[kept]) == ("ended", "enabled")


def test_an_earlier_secret_ends_after_a_day(cast: Cast, receiver: Receiver) -> None:
    """As the answer says when it was rotated."""
    client = client_of(cast.owner)
    first = asked(client, "visit.recorded")
    row = client.post(f"/v1/webhooks/{first['id']}/secrets").json()
    ends = [secret["ends_at"] for secret in row["secrets"] if secret["ends_at"]]
    (at,) = (datetime.fromisoformat(text) for text in ends)
    assert timedelta(hours=23, minutes=59) < at - django_timezone.now() <= timedelta(hours=24)


def test_no_transaction_is_open_while_a_name_is_asked_for(
    cast: Cast, receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Made or moved, a name server may take its seconds: nothing is held meanwhile."""
    client, asked_for = client_of(cast.owner), []

    def slow(target: Target) -> str:
        with pytest.raises(NoContextError):
            current()
        asked_for.append(target.host)
        return "8.8.8.8"

    monkeypatch.setattr(webhooks, "address_of", slow)
    hook = asked(client, "visit.recorded", url="https://one.example.com/")
    address = f"/v1/webhooks/{hook['id']}"
    moved = client.patch(address, {"url": "https://two.example.com/"}, headers={"If-Match": "*"})
    assert (moved.status_code, moved.json()["url"]) == (200, "https://two.example.com/")
    client.patch(address, {"name": "same"}, headers={"If-Match": "*"})
    assert asked_for == ["one.example.com", "two.example.com"]


def test_a_secret_is_shown_once_and_kept_sealed(
    cast: Cast, receiver: Receiver, settings: Settings
) -> None:
    """No later answer holds it, nor the table; a new key of the service seals it anew."""
    client = client_of(cast.owner)
    hook = asked(client, "visit.recorded")
    secret = hook["secret"]
    assert secret.startswith("whsec_")
    for address in ("/v1/webhooks", f"/v1/webhooks/{hook['id']}"):
        assert secret not in client.get(address).content.decode()
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "another-" + "x" * 60
    with acting_for(cast.owner.id, write=False):
        before = WebhookSecret.objects.get().sealed
    assert secret.removeprefix("whsec_") not in before
    assert (seal_anew(), seal_anew()) == (1, 0)
    settings.SECRET_KEY_FALLBACKS = []
    client.post(f"/v1/webhooks/{hook['id']}/test")
    work()
    _, body, headers = receiver.got[-1]
    Verifier(secret).verify(body, headers)


def test_it_is_tried_ten_times_over_three_days_under_one_id(cast: Cast, receiver: Receiver) -> None:
    """By the schedule of the specification, with jitter; then it is dead and people are told."""
    client = client_of(cast.owner)
    hook = asked(client, "visit.recorded")
    client.post(f"/v1/webhooks/{hook['id']}/test")
    receiver.answers = [500, NotReached("no answer"), 302, *[503] * 20]
    waits = []
    for _ in range(TRIES + 3):
        now = django_timezone.now()
        deliver_waiting_webhooks()
        (row,) = of(cast.owner)
        waits.append((row.not_before - now).total_seconds())
        hasten()
    assert len(receiver.got) == TRIES
    assert len({headers["webhook-id"] for _, _, headers in receiver.got}) == 1
    assert len({body for _, body, _ in receiver.got}) == 1
    for wait, planned in zip(waits, WAITS, strict=False):
        assert planned * (1 - JITTER) - 5 <= wait <= planned * (1 + JITTER) + 5
    assert (row.state, row.attempt) == ("failed", TRIES)
    read = client.get(f"/v1/webhook-deliveries/{row.id}").json()
    assert [a["status"] for a in read["attempts"]][:4] == [500, None, 302, 503]
    assert "redirects are not followed" in read["attempts"][2]["problem"]
    expand_waiting_owings()
    with acting_for(cast.owner.id, write=False):
        assert [n.stage for n in Notice.objects.all()] == ["webhook_failed"]


def test_a_receiver_that_keeps_us_waiting_keeps_nobody_else(cast: Cast, receiver: Receiver) -> None:
    """It is asked once; what else waits for it is tried later, with all its tries."""
    client, other = client_of(cast.owner), client_of(cast.firm)
    hook = asked(client, "visit.recorded")
    for _ in range(4):
        client.post(f"/v1/webhooks/{hook['id']}/test")
    receiver.answers = [NotReached("no answer within 15 seconds")]
    assert deliver_waiting_webhooks(limit=3) == 3
    assert len(receiver.got) == 1
    prompt = asked(other, "visit.recorded", url=f"{URL}other")
    other.post(f"/v1/webhooks/{prompt['id']}/test")
    assert (deliver_waiting_webhooks(), deliver_waiting_webhooks()) == (1, 0)
    assert receiver.got[-1][0].endswith("other")
    hasten()
    work()
    assert [row.state for row in of(cast.owner)] == ["done"] * 4
    assert {row.last_try - row.attempt for row in of(cast.owner)} <= {TRIES - 1, TRIES - 2}


def test_a_receiver_that_is_down_does_not_fill_a_mailbox(cast: Cast, receiver: Receiver) -> None:
    """People are told once of a webhook, until somebody changes it."""
    client = client_of(cast.owner)
    hook = asked(client, "visit.recorded")
    for _ in range(3):
        client.post(f"/v1/webhooks/{hook['id']}/test")
    receiver.answers = [500] * 100
    for _ in range(TRIES):
        while deliver_waiting_webhooks():
            pass
        hasten()
    assert {row.state for row in of(cast.owner)} == {"failed"}
    expand_waiting_owings()
    with acting_for(cast.owner.id, write=False):
        assert Notice.objects.count() == 1


def test_gone_disables_it_until_its_owner_enables_it(cast: Cast, receiver: Receiver) -> None:
    """410 is not tried again; what comes meanwhile is not even made."""
    client = client_of(cast.owner)
    hook = asked(client, "visit.recorded")
    client.post(f"/v1/webhooks/{hook['id']}/test")
    receiver.answers = [410]
    work()
    hasten()
    work()
    assert len(receiver.got) == 1
    read = client.get(f"/v1/webhooks/{hook['id']}")
    assert (read.json()["state"], read.json()["version"]) == ("disabled", 2)
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, HEAVY)
    work()
    assert len(receiver.got) == 1
    patched = client.patch(
        f"/v1/webhooks/{hook['id']}", {"state": "enabled"}, headers={"If-Match": read["ETag"]}
    )
    assert patched.status_code == 200, patched.content
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, HEAVY)
    work()
    assert receiver.events[-1]["type"] == "visit.recorded"


def test_a_delivery_that_ended_can_be_asked_for_again(cast: Cast, receiver: Receiver) -> None:
    """Under the same id, with the same bytes; one on its way cannot."""
    client = client_of(cast.owner)
    hook = asked(client, "visit.recorded")
    sent = client.post(f"/v1/webhooks/{hook['id']}/test").json()
    again = f"/v1/webhook-deliveries/{sent['id']}/redelivery"
    assert client.post(again).status_code == 409
    work()
    assert client.post(again).status_code == 202
    work()
    (_, one, first), (_, other, second) = receiver.got
    assert (one, first["webhook-id"]) == (other, second["webhook-id"])
    assert client.get(f"/v1/webhook-deliveries/{sent['id']}").json()["state"] == "delivered"


def test_a_worker_that_died_while_sending_is_counted_and_followed(
    cast: Cast, receiver: Receiver
) -> None:
    """The try is `unknown`; the next has the same id: nothing is lost, nothing taken twice."""
    client = client_of(cast.owner)
    hook = asked(client, "visit.recorded")
    client.post(f"/v1/webhooks/{hook['id']}/test")
    receiver.answers = [KeyboardInterrupt("killed after the receiver had it")]
    with pytest.raises(KeyboardInterrupt):
        deliver_waiting_webhooks()
    (row,) = of(cast.owner)
    assert row.state == "sending"
    with looking_up(Purpose.SWEEP, write=True):
        WebhookDelivery.objects.update(leased_until=django_timezone.now() - timedelta(seconds=1))
    work()
    assert len({headers["webhook-id"] for _, _, headers in receiver.got}) == 1
    with acting_for(cast.owner.id, write=False):
        tries = WebhookAttempt.objects.order_by("number")
        assert [t.outcome for t in tries] == ["unknown", "accepted"]


def test_an_event_expanded_twice_is_told_once(cast: Cast, receiver: Receiver) -> None:
    """Unique by webhook and event, however often the outbox is worked through."""
    asked(client_of(cast.owner), "visit.recorded")
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, HEAVY)
    work()
    with looking_up(Purpose.SWEEP, write=True):
        Owing.objects.update(state="waiting")
    work()
    assert len(receiver.got) == 1


def test_pausing_and_ending_stop_what_waits(cast: Cast, receiver: Receiver) -> None:
    """Nothing goes to a webhook that is not enabled; an ended one cannot be changed."""
    client = client_of(cast.owner)
    hook = asked(client, "visit.recorded")
    client.post(f"/v1/webhooks/{hook['id']}/test")
    assert client.post(f"/v1/webhooks/{hook['id']}/end").json()["state"] == "ended"
    work()
    assert receiver.got == []
    assert [row.problem for row in of(cast.owner)] == ["the webhook is ended"]
    answer = client.patch(f"/v1/webhooks/{hook['id']}", {"name": "x"}, headers={"If-Match": '"v2"'})
    assert answer.status_code == 409


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"url": URL}, "/events"),
        ({"url": URL, "events": []}, "/events"),
        ({"url": URL, "events": ["visit.imagined"]}, "/events/0"),
        ({"url": URL, "events": ["webhook.tested"]}, "/events/0"),
        ({"events": ["visit.recorded"]}, "/url"),
        ({"url": 5, "events": ["visit.recorded"]}, "/url"),
        ({"url": URL, "events": ["visit.recorded"], "secret": "x"}, "/secret"),
    ],
)
def test_a_wrong_body_is_named(
    cast: Cast, receiver: Receiver, body: dict[str, Any], pointer: str
) -> None:
    """400 with the place."""
    answer = client_of(cast.owner).post("/v1/webhooks", body)
    assert answer.status_code == 400
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]


def test_each_deed_leaves_its_line(cast: Cast, receiver: Receiver) -> None:
    """In the organization's own chain: no address, no secret."""
    client = client_of(cast.stranger)
    hook = asked(client, "visit.recorded")
    client.post(f"/v1/webhooks/{hook['id']}/secrets")
    client.post(f"/v1/webhooks/{hook['id']}/test")
    client.post(f"/v1/webhooks/{hook['id']}/end")
    with acting_for(cast.stranger.id, write=False):
        lines = LedgerEntry.objects.filter(subject=UUID(hook["id"])).order_by("position")
        kinds = [line.kind for line in lines]
        assert not any("127.0.0.1" in line.body for line in lines)
    assert kinds == [
        "webhook_made",
        "webhook_secret_rotated",
        "webhook_tried",
        "webhook_ended",
    ]


def test_another_organizations_webhook_does_not_exist(cast: Cast, receiver: Receiver) -> None:
    """404 for every deed, byte for byte as for one that never was."""
    hook = asked(client_of(cast.owner), "visit.recorded")["id"]
    stranger = client_of(cast.stranger)
    for deed in ("end", "secrets", "test"):
        for id_ in (hook, str(uuid4())):
            assert stranger.post(f"/v1/webhooks/{id_}/{deed}").status_code == 404
    assert stranger.get(f"/v1/webhooks/{hook}").status_code == 404


def test_there_are_so_many_and_no_more(cast: Cast, receiver: Receiver) -> None:
    """The twenty-first is refused; one that has ended counts no more."""
    client = client_of(cast.owner)
    hooks = [asked(client, "visit.recorded") for _ in range(20)]
    body = {"url": URL, "events": ["visit.recorded"]}
    assert client.post("/v1/webhooks", body).status_code == 422
    client.post(f"/v1/webhooks/{hooks[0]['id']}/end")
    assert client.post("/v1/webhooks", body).status_code == 201


def test_people_without_an_address_are_told_nothing(cast: Cast, receiver: Receiver) -> None:
    """A dead webhook of an organization without people is in its log alone."""
    client = client_of(cast.stranger)
    with acting_for(cast.stranger.id, write=True):
        add_person(name="Di Moss", receives_notices=True)
    hook = asked(client, "visit.recorded")
    client.post(f"/v1/webhooks/{hook['id']}/test")
    receiver.answers = [410]
    work()
    with acting_for(cast.stranger.id, write=False):
        assert not Notice.objects.exists()
