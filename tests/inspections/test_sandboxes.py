"""A sandbox is a town of one's own: everything works in it, and nothing of it leaves."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.core import mail
from django.db import DatabaseError, connection, transaction
from django.test import Client
from rest_framework.test import APIClient
from standardwebhooks import Webhook as Verifier

from doors.models import (
    Account,
    Custody,
    CustodyOffer,
    Grant,
    Invitation,
    Jurisdiction,
    LedgerEntry,
    Member,
    Organization,
    Role,
    Site,
    SitePlace,
)
from doors.services.jobs import run_waiting_jobs
from doors.services.people import add_person
from doors.tenancy import Purpose, acting_for, looking_up
from inspections.models import Filing, Notice, Submittal, WebhookDelivery
from inspections.services.deliveries import deliver_waiting_webhooks
from inspections.services.notices import deliver_waiting_notices
from inspections.services.owings import expand_waiting_owings
from inspections.services.submittals import ask_for_submittal
from tests.cast import SINCE, TOWN, Cast
from tests.clients import PASSWORD, client_of, member_of


class Town:
    """A sandbox that the firm made, with a client for each of those in it."""

    def __init__(self, maker: APIClient) -> None:
        """Make it."""
        self.maker = maker
        answer = maker.post("/v1/sandboxes", {"name": "trial"})
        assert answer.status_code == 201, answer.content
        self.made = answer.json()
        self.address = f"/v1/sandboxes/{self.made['id']}"
        self.ids = {o["role"]: o["organization"] for o in self.made["organizations"]}
        self.clients = {o["role"]: _client(o["key"]) for o in self.made["organizations"]}

    def failing(self, **body: str) -> dict[str, Any]:
        """A visit that does not conform."""
        answer = self.maker.post(f"{self.address}/failing-visits", body)
        assert answer.status_code == 201, answer.content
        return answer.json()

    def messages(self, channel: str) -> list[dict[str, Any]]:
        """What would have left it."""
        found = self.maker.get(f"{self.address}/messages").json()["data"]
        return [message for message in found if message["channel"] == channel]


def _client(key: str) -> APIClient:
    client = APIClient(raise_request_exception=False)
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {key}")
    return client


@pytest.fixture
def town(cast: Cast) -> Town:
    """One of the firm's."""
    return Town(client_of(cast.firm))


def work() -> None:
    """What a worker does."""
    while (
        run_waiting_jobs()
        + expand_waiting_owings()
        + deliver_waiting_notices()
        + deliver_waiting_webhooks()
    ):
        pass


def test_it_holds_an_owner_a_firm_and_an_authority(town: Town) -> None:
    """Each with a key of its own; the firm sees the owner's buildings and doors."""
    assert set(town.clients) == {"owner", "firm", "authority"}
    for role, client in town.clients.items():
        me = client.get("/v1/me").json()
        assert me["organization"]["id"] == town.ids[role]
    sites = town.clients["firm"].get("/v1/sites").json()["data"]
    openings = town.clients["firm"].get("/v1/openings").json()["data"]
    assert len(sites) >= 2
    assert len(openings) >= 4
    assert town.clients["authority"].get("/v1/sites").json()["data"] == []


def test_a_door_fails_on_request_with_all_that_follows(town: Town) -> None:
    """A deficiency opens, the owner would be told: the mail is kept, nobody is written to."""
    visit = town.failing()
    assert visit["verdict"] == "does_not_conform"
    (deficiency,) = town.clients["owner"].get("/v1/deficiencies").json()["data"]
    assert deficiency["state"] == "open"
    work()
    assert mail.outbox == []
    kept = town.messages("email")
    assert {message["recipient"].rpartition("@")[2] for message in kept} == {"lantern-hall.example"}
    assert all("does not conform" in message["body"] for message in kept)
    with acting_for(town.ids["owner"], write=False):
        assert {n.problem for n in Notice.objects.all()} == {"kept, not sent"}


def test_the_door_asked_for_fails(town: Town) -> None:
    """And one of the real world does not exist there."""
    opening = town.clients["firm"].get("/v1/openings").json()["data"][0]["id"]
    assert town.failing(opening=opening)["opening"] == opening
    answer = town.maker.post(f"{town.address}/failing-visits", {"opening": str(uuid4())})
    assert answer.status_code == 404
    assert answer.json()["errors"][0]["pointer"] == "/opening"


