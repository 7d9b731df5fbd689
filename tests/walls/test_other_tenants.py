"""Every address with every caller: what is another's does not exist."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.urls import URLPattern, URLResolver, get_resolver
from pytest_django.fixtures import Settings
from rest_framework.test import APIClient

from doors.models import EVERY_SCOPE, Grant, Job, Person, Role
from doors.services.blobs import keep_blob, look_at
from doors.services.custody import offer_custody
from doors.services.devices import fit_battery, fit_device
from doors.services.exports import ask_for_export
from doors.services.imports import ask_for_import
from doors.services.invitations import invite
from doors.services.jobs import run_waiting_jobs
from doors.services.keys import issue_key
from doors.services.lives import take_out_of_service
from doors.services.overrides import draft_override
from doors.services.photos import add_photo
from doors.tenancy import acting_for
from inspections.models import Deficiency, WebhookDelivery
from inspections.services.reported_visits import report_visit
from inspections.services.submittals import ask_for_submittal, file_submittal
from inspections.services.webhooks import make_webhook, try_webhook
from tests.cast import TOWN, Cast, findings, visit
from tests.clients import client_of, member_of
from tests.doors.pictures import png
from tests.inspections.test_duties import QUARTERLY

WHO = ("owner", "firm", "authority", "neighbour", "stranger")
# Address -> who may read it; the ids in it are those of the owner's site and what hangs there.
ITEMS = {
    "/v1/sites/{site}": {"owner", "firm"},
    "/v1/openings/{opening}": {"owner", "firm"},
    "/v1/openings/{opening}/requirements": {"owner", "firm"},
    "/v1/openings/{opening}/facts": {"owner", "firm"},
    "/v1/openings/{opening}/tags": {"owner", "firm"},
    "/v1/openings/{opening}/outages": {"owner", "firm"},
    "/v1/openings/{opening}/devices": {"owner", "firm"},
    "/v1/openings/{opening}/batteries": {"owner", "firm"},
    "/v1/openings/{opening}/photos": {"owner", "firm"},
    "/v1/openings/{opening}/photos/{photo}/file": {"owner", "firm"},
    "/v1/reported-visits/{reported}": {"owner", "firm"},
    "/v1/reported-visits/{reported}/scan": {"owner", "firm"},
    "/v1/imports/{import}": {"owner"},
    "/v1/imports/{import}/rows": {"owner"},
    "/v1/exports/{export}": {"owner"},
    "/v1/exports/{export}/file": {"owner"},
    "/v1/blobs/{sha256}": {"firm"},
    "/v1/blobs/{sha256}/file": {"firm"},
    "/v1/blobs/{sha256}/original": {"firm"},
    "/v1/visits/{visit}": {"owner", "firm"},
    "/v1/deficiencies/{deficiency}": {"owner", "firm"},
    "/v1/sites/{site}/custody": {"owner", "firm"},
    "/v1/sites/{site}/places": {"owner", "firm"},
    "/v1/custody-offers/{offer}": {"owner", "neighbour"},
    "/v1/grants/{grant}": {"owner", "firm"},
    "/v1/jobs/{job}": {"firm"},
    "/v1/organizations/{organization}": {"owner", "firm"},
    "/v1/organizations/{organization}/invitations": {"owner", "firm"},  # each its own
    "/v1/people/{person}": {"owner"},
    "/v1/members/{member}": {"owner"},
    "/v1/keys/{key}": {"owner"},
    "/v1/submittals/{submittal}": {"owner", "firm", "authority"},
    "/v1/submittals/{submittal}/file": {"owner", "firm", "authority"},
    "/v1/webhooks/{webhook}": {"firm"},
    "/v1/webhook-deliveries/{delivery}": {"firm"},
}
# Address -> (body, who may); everybody who may not is told 404, or 403 for want of a capability.
WRITES: dict[str, tuple[dict[str, Any], set[str]]] = {
    "/v1/deficiencies/{deficiency}/interim-measures": (
        {
            "kind": "attendant",
            "words": "posted",
            "responsible": "Ada Quist",
            "begins_at": "2026-01-01T00:00:00Z",
        },
        {"owner", "firm"},
    ),
    "/v1/deficiencies/{deficiency}/repairs": (
        {"done_at": "{now}", "done_by": "Ivo Lund", "words": "mended"},
        {"owner", "firm"},
    ),
    "/v1/submittals/{submittal}/filings": ({}, set()),  # filed already: 409 for the firm
    "/v1/overrides/{override}/publication": ({}, {"authority"}),
    "/v1/custody-offers/{offer}/acceptance": ({}, {"neighbour"}),
    "/v1/custody-offers/{offer}/refusal": ({}, {"neighbour"}),
    "/v1/custody-offers/{offer}/withdrawal": ({}, {"owner"}),
    "/v1/reported-visits/{reported}/withdrawal": ({"reason": "twice"}, {"firm"}),
    "/v1/openings/{opening}/facts": ({"begins_on": "2026-01-01", "facts": {}}, {"owner"}),
    "/v1/openings/{opening}/tags": ({"tag": "Z-9"}, {"owner"}),
    "/v1/openings/{opening}/outages": (
        {"begins_on": "2021-01-01", "ends_on": "2021-02-01", "reason": "works"},
        {"owner"},
    ),
    "/v1/openings/{opening}/outages/{outage}/end": ({"ends_on": "2026-01-01"}, {"owner"}),
    "/v1/openings/{opening}/devices": ({"kind": "sign", "begins_on": "2026-01-01"}, {"owner"}),
    "/v1/openings/{opening}/devices/{device}/end": ({"ends_on": "2026-01-01"}, {"owner"}),
    "/v1/openings/{opening}/batteries": (
        {"battery_type": "gel", "begins_on": "2026-01-01"},
        {"owner"},
    ),
    "/v1/openings/{opening}/batteries/{battery}/end": ({"ends_on": "2026-01-01"}, {"owner"}),
    "/v1/openings/{opening}/photos": ({"sha256": "{sha256}"}, set()),  # 409 for the firm
    "/v1/openings/{opening}/removal": ({"removed_on": "2026-01-01", "reason": "gone"}, {"owner"}),
    "/v1/openings/{opening}/replacement": (
        {
            "removed_on": "2026-01-01",
            "reason": "worn",
            "opening": {
                "tag": "Z-8",
                "location": "Hall",
                "door_type": "swinging",
                "facts": {},
            },
        },
        {"owner"},
    ),
    "/v1/submittals/{submittal}/answer": ({"state": "accepted"}, {"authority"}),
    "/v1/webhooks/{webhook}/end": ({}, {"firm"}),
    "/v1/webhooks/{webhook}/secrets": ({}, {"firm"}),
    "/v1/webhooks/{webhook}/test": ({}, {"firm"}),
    "/v1/webhook-deliveries/{delivery}/redelivery": ({}, {"firm"}),
    "/v1/invitations/{invitation}/withdrawal": ({}, {"owner"}),
    "/v1/people/{person}/end": ({}, {"owner"}),
    "/v1/members/{member}/end": ({}, {"owner"}),
    "/v1/keys/{key}/revocation": ({}, {"owner"}),
    "/v1/grants/{grant}/end": ({"ends_on": "2100-01-01"}, {"owner"}),
}
CLASHES = {
    ("/v1/submittals/{submittal}/filings", "firm"),
    ("/v1/openings/{opening}/photos", "firm"),
}
REFUSED = {  # visible to them, and not theirs to name
    ("/v1/submittals/{submittal}/filings", "owner"),
    ("/v1/openings/{opening}/photos", "owner"),
}
LISTS = {
    "/v1/sites": {"owner", "firm"},
    "/v1/openings": {"owner", "firm"},
    "/v1/blobs": {"firm"},
    "/v1/reported-visits": {"owner", "firm"},
    "/v1/imports": {"owner"},
    "/v1/exports": {"owner"},
    "/v1/visits": {"owner", "firm"},
    "/v1/duties": {"owner", "firm"},
    "/v1/deficiencies": {"owner", "firm"},
    "/v1/submittals": {"owner", "firm", "authority"},
    "/v1/authority-reads": set(),
    "/v1/custody-offers": {"owner", "neighbour"},
    "/v1/grants": {"owner", "firm"},
    "/v1/notices": set(),
    "/v1/webhooks": {"firm"},
    "/v1/webhook-deliveries": {"firm"},
    "/v1/ledger": {"owner", "firm"},
    "/v1/organizations": {"owner", "firm"},
    "/v1/people": {"owner"},
    "/v1/members": {"owner"},
    "/v1/keys": {"owner"},
}
EVERYBODYS = {
    "/v1/me",
    "/v1/reported-visits/policy",
    "/v1/jurisdictions",
    "/v1/overrides",
    "/v1/ledger/verification",
}
OTHERS = {
    "/v1/claims": "whoever holds the token",
    "/v1/import-templates/{kind}": "columns that everybody may know",
    "/v1/duties/calendar": "text of the caller's own duties",
    "/v1/submittals/changes": "an authority's own feed",
    "/v1/visits/batch": "each item as a single visit: another's opening is 404 in its result",
    "/v1/places/{place}/requirements": "the law of a place, which everybody may know",
    "/v1/seals/{submittal}": "public by design",
    "/v1/seals/{digest}": "public by design",
}


@pytest.fixture
def stage(cast: Cast, settings: Settings) -> tuple[dict[str, APIClient], dict[str, UUID]]:
    """A client for each of the cast, and the ids of what belongs to the owner's site."""
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, findings(("set_in_motion_force", "33.4", "lbf")))
        job = ask_for_submittal(site_id=cast.site.id)
    run_waiting_jobs()
    with acting_for(cast.firm.id, write=True):
        done = Job.objects.get(id=job.id)
        assert done.result is not None, done.problem
        submittal = UUID(done.result["submittal"])
        file_submittal(submittal_id=submittal)
        deficiency = Deficiency.objects.get().id
    with acting_for(cast.authority.id, write=True):
        document = QUARTERLY.format(today="2100-01-01")
        override = draft_override(jurisdiction_code=TOWN, title="Later", document=document)
    hung = _hung(cast)
    with acting_for(cast.owner.id, write=False):
        grant = Grant.objects.get().id
        person = Person.objects.get().id
    member = member_of(cast.owner, role=Role.READER)
    with acting_for(cast.owner.id, write=True):
        key, _ = issue_key(label="spare", scopes=["visits:read"])
        offer = offer_custody(
            site_id=cast.site.id, buyer_id=cast.neighbour.id, begins_on=date(2100, 1, 1)
        )
        invitation, _ = invite(
            organization_id=cast.owner.id,
            email="new@owner.example",
            role=Role.READER,
            reach=EVERY_SCOPE,
        )
    settings.WEBHOOKS_TO_LOOPBACK = True
    with acting_for(cast.firm.id, write=True):
        webhook, _ = make_webhook(url="http://127.0.0.1:9/", events=["visit.recorded"])
        delivery = try_webhook(webhook_id=webhook.id)
        WebhookDelivery.objects.update(state="failed")
    ids = {
        "webhook": webhook.id,
        "delivery": delivery.id,
        "organization": cast.owner.id,
        "person": person,
        "member": member.id,
        "key": key.id,
        "invitation": invitation.id,
        "site": cast.site.id,
        "opening": cast.opening.id,
        "visit": made.id,
        "deficiency": deficiency,
        "job": job.id,
        "submittal": submittal,
        "override": override.id,
        "grant": grant,
        "offer": offer.id,
        **hung,
    }
    return {name: client_of(getattr(cast, name)) for name in WHO}, ids


