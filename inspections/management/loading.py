"""Loads the invented town through the services that a real one would use."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any
from uuid import UUID

import rules
from doors.clock import Instant, civil_date
from doors.models import Jurisdiction, Opening, Organization
from doors.selectors.keys import live_keys
from doors.selectors.openings import opening_by_id
from doors.services.grants import grant_leave
from doors.services.jurisdictions import establish_jurisdiction
from doors.services.keys import issue_key, revoke_key
from doors.services.organizations import register_organization
from doors.services.people import add_person
from doors.tenancy import acting_for, current
from inspections.management.history import Fault, Past, findings_of, past_of
from inspections.models import Deficiency, Visit
from inspections.selectors.requirements import applicable
from inspections.selectors.scenario import OpeningPlan, Party, SitePlan, openings, parties
from inspections.services.deficiencies import record_repair
from inspections.services.interim_measures import record_interim_measure
from inspections.services.owings import expand_waiting_owings
from inspections.services.towns import hang_planned, open_planned
from inspections.services.visits import record_visit

Progress = Callable[[int, int], None]  # done, of how many


@dataclass(slots=True)
class Town:
    """What was made: the organizations by role, and the key each one's client works with."""

    organizations: dict[str, Organization] = field(default_factory=dict)
    keys: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Door:
    """An opening as planned, with what became of it."""

    site: SitePlan
    number: int
    plan: OpeningPlan
    id: UUID


def load_town(progress: Progress) -> Town:
    """Everything the fixtures hold; `progress` is told of the visits.

    The contacts come last: nobody is told today of what failed two years ago.
    """
    town = Town()
    for party in parties().organization:
        town.organizations[party.role] = _register(party)
    _establish(town)
    doors = [door for site in openings().site for door in _build(town, site)]
    for grant in parties().grant:
        with acting_for(town.organizations[grant.owner].id, write=True):
            grant_leave(
                grantee_id=town.organizations[grant.grantee].id,
                actions=grant.actions,
                begins_on=grant.begins_on,
                reason=grant.reason,
            )
    _record_past(town, doors, progress)
    while expand_waiting_owings():
        pass
    for party in parties().organization:
        _settle_in(town, party)
    return town


def _register(party: Party) -> Organization:
    return register_organization(
        name=party.name,
        capabilities=party.capabilities,
        address=party.address,
        demonstration=True,
    )


def _establish(town: Town) -> Jurisdiction:
    plan = parties().jurisdiction
    country = establish_jurisdiction(
        code="us", name="United States", kind="country", library_place="us"
    )
    return establish_jurisdiction(
        code=plan.code,
        name=plan.name,
        kind=plan.kind,
        parent=country,
        time_zone=plan.time_zone,
        authority=town.organizations[plan.authority],
    )


def _build(town: Town, plan: SitePlan) -> list[_Door]:
    with acting_for(town.organizations[plan.owner].id, write=True):
        site = open_planned(plan, parties().jurisdiction.code)
        return [_hang(site.id, plan, number, each) for number, each in enumerate(plan.opening)]


def _hang(site_id: UUID, site: SitePlan, number: int, plan: OpeningPlan) -> _Door:
    opening = hang_planned(site_id, plan, openings().facts_of(plan))
    return _Door(site, number, plan, opening.id)


def _record_past(town: Town, doors: list[_Door], progress: Progress) -> None:
    """Every visit of every door, one transaction a visit, as a client would have sent them."""
    firm = town.organizations["firm"].id
    with acting_for(firm, write=False) as context:
        today = civil_date(context.now, doors[0].site.time_zone)
    due = [(d, p) for d in doors for p in past_of(d.site, d.number, d.plan, today)]
    for done, (door, past) in enumerate(due, 1):
        with acting_for(firm, write=True):
            visit = _record(door, past, today)
        if past.fault and past.activity != "repair_retest":
            _follow(town, door, visit, past.fault)
        progress(done, len(due))


def _record(door: _Door, past: Past, today: date) -> Visit:
    opening = opening_by_id(door.id)
    findings = findings_of(past, _requirements(opening, past), today)
    return record_visit(
        opening_id=door.id,
        client_ref=past.reference,
        activity=past.activity,
        performed_at=Instant(past.at, past.at.isoformat()),
        attested_by=findings["attestation"]["name"],
        findings=findings,
    )


def _requirements(opening: Opening, past: Past) -> list[dict[str, Any]]:
    found = applicable(opening, past.at.date()).requirements
    return [rules.requirement_json(item) for item in found.items]


def _follow(town: Town, door: _Door, visit: Visit, fault: Fault) -> None:
    """What the owner did about what the visit found."""
    with acting_for(town.organizations[door.site.owner].id, write=True):
        for deficiency in Deficiency.objects.filter(found_by_id=visit.id).order_by("subject"):
            if fault.interim:
                record_interim_measure(
                    deficiency_id=deficiency.id,
                    kind=fault.interim.kind,
                    words=fault.interim.words,
                    responsible=fault.interim.responsible,
                    begins_at=visit.performed_at,
                    ends_at=visit.performed_at + timedelta(days=fault.interim.days),
                )
            if fault.repair:
                record_repair(
                    deficiency_id=deficiency.id,
                    done_at=visit.performed_at + timedelta(days=fault.repair.after),
                    done_by=fault.repair.done_by,
                    words=fault.repair.words,
                    parts=fault.repair.parts,
                )


def _settle_in(town: Town, party: Party) -> None:
    """The people of an organization, and the key of its client."""
    with acting_for(town.organizations[party.role].id, write=True):
        for person in party.person:
            add_person(
                name=person.name,
                email=person.email,
                telephone=person.telephone,
                position=person.position,
                receives_notices=person.receives_notices,
            )
        town.keys[party.role] = fresh_key(party)


def fresh_key(party: Party) -> str:
    """A new key of the acting organization for one client, good for thirty days.

    The one before it stays live, for whoever still works with it; older ones end.
    """
    for key in live_keys().filter(label=party.key).order_by("-created_at")[1:]:
        revoke_key(key_id=key.id)
    expires_at = current().now + timedelta(days=30)
    return issue_key(label=party.key, scopes=party.scopes, expires_at=expires_at)[1]
