"""The owner's world: everything that hangs on its site, marked with a canary, and who calls."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID, uuid4

from rest_framework.test import APIClient

from doors.models import (
    EVERY_SCOPE,
    Grant,
    Job,
    LedgerHead,
    Opening,
    Organization,
    Person,
    Role,
    Sandbox,
)
from doors.services.blobs import keep_blob, look_at
from doors.services.custody import offer_custody
from doors.services.devices import fit_battery, fit_device
from doors.services.door_codes import make_door_code
from doors.services.exports import ask_for_export
from doors.services.grants import end_grant, grant_leave
from doors.services.imports import ask_for_import
from doors.services.invitations import invite
from doors.services.jobs import run_waiting_jobs
from doors.services.joining import mark_claimed
from doors.services.jurisdictions import establish_jurisdiction
from doors.services.keys import issue_key, revoke_key
from doors.services.ledger import FIRST
from doors.services.lives import take_out_of_service
from doors.services.organizations import make_owner, register_organization
from doors.services.overrides import draft_override
from doors.services.photos import add_photo
from doors.services.sandboxed import keep_webhook
from doors.services.sites import open_site
from doors.tenancy import Purpose, acting_for, looking_up
from inspections.models import Deficiency, Duty, Notice, Submittal, WebhookDelivery
from inspections.services.deficiency_groups import group_deficiencies
from inspections.services.deficiency_policies import set_deficiency_policy
from inspections.services.door_reports import Told, report_from_door
from inspections.services.interim_measures import record_interim_measure
from inspections.services.owings import expand_waiting_owings
from inspections.services.reported_visits import report_visit
from inspections.services.sandboxes import make_sandbox
from inspections.services.sign_tables import set_sign_table
from inspections.services.submittals import ask_for_submittal, file_submittal
from inspections.services.webhooks import make_webhook, try_webhook
from tests.cast import SINCE, TOWN, ZONE, Cast, findings, like_door, today, visit
from tests.clients import client_of, member_of
from tests.doors.pictures import png
from tests.inspections.test_duties import QUARTERLY

PUSH = {  # on a leaf, by a gauge
    "kind": "force",
    "units": {"t": "s", "force": "lbf"},
    "samples": [["0", "0"], ["0.5", "12"], ["1", "20"], ["1.5", "8"], ["2", "8"]],
}
EVERYTHING = ["owner", "inspector", "repairer", "authority"]


@dataclass(frozen=True)
class World:
    """Clients by who calls, and by name what of the owner's they may name."""

    clients: dict[str, APIClient]
    things: dict[str, Any]
    plain: dict[str, str]  # what is put in beside: nobody's secret


def fill(cast: Cast) -> dict[str, Any]:
    """Hang on the owner's site one thing of each kind; the ids of all by name. Takes settings
    that let a webhook go to the loopback.
    """
    with acting_for(cast.firm.id, write=True):
        kept = keep_blob(look_at(content=png(), media_type="image/png")).blob.sha256
        sent = findings(("set_in_motion_force", "33.4", "lbf"), attachments=[{"sha256": kept}])
        made = visit(cast.opening, sent)
        drawn = visit(cast.opening, findings(traces=[PUSH]), activity="operation_test")
        deficiency = Deficiency.objects.get().id
        measure = record_interim_measure(
            deficiency_id=deficiency,
            kind="attendant",
            words="as agreed",
            responsible="Ada Quist",
            begins_at=made.performed_at,
        )
    submittal, job = _assembled(cast)
    with acting_for(cast.firm.id, write=True):
        file_submittal(submittal_id=submittal)
        again = findings(("set_in_motion_force", "33.4", "lbf"))
        visit(cast.opening, again, at=made.performed_at, supersedes=made.id, reason="misread")
    with acting_for(cast.authority.id, write=True):
        document = QUARTERLY.format(today="2100-01-01")
        override = draft_override(jurisdiction_code=TOWN, title="Later", document=document)
    with acting_for(cast.owner.id, write=True):
        grant = Grant.objects.get(grantee=cast.firm).id
        canary = cast.owner.name
        policy = {"classes": [{"name": canary[-60:]}], "rules": [], "warn_before": "PT24H"}
        set_deficiency_policy(document=policy, expected=None)
        group = group_deficiencies(title=f"One cause {canary}", deficiencies=[deficiency])
        offer = offer_custody(
            site_id=cast.site.id, buyer_id=cast.neighbour.id, begins_on=date(2100, 1, 1)
        )
    with acting_for(cast.firm.id, write=True):
        webhook, _ = make_webhook(url="http://127.0.0.1:9/", events=["visit.recorded"])
        delivery = try_webhook(webhook_id=webhook.id)
        WebhookDelivery.objects.update(state="failed")
    return {
        "site": cast.site.id,
        "opening": cast.opening.id,
        "visit": made.id,
        "drawn_visit": drawn.id,
        "deficiency": deficiency,
        "duty": _duty(cast),
        "measure": measure.id,
        "group": group.id,
        "notice": _notice(cast),
        "job": job,
        "submittal": submittal,
        "override": override.id,
        "grant": grant,
        "offer": offer.id,
        "alias": _merged_into(cast.owner, by=cast.firm),
        "sandbox": _sandbox(cast.owner),
        "webhook": webhook.id,
        "delivery": delivery.id,
        **_hung(cast),
        **_who(cast),
    }