def _hung(cast: Cast) -> dict[str, Any]:
    """What hangs on the owner's opening, and the firm's own picture of it."""
    with acting_for(cast.owner.id, write=True):
        opening, since = cast.opening.id, date(2025, 1, 1)
        out = take_out_of_service(opening_id=opening, begins_on=since, reason="works")
        device = fit_device(opening_id=opening, begins_on=since, kind="release")
        battery = fit_battery(opening_id=opening, begins_on=since, battery_type="agm")
        table = b"reference,tag,location,door_type\n7,T-7,Hall,swinging\n"
        sent = keep_blob(look_at(content=table, media_type="text/csv")).blob.sha256
        read = ask_for_import(
            kind="openings",
            source_sha256=sent,
            mapping={},
            options={"chunk_size": 1, "site": str(cast.site.id)},
            dry_run=True,
        )
        written = ask_for_export(kind="openings", form="csv")
    run_waiting_jobs()
    with acting_for(cast.firm.id, write=True):
        kept = keep_blob(look_at(content=png(), media_type="image/png")).blob
        photo = add_photo(opening_id=opening, sha256=kept.sha256)
        reported = report_visit(
            opening_id=opening,
            client_ref="binder 3",
            activity="periodic_inspection",
            performed_on=since,
            performed_by="A former firm",
            outcome="not_reported",
            scan_sha256=kept.sha256,
        )
    return {
        "outage": out.id,
        "device": device.id,
        "battery": battery.id,
        "photo": photo.id,
        "import": read.id,
        "export": written.id,
        "reported": reported.id,
        "sha256": kept.sha256,
    }


