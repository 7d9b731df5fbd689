"""The invented town of a sandbox: who lives in it, and which doors hang there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

import rules
from doors.models import EVERY_SCOPE, Jurisdiction, Opening, Organization, Sandbox, Site
from doors.services.grants import grant_leave
from doors.services.jurisdictions import establish_jurisdiction
from doors.services.keys import issue_key
from doors.services.openings import add_opening
from doors.services.organizations import register_organization
from doors.services.people import add_person
from doors.services.sites import open_site
from doors.tenancy import acting_for, current
from inspections.selectors.scenario import OpeningPlan, SitePlan, openings, parties

ROLES = ("owner", "firm", "authority")
NEW_FOR = timedelta(days=30)  # how old its doors are on its first day


@dataclass(frozen=True, slots=True)
class Inhabitant:
    """One organization of a sandbox, and its key, shown this once."""

    role: str
    organization: Organization
    key: str


def settle_town(sandbox: Sandbox) -> list[Inhabitant]:
    """Make an owner with its buildings, a firm with leave there, and the authority of the place;
    each with a key.
    """
    plans = {party.role: party for party in parties().organization}
    made = {
        role: register_organization(
            name=f"{plans[role].name} (sandbox)",
            capabilities=plans[role].capabilities,
            address=plans[role].address,
            demonstration=True,
            sandbox_id=sandbox.id,
        )
        for role in ROLES
    }
    code = _establish(sandbox, made["authority"])
    with acting_for(made["owner"].id, write=True):
        for person in plans["owner"].person:
            add_person(name=person.name, email=person.email, receives_notices=True)
        for site in openings().site:
            if site.owner == "owner":
                _build(site, code)
        grant = parties().grant[0]
        firm_id, since = made["firm"].id, grant.begins_on
        grant_leave(grantee_id=firm_id, actions=grant.actions, begins_on=since)
    return [Inhabitant(role, made[role], _key(made[role])) for role in ROLES]


def _establish(sandbox: Sandbox, authority: Organization) -> str:
    """A town of the group's own, directly under a place that everybody shares."""
    town = establish_jurisdiction(
        code=f"sandbox-{sandbox.id.hex[:12]}",
        name=f"{parties().jurisdiction.name} (sandbox)",
        kind="city",
        parent=_shared(sandbox.place),
        time_zone=parties().jurisdiction.time_zone,
        authority=authority,
        sandbox_id=sandbox.id,
    )
    return town.code


def _shared(code: str) -> Jurisdiction:
    """A place of the rules library, with those above it."""
    layer = rules.load().places[code]
    return establish_jurisdiction(
        code=code,
        name=layer.name,
        kind=layer.place_kind,
        library_place=code,
        parent=_shared(layer.parent) if layer.parent else None,
    )


def _build(plan: SitePlan, code: str) -> None:
    site = open_planned(plan, code)
    # Not long ago, so that on its first day not everything is overdue.
    installed_on = current().now.date() - NEW_FOR
    for opening in plan.opening:
        facts = {**openings().facts_of(opening), "installed_on": installed_on.isoformat()}
        hang_planned(site.id, opening, facts)


def open_planned(plan: SitePlan, jurisdiction_code: str) -> Site:
    """Open a building of the invented town as its owner, in this place."""
    return open_site(
        reference=plan.reference,
        name=plan.name,
        address=plan.address,
        time_zone=plan.time_zone,
        jurisdiction_code=jurisdiction_code,
        in_custody_from=plan.in_custody_from,
    )


def hang_planned(site_id: UUID, plan: OpeningPlan, facts: dict[str, Any]) -> Opening:
    """Hang a door of the town there, with these facts, on the day that they say."""
    return add_opening(
        site_id=site_id,
        tag=plan.tag,
        location=plan.location,
        floor=plan.floor,
        door_type=plan.door_type,
        facts=facts,
        listed_instructions=openings().instructions.get(plan.door_type, []),
        in_place_since=date.fromisoformat(facts["installed_on"]),
    )


def _key(organization: Organization) -> str:
    with acting_for(organization.id, write=True):
        return issue_key(label="sandbox", scopes=EVERY_SCOPE)[1]