def test_a_webhook_is_kept_signed_as_it_would_have_been_sent(town: Town) -> None:
    """To no name that need exist; verified by an independent library."""
    body = {"url": "https://hooks.example.com/in", "events": ["visit.recorded"]}
    hook = town.clients["firm"].post("/v1/webhooks", body).json()
    visit = town.failing()
    work()
    (kept,) = town.messages("webhook")
    assert kept["recipient"] == body["url"]
    Verifier(hook["secret"]).verify(kept["body"], kept["headers"])
    assert json.loads(kept["body"])["data"]["visit"] == visit["id"]
    with acting_for(town.ids["firm"], write=False):
        assert [d.state for d in WebhookDelivery.objects.all()] == ["done"]


def test_the_request_is_known_in_every_message(town: Town) -> None:
    """From the call that records a visit, over the outbox, to mails and webhooks."""
    body = {"url": "https://hooks.example.com/in", "events": ["visit.recorded"]}
    town.clients["firm"].post("/v1/webhooks", body)
    request = str(uuid4())
    address = f"{town.address}/failing-visits"
    assert town.maker.post(address, {}, headers={"X-Request-Id": request}).status_code == 201
    work()
    mails, (hook,) = town.messages("email"), town.messages("webhook")
    assert {mail["headers"]["X-Request-Id"] for mail in mails} == {request}
    assert hook["headers"]["X-Request-Id"] == request
    assert json.loads(hook["body"])["request_id"] == request


def test_the_clock_moves_what_is_due_and_nothing_else(town: Town) -> None:
    """Years ahead everything is overdue, back again it is as it was; the ledger keeps real time."""
    owner, at = town.clients["owner"], datetime.now(UTC)

    def states() -> dict[str, str]:
        rows = owner.get("/v1/duties").json()["data"]
        return {row["id"]: row["state"] for row in rows if row["state"] != "ended"}

    before = states()
    assert before
    _set_clock(town, at + timedelta(days=2_000))
    shown = datetime.fromisoformat(town.maker.get(town.address).json()["now"])
    assert abs(shown - (at + timedelta(days=2_000))) < timedelta(minutes=5)
    assert set(states().values()) == {"overdue"}
    assert "overdue" not in str(owner.get("/v1/me").content)
    town.failing()
    with acting_for(town.ids["owner"], write=False):
        last = LedgerEntry.objects.latest("position").recorded_at
    assert abs(last - at) < timedelta(hours=1)
    _set_clock(town, at)
    work()
    after = states()
    assert {id_: after[id_] for id_ in before if id_ in after}.items() <= after.items()
    assert set(after.values()) != {"overdue"}


def _set_clock(town: Town, now: datetime) -> None:
    tag = town.maker.get(town.address)["ETag"]
    answer = town.maker.put(
        f"{town.address}/clock", {"now": now.isoformat()}, headers={"If-Match": tag}
    )
    assert answer.status_code == 200, answer.content
    ahead = (now - datetime.now(UTC)).total_seconds()
    assert abs(answer.json()["seconds_ahead"] - ahead) < 60


@pytest.mark.parametrize("days", [-3_700, 3_700, 300_000])
def test_the_clock_has_bounds(town: Town, days: int) -> None:
    """Ten years either way; what lies beyond is refused, never cut."""
    now = datetime.now(UTC) + timedelta(days=min(days, 60_000))
    body = {"now": now.isoformat()}
    answer = town.maker.put(f"{town.address}/clock", body, headers={"If-Match": "*"})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/now"
    assert town.maker.get(town.address).json()["seconds_ahead"] == 0


def _filed(town: Town) -> str:
    firm = town.clients["firm"]
    site = firm.get("/v1/sites").json()["data"][0]["id"]
    job = firm.post("/v1/submittals", {"site": site}).json()
    run_waiting_jobs()
    submittal: str = firm.get(f"/v1/jobs/{job['id']}").json()["result"]["submittal"]
    filed = firm.post(f"/v1/submittals/{submittal}/filings", {})
    assert filed.status_code == 201, filed.content
    return submittal


def test_its_authority_answers_by_itself(town: Town) -> None:
    """Returned with what the packet itself lists as wanting; its seal says that it is a trial."""
    submittal = _filed(town)
    work()
    (filing,) = town.clients["firm"].get(f"/v1/submittals/{submittal}").json()["filings"]
    assert filing["state"] == "returned"
    assert filing["remarks"].startswith("Wanting:")
    changes = town.clients["authority"].get("/v1/submittals/changes").json()["data"]
    assert [change["state"] for change in changes] == ["filed", "returned"]
    assert APIClient().get(f"/v1/seals/{submittal}").json()["sandbox"] is True