def _told(client: APIClient, address: str) -> tuple[int, Any]:
    answer = client.get(address)
    content = json.loads(answer.content) if answer.status_code >= 400 else None
    if content is not None:
        content.pop("instance")
    answer.close()
    return answer.status_code, content


@pytest.mark.parametrize("address", ITEMS)
def test_only_those_who_may_find_it(
    stage: tuple[dict[str, APIClient], dict[str, UUID]], address: str
) -> None:
    """Rightful access first; for all others it is as if it had never been."""
    clients, ids = stage
    never = address.format(**{**dict.fromkeys(ids, uuid4()), "sha256": "0" * 64})
    for name in sorted(WHO, key=lambda n: n not in ITEMS[address]):
        status, content = _told(clients[name], address.format(**ids))
        if name in ITEMS[address]:
            assert (name, status) == (name, 200)
        else:
            assert (name, status, content) == (name, *_told(clients[name], never))
            assert status == 404


@pytest.mark.parametrize("address", WRITES)
def test_only_those_who_may_change_it(
    stage: tuple[dict[str, APIClient], dict[str, UUID]], address: str
) -> None:
    """Who may not is told that it does not exist, or lacks the capability for anything alike."""
    clients, ids = stage
    sent, may = WRITES[address]
    now = datetime.now(UTC).isoformat()
    filled = {"{now}": now, "{sha256}": str(ids["sha256"])}
    sent = {k: filled.get(v, v) if isinstance(v, str) else v for k, v in sent.items()}
    for name in sorted(WHO, key=lambda n: n in may):  # the rightful last: they change it
        status = clients[name].post(address.format(**ids), sent, format="json").status_code
        if name in may:
            assert (name, status) in {(name, 200), (name, 201), (name, 202)}
        elif "custody-offers" in address and name in {"owner", "neighbour"}:
            assert status == 409  # only the other side may
        elif (address, name) in CLASHES:
            assert status == 409
        elif (address, name) in REFUSED:
            assert status == 422
        else:
            assert (name, status) in {(name, 403), (name, 404)}