def _duty(cast: Cast) -> UUID:
    """One that runs: the owner's first door is out of service."""
    with acting_for(cast.owner.id, write=True):
        second = like_door(cast.site, tag="X-2")
        running = Duty.objects.filter(opening=second, standing="running")
        return running.order_by("id")[0].id


def _merged_into(owner: Organization, *, by: Organization) -> UUID:
    """An owner that was made and has gone into that one."""
    with acting_for(by.id, write=True):
        alias, _ = make_owner(reference="gone", name="The former name")
    mark_claimed(alias.id, into=owner.id)
    return alias.id


def _notice(cast: Cast) -> UUID:
    expand_waiting_owings()
    with acting_for(cast.owner.id, write=False):
        return Notice.objects.order_by("created_at", "id")[0].id


def _sandbox(maker: Organization) -> UUID:
    """A sandbox without a town, and a message that somebody in it would have sent."""
    within = _sandboxed(maker)
    assert within.sandbox_id is not None
    with acting_for(within.id, write=True):
        keep_webhook(within.sandbox_id, url="https://x.example/", headers={}, body="{}")
    return within.sandbox_id


def _who(cast: Cast) -> dict[str, Any]:
    """The owner itself, and who serves it."""
    with acting_for(cast.owner.id, write=False):
        person = Person.objects.get().id
    member = member_of(cast.owner, role=Role.READER)
    with acting_for(cast.owner.id, write=True):
        key, _ = issue_key(label="spare", scopes=["visits:read"])
        invitation, _ = invite(
            organization_id=cast.owner.id,
            email="new@owner.example",
            role=Role.READER,
            reach=EVERY_SCOPE,
        )
    return {
        "organization": cast.owner.id,
        "person": person,
        "member": member.id,
        "key": key.id,
        "invitation": invitation.id,
    }


def _assembled(cast: Cast) -> tuple[UUID, UUID]:
    with acting_for(cast.firm.id, write=True):
        job = ask_for_submittal(site_id=cast.site.id)
    run_waiting_jobs()
    with acting_for(cast.firm.id, write=False):
        done = Job.objects.get(id=job.id)
    assert done.result is not None, done.problem
    return UUID(done.result["submittal"]), job.id


def _hung(cast: Cast) -> dict[str, Any]:
    """What hangs on the owner's opening, and the firm's own picture of it."""
    with acting_for(cast.owner.id, write=True):
        opening, since = cast.opening.id, date(2025, 1, 1)
        out = take_out_of_service(opening_id=opening, begins_on=since, reason="works")
        device = fit_device(opening_id=opening, begins_on=since, kind="release")
        code, _ = make_door_code(opening_id=opening, label="At the strike")
        told = Told({"heard": "steady", "door": "open", "mains": "on", "alarm": "no"}, "Rosa")
        report_from_door(opening_id=opening, code_id=code.id, nonce="1", told=told)
        set_sign_table(opening_id=opening, entries=[], expected=None)
        battery = fit_battery(opening_id=opening, begins_on=since, battery_type="agm")
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
        "reported": reported.id,
        "door_code": code.id,
        **_tables(cast),
        "outage": out.id,
        "device": device.id,
        "battery": battery.id,
        "photo": photo.id,
        "sha256": kept.sha256,
    }