def test_the_real_authority_hears_nothing_of_it(town: Town, cast: Cast) -> None:
    """Neither in its feed, nor in its list, nor through a webhook."""
    _filed(town)
    work()
    real = client_of(cast.authority)
    assert real.get("/v1/submittals/changes").json()["data"] == []
    assert real.get("/v1/submittals").json()["data"] == []


def test_nobody_outside_sees_into_it_but_for_its_messages(town: Town, cast: Cast) -> None:
    """Not even who made it; others do not find the sandbox at all."""
    town.failing()
    work()
    for who in (cast.firm, cast.owner, cast.authority, cast.stranger):
        client = client_of(who)
        for address in ("/v1/sites", "/v1/openings", "/v1/visits", "/v1/deficiencies"):
            assert town.made["id"] not in client.get(address).content.decode()
            assert "Lantern Hall" not in client.get(address).content.decode()
        codes = [row["code"] for row in client.get("/v1/jurisdictions").json()["data"]]
        assert not any(code.startswith("sandbox-") for code in codes)
        if who is not cast.firm:
            for below in ("", "/messages"):
                assert client.get(town.address + below).status_code == 404


def test_it_sees_nothing_of_the_real_world(town: Town, cast: Cast) -> None:
    """Its owner's and firm's lists hold their own things alone."""
    for client in town.clients.values():
        for address in ("/v1/sites", "/v1/visits", "/v1/grants", "/v1/submittals"):
            assert cast.owner.name not in client.get(address).content.decode()


def test_only_who_made_it_sets_it_going(town: Town) -> None:
    """Those within may look; a sandbox makes no sandboxes."""
    owner = town.clients["owner"]
    assert owner.get(town.address).status_code == 200
    assert owner.post(f"{town.address}/end").status_code == 409
    assert owner.post(f"{town.address}/failing-visits", {}).status_code == 409
    assert owner.post("/v1/sandboxes", {"name": "inner"}).status_code == 422


def test_reset_makes_it_anew_and_the_old_keys_are_worth_nothing(town: Town) -> None:
    """From the next request on; another town, with new keys."""
    town.failing()
    answer = town.maker.post(f"{town.address}/reset")
    assert answer.status_code == 201
    assert town.clients["owner"].get("/v1/me").status_code == 401
    fresh = {o["role"]: _client(o["key"]) for o in answer.json()["organizations"]}
    assert fresh["owner"].get("/v1/deficiencies").json()["data"] == []
    assert town.maker.get(town.address).json()["ended_at"] is not None
    for deed in ("reset", "end"):
        assert town.maker.post(f"{town.address}/{deed}").status_code == 409


def test_there_are_so_many_and_no_more(cast: Cast) -> None:
    """The sixth at a time is refused; a place that no library knows, too."""
    client = client_of(cast.stranger)
    for _ in range(5):
        town = Town(client)
    assert client.post("/v1/sandboxes", {"name": "sixth"}).status_code == 422
    client.post(f"{town.address}/end")
    answer = client.post("/v1/sandboxes", {"name": "far", "place": "atlantis"})
    assert answer.json()["errors"][0]["pointer"] == "/place"
    assert client.post("/v1/sandboxes", {"name": "sixth", "place": "gb-eng"}).status_code == 201


# --- the border -------------------------------------------------------------------------------