@pytest.mark.parametrize("address", LISTS)
def test_a_list_holds_only_ones_own(
    stage: tuple[dict[str, APIClient], dict[str, UUID]], address: str, cast: Cast
) -> None:
    """No id, no name, no text of the owner's in anybody else's answer."""
    clients, ids = stage
    # The digest is of the firm's own bytes.
    owned = {str(found) for name, found in ids.items() if name != "sha256"}
    canaries = owned | {cast.owner.name, cast.site.name}
    for name in WHO:
        answer = clients[name].get(address)
        assert (name, answer.status_code) == (name, 200)
        found = {c for c in canaries if c in answer.content.decode()}
        if name in LISTS[address]:
            assert answer.json()["data"], name
        elif name != "owner":
            assert found == set(), name


@pytest.mark.parametrize("address", ["/v1/sites", "/v1/visits", "/v1/me", "/v1/submittals/changes"])
@pytest.mark.parametrize("credentials", ["", "Bearer", "Bearer nonsense", "Basic eDp5"])
def test_without_a_key_there_is_nothing(db: None, address: str, credentials: str) -> None:
    """401 with the scheme, whatever is asked for."""
    client = APIClient()
    if credentials:
        client.credentials(HTTP_AUTHORIZATION=credentials)
    answer = client.get(address)
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"].startswith("Bearer")


def test_every_address_has_a_row_here() -> None:
    """A new address without a row fails, so that none is forgotten."""
    listed = {*ITEMS, *WRITES, *LISTS, *EVERYBODYS, *OTHERS}
    known = {_plain(address) for address in listed}
    assert {
        _plain(a) for a in _addresses(get_resolver().url_patterns) if a.startswith("/v1")
    } == known


def _addresses(patterns: list[URLPattern | URLResolver], before: str = "/") -> list[str]:
    found = []
    for pattern in patterns:
        address = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            found += _addresses(pattern.url_patterns, address)
        else:
            found.append(address)
    return found


def _plain(address: str) -> str:
    parts = address.replace("^", "").replace("$", "").split("/")
    return "/".join("{}" if p.startswith(("{", "<", "(")) else p for p in parts)