def _tables(cast: Cast) -> dict[str, Any]:
    """A table that the owner read in, and one that it wrote out."""
    table = b"reference,tag,location,door_type\n7,T-7,Hall,swinging\n"
    with acting_for(cast.owner.id, write=True):
        sent = keep_blob(look_at(content=table, media_type="text/csv")).blob.sha256
        read = ask_for_import(
            kind="openings",
            source_sha256=sent,
            mapping={},
            options={"chunk_size": 1, "site": str(cast.site.id)},
            dry_run=True,
        )
        taken = ask_for_import(
            kind="openings",
            source_sha256=sent,
            mapping={},
            options={"chunk_size": 1, "site": str(cast.site.id), "without_dry_run": True},
            dry_run=False,
        )
        written = ask_for_export(kind="openings", form="csv")
    run_waiting_jobs()
    return {"import": read.id, "taken_import": taken.id, "export": written.id, "table_sha256": sent}


def people(cast: Cast) -> World:
    """Fill the world and give everybody who calls a key, good or not."""
    former, elsewhere = _former(cast), _elsewhere()
    things = fill(cast)
    things["unfiled"], _ = _assembled(cast)
    with acting_for(cast.firm.id, write=True):
        other = look_at(content=png((9, 9)), media_type="image/png")
        things["other_sha256"] = keep_blob(other).blob.sha256
    with acting_for(cast.owner.id, write=True):
        second = open_site(
            reference=f"S-2 {cast.owner.name[-32:]}",
            name=f"Annexe {cast.owner.name[-32:]}",
            address=["2 High Street"],
            time_zone=ZONE,
            jurisdiction_code=TOWN,
        )
        box, (inner, *_) = make_sandbox(name=f"Trial {cast.owner.name}")
    with acting_for(inner.organization.id, write=False):
        within = Opening.objects.order_by("tag").first()
    assert within is not None
    things |= {"sandbox": box.id, "inner_opening": within.id}
    things["second_site"] = second.id
    with acting_for(cast.owner.id, write=False):
        things["file_sha256"] = Submittal.objects.get(id=things["submittal"]).file_sha256
    expand_waiting_owings()
    named = {
        "owner": cast.owner,
        "firm": cast.firm,
        "authority": cast.authority,
        "neighbour": cast.neighbour,
        "rival": cast.stranger,
        "elsewhere": elsewhere,
        "former": former,
        "sandboxed": _sandboxed(cast.stranger),
    }
    clients = {name: client_of(who) for name, who in named.items()}
    clients |= {"revoked": _revoked(cast.owner), "nobody": APIClient()}
    clients["authority"].get(f"/v1/submittals/{things['submittal']}")  # so that there is a read
    plain = {
        "now": datetime.now(UTC).isoformat(),
        "neighbours_id": str(cast.neighbour.id),
        "neighbours_site": str(cast.neighbours_site.id),
        "neighbours_opening": str(cast.neighbours_opening.id),
        "rivals_id": str(cast.stranger.id),
        "taken_key": "taken",
        "document": QUARTERLY.format(today="2100-01-02"),
    }
    return World(clients, things, plain)


def _former(cast: Cast) -> Organization:
    """A firm that had leave until today."""
    former = register_organization(name="Cold Lamp Doors", capabilities=["inspector", "repairer"])
    with acting_for(cast.owner.id, write=True):
        grant = grant_leave(
            grantee_id=former.id, actions=["record", "repair", "submit"], begins_on=SINCE
        )
        end_grant(grant_id=grant.id, ends_on=today())
    return former


def _elsewhere() -> Organization:
    """The authority of a place in which the owner has nothing."""
    authority = register_organization(name="Marsh County Fire", capabilities=["authority"])
    establish_jurisdiction(
        code="xx-marsh", name="Marsh", kind="county", library_place="us", authority=authority
    )
    return authority


def _sandboxed(maker: Organization) -> Organization:
    """An organization in a sandbox, with every capability there is."""
    with acting_for(maker.id, write=True) as context:
        box = Sandbox.objects.create(
            organization=maker, name="Trial", place="us", created_at=context.now
        )
    with looking_up(Purpose.SET_UP, write=True) as context:
        made = Organization.objects.create(
            id=uuid4(), name="Trial", capabilities=EVERYTHING, sandbox=box, created_at=context.now
        )
    with acting_for(made.id, write=True):
        LedgerHead.objects.create(organization=made, entry_sha256=FIRST)
    return made


def _revoked(owner: Organization) -> APIClient:
    with acting_for(owner.id, write=True):
        key, text = issue_key(label="lost", scopes=[])
        revoke_key(key_id=key.id)
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    return client