def _doors(town: Town, cast: Cast) -> dict[str, tuple[APIClient, str, dict[str, Any], str]]:
    """Each door in the border, from both sides: who tries, where, with what, the bad field."""
    inner, outer = town.clients["owner"], client_of(cast.owner)
    inner_site = inner.get("/v1/sites").json()["data"][0]["id"]
    begins = {"begins_on": "2100-01-01"}
    leave = {"actions": ["record"], **begins}
    site = {"reference": "X", "name": "X", "address": ["1"], "time_zone": "UTC"}
    with acting_for(town.ids["owner"], write=False):
        inner_town = Jurisdiction.objects.exclude(sandbox=None).get().code
    return {
        "grant out": (inner, "/v1/grants", {**leave, "grantee": str(cast.firm.id)}, "/grantee"),
        "grant in": (outer, "/v1/grants", {**leave, "grantee": town.ids["firm"]}, "/grantee"),
        "custody out": (
            inner,
            f"/v1/sites/{inner_site}/custody",
            {**begins, "buyer": str(cast.neighbour.id)},
            "/buyer",
        ),
        "custody in": (
            outer,
            f"/v1/sites/{cast.site.id}/custody",
            {**begins, "buyer": town.ids["owner"]},
            "/buyer",
        ),
        "site out": (inner, "/v1/sites", {**site, "jurisdiction": TOWN}, "/jurisdiction"),
        "site in": (outer, "/v1/sites", {**site, "jurisdiction": inner_town}, "/jurisdiction"),
        "place out": (
            inner,
            f"/v1/sites/{inner_site}/places",
            {**begins, "jurisdictions": [TOWN]},
            "/jurisdictions/0",
        ),
        "place in": (
            outer,
            f"/v1/sites/{cast.site.id}/places",
            {**begins, "jurisdictions": [inner_town]},
            "/jurisdictions/0",
        ),
    }


@pytest.mark.parametrize(
    "door",
    [f"{deed} {way}" for deed in ("grant", "custody", "site", "place") for way in ("out", "in")],
)
def test_the_border_is_refused_as_if_nothing_lay_beyond(town: Town, cast: Cast, door: str) -> None:
    """422 at the field that names what lies beyond; the same deed within is taken."""
    client, address, body, field = _doors(town, cast)[door]
    answer = client.post(address, body)
    assert (door, answer.status_code) == (door, 422), answer.content
    assert answer.json()["errors"][0]["pointer"] == field


def _assembled(cast: Cast) -> UUID:
    with acting_for(cast.firm.id, write=True):
        ask_for_submittal(site_id=cast.site.id)
    run_waiting_jobs()
    with acting_for(cast.firm.id, write=False):
        return Submittal.objects.get().id


def _crossings(town: Town, cast: Cast) -> dict[str, Any]:
    """Rows across the border, each otherwise right, that no service of ours would write."""
    with looking_up(Purpose.CUSTODY):
        inner_site = Site.objects.filter(author_id=town.ids["owner"]).first()
    assert inner_site is not None
    with looking_up(Purpose.SWEEP):
        inner_town = Jurisdiction.objects.exclude(sandbox=None).get()
    box, now = UUID(town.made["id"]), datetime.now(UTC)
    inner = {role: Organization(id=id_, sandbox_id=box) for role, id_ in town.ids.items()}
    named = {"owner": cast.owner, "owner_name": "x", "begins_on": SINCE}
    long_ago = {"begins_on": date(1990, 1, 1), "ends_on": date(1991, 1, 1)}  # nobody else's time
    return {
        "grant": Grant(**named, grantee=inner["firm"], actions=["read"], created_at=now),
        "custody": Custody(**named | long_ago, site=inner_site),
        "offer": CustodyOffer(
            **named,
            site=cast.site,
            site_name="x",
            buyer=inner["owner"],
            buyer_name="x",
            offered_at=now,
        ),
        "place": SitePlace(site=cast.site, jurisdiction=inner_town, begins_on=SINCE),
        "jurisdiction": Jurisdiction(
            code="x", name="x", kind="city", authority=inner["authority"], authority_name="x"
        ),
        "filing": Filing(
            site=cast.site,
            submittal_id=_assembled(cast),
            author=cast.firm,
            author_name="x",
            custodian=cast.owner,
            jurisdiction=cast.town,
            authority=inner["authority"],
            authority_name="x",
            state="filed",
            filed_at=now,
        ),
        "organization": Organization(
            name="x", author=inner["firm"], reference="x", created_at=now, capabilities=["owner"]
        ),
        "invitation": Invitation(
            organization=cast.firm,
            email="x@y.example",
            to_claim=inner["owner"],
            token_sha256="0" * 64,
            created_at=now,
            expires_at=now,
        ),
        "member": _member(cast.firm, member_of(inner["firm"], role=Role.READER).account, now),
        "member_inside": _member(
            inner["firm"], member_of(cast.firm, role=Role.READER).account, now
        ),
    }


def _member(organization: Organization, account: Account, now: datetime) -> Member:
    with acting_for(organization.id, write=True):
        person = add_person(name="Lou Marsh")
    return Member(
        organization=organization, account=account, person=person, role="reader", begins_at=now
    )


@pytest.mark.parametrize(
    "what",
    [
        *("grant", "custody", "offer", "place", "jurisdiction", "filing", "organization"),
        *("invitation", "member", "member_inside"),
    ],
)
def test_the_database_itself_keeps_the_border(town: Town, cast: Cast, what: str) -> None:
    """Whatever wrote it: a trigger on each table that joins two organizations."""
    row = _crossings(town, cast)[what]
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("RESET ROLE")  # past the policies, as whoever owns the tables is not
            cursor.execute("SET LOCAL row_security = off")

    def cross() -> None:
        with transaction.atomic():
            type(row)._base_manager.bulk_create([row])

    with pytest.raises(DatabaseError, match="CIRCLE"):
        cross()


def _invited(client: APIClient, organization: str, email: str) -> str:
    sent = {"email": email, "role": "reader"}
    answer = client.post(f"/v1/organizations/{organization}/invitations", sent)
    assert answer.status_code == 201, answer.content
    return str(answer.json()["token"])


def _join(token: str) -> int:
    sent = {"token": token, "step": "accept", "name": "Lou Marsh", "password": PASSWORD}
    return int(Client().post("/claim", sent).status_code)


def test_nobody_serves_on_both_sides_of_the_border(town: Town, cast: Cast) -> None:
    """Whoever is real joins no sandbox, and whoever is invented joins nothing real."""
    member_of(cast.firm, role=Role.READER, email="lou@firm.example")
    assert _join(_invited(town.clients["firm"], town.ids["firm"], "lou@firm.example")) == 422
    assert _join(_invited(town.clients["firm"], town.ids["firm"], "inner@firm.example")) == 302
    assert Account.objects.get(email="inner@firm.example").sandbox_id == UUID(town.made["id"])
    assert _join(_invited(town.clients["owner"], town.ids["owner"], "inner@firm.example")) == 302
    token = _invited(client_of(cast.firm), str(cast.firm.id), "inner@firm.example")
    assert _join(token) == 422
    with looking_up(Purpose.AUTHENTICATION):
        rows = Member.objects.filter(account__email="inner@firm.example")
        assert {str(row.organization_id) for row in rows} == {town.ids["firm"], town.ids["owner"]}


@pytest.mark.parametrize(
    ("email", "invented"),
    [
        ("ada@owner.example", True),
        ("ada@EXAMPLE.com", True),
        ("ada@mail.example.org", True),
        ("ada@box.test", True),
        ("ada@box.invalid", True),
        ("ada@example.co", False),
        ("ada@notexample.com", False),
        ("ada@example.com.real-town.gov", False),
        ("ada@real-town.gov", False),
    ],
)
def test_people_of_a_sandbox_have_invented_addresses(
    town: Town, cast: Cast, email: str, *, invented: bool
) -> None:
    """Its mail is read by whoever made it: an account there would take another's address."""
    sent = {"email": email, "role": "reader"}
    address = f"/v1/organizations/{town.ids['firm']}/invitations"
    answer = town.clients["firm"].post(address, sent)
    assert answer.status_code == (201 if invented else 422)
    if not invented:
        assert answer.json()["errors"][0]["pointer"] == "/email"
        real = client_of(cast.firm).post(f"/v1/organizations/{cast.firm.id}/invitations", sent)
        assert real.status_code == 201


def test_what_a_repetition_does_is_as_described(town: Town) -> None:
    """A key makes one failing visit of two requests; a reset or an end is not done twice."""
    address = f"{town.address}/failing-visits"
    once = {"Idempotency-Key": "fail-1"}
    first, again = (town.maker.post(address, {}, headers=once) for _ in range(2))
    assert (first.status_code, again.json()) == (201, first.json())
    assert again["Idempotency-Replayed"] == "true"
    assert town.maker.post(address, {}).json()["id"] != first.json()["id"]
    assert town.maker.post(f"{town.address}/reset").status_code == 201
    for deed in ("reset", "end"):
        refused = town.maker.post(f"{town.address}/{deed}")
        assert (refused.status_code, refused.json()["code"]) == (409, "wrong_state")
    newest = town.maker.get("/v1/sandboxes").json()["data"][0]
    assert newest["ended_at"] is None
    assert town.maker.post(f"/v1/sandboxes/{newest['id']}/reset").status_code == 201
