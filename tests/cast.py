"""The cast of the tests: a town's authority, two owners, a firm with leave, and a stranger."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from doors.clock import Instant
from doors.models import Jurisdiction, Opening, Organization, Site
from doors.services.grants import grant_leave
from doors.services.jurisdictions import establish_jurisdiction
from doors.services.openings import add_opening
from doors.services.organizations import register_organization
from doors.services.people import add_person
from doors.services.sites import open_site
from doors.tenancy import acting_for
from inspections.models import Visit
from inspections.selectors.requirements import applicable
from inspections.services.visits import record_visit
from rules.model import CheckSpec, LimitSpec, SequenceSpec

ZONE = "America/Chicago"
TOWN = "us-quillhaven"
FACTS = {
    "operation": "power",
    "fire_door": True,
    "means_of_egress": True,
    "accessible_route": False,
    "installed_on": "2019-05-01",
    "occupant_load": 120,
    "occupancy_group": "B",
    "health_care": False,
    "workplace": False,
    "smoke_rated": False,
    "release_control": "smoke_detector",
    "sprinklered": True,
    "voice_alarm": False,
}
SINCE = date(2020, 1, 1)


def today(zone: str = ZONE) -> date:
    """The civil day at the cast's sites."""
    return datetime.now(ZoneInfo(zone)).date()


@dataclass(frozen=True)
class Cast:
    """Who stands on the stage; `owner` lets `firm` act on `site`, where `opening` is."""

    authority: Organization
    town: Jurisdiction
    owner: Organization
    firm: Organization
    neighbour: Organization
    stranger: Organization
    site: Site
    opening: Opening
    neighbours_site: Site
    neighbours_opening: Opening


def assemble(mark: str = "") -> Cast:
    """Set the stage: every organization, two sites with a door each, and one grant. Whatever is
    the owner's bears the mark in its words.
    """
    authority = register_organization(name="Quillhaven Fire Office", capabilities=["authority"])
    country = establish_jurisdiction(
        code="us", name="United States", kind="country", library_place="us"
    )
    town = establish_jurisdiction(
        code=TOWN, name="Quillhaven", kind="city", parent=country, authority=authority
    )
    firm = register_organization(
        name="Brass Lantern Inspections",
        capabilities=["inspector", "repairer"],
        address=["9 Wick Lane", "Quillhaven"],
    )
    owner, site, opening = _owner("Harrow Mill Estates", firm, mark)
    neighbour, neighbours_site, neighbours_opening = _owner("Saltmarsh Holdings", None)
    stranger = register_organization(name="Far Away Doors", capabilities=["inspector", "owner"])
    return Cast(
        authority,
        town,
        owner,
        firm,
        neighbour,
        stranger,
        site,
        opening,
        neighbours_site,
        neighbours_opening,
    )


def _owner(
    name: str, firm: Organization | None, mark: str = ""
) -> tuple[Organization, Site, Opening]:
    name += mark
    owner = register_organization(name=name, capabilities=["owner"], address=["1 High Street"])
    with acting_for(owner.id, write=True):
        add_person(name="Ada Quist", email="ada@owner.example", receives_notices=True)
        site = open_site(
            reference=f"S-1{mark}",
            name=f"{name} house",
            address=["1 High Street", "Quillhaven"],
            time_zone=ZONE,
            jurisdiction_code=TOWN,
            in_custody_from=SINCE,
        )
        opening = like_door(site, tag="A-1", location=f"Lobby to atrium{mark}")
        if firm is not None:
            grant_leave(grantee_id=firm.id, actions=["record", "repair", "submit"], begins_on=SINCE)
    return owner, site, opening


def like_door(site: Site, *, tag: str, location: str = "Hall") -> Opening:
    """A door as all of the cast's are, hung by whoever acts."""
    return add_opening(
        site_id=site.id,
        tag=tag,
        location=location,
        door_type="accordion",
        facts=FACTS,
        in_place_since=SINCE,
    )


def conforming(opening: Opening, activity: str, **changed: str) -> dict[str, Any]:
    """Findings that meet every limit, check and sequence asked for in an activity today.

    `changed` gives other values, by quantity, in the limit's own unit.
    """
    today = datetime.now(UTC).date()
    asked = [
        r.requirement
        for r in applicable(opening, today).requirements.items
        if activity in r.requirement.required_in
    ]
    specs = [r.spec for r in asked]
    limits = {s.quantity: s for s in specs if isinstance(s, LimitSpec)}
    checks = {s.check for s in specs if isinstance(s, CheckSpec)}
    sequences = {s.sequence: s for s in specs if isinstance(s, SequenceSpec)}
    return findings(
        *(_inside(limit, changed) for _, limit in sorted(limits.items())),
        checks=[{"check": check, "result": "conforms"} for check in sorted(checks)],
        sequences=[_seen(sequence) for _, sequence in sorted(sequences.items())],
    )


def _inside(limit: LimitSpec, changed: Mapping[str, str]) -> tuple[str, str, str]:
    bound = limit.high or limit.low
    assert bound is not None
    return limit.quantity, changed.get(limit.quantity, bound.text), bound.unit.symbol


def _seen(spec: SequenceSpec) -> dict[str, Any]:
    timed = [_inside(limit, {}) for limit in spec.times if limit.high or limit.low]
    return {
        "sequence": spec.sequence,
        "result": "conforms",
        "steps": [{"step": step.step, "seen": True} for step in spec.steps],
        "times": [{"quantity": q, "value": v, "unit": u} for q, v, u in timed],
    }


def findings(*readings: tuple[str, str, str], **more: Any) -> dict[str, Any]:
    """What a person sends of a visit: (quantity, value, unit) each, and whatever else."""
    return {
        "attestation": {"name": "Noor Vale", "at": "2026-03-01T10:00:00-06:00"},
        "people": [{"name": "Noor Vale", "role": "inspector", "qualification": "fire doors"}],
        "readings": [{"quantity": q, "value": v, "unit": u} for q, v, u in readings],
        **more,
    }


def visit(
    opening: Opening,
    sent: Mapping[str, Any],
    *,
    activity: str = "periodic_inspection",
    at: datetime | None = None,
    **more: Any,
) -> Visit:
    """Record a visit as whoever acts; an hour ago where no time is given."""
    performed = at or datetime.now(UTC).replace(microsecond=0) - timedelta(hours=1)
    return record_visit(
        opening_id=opening.id,
        client_ref=str(uuid4()),
        activity=activity,
        performed_at=Instant(performed, performed.isoformat()),
        attested_by="Noor Vale",
        findings={**sent, "attestation": {"name": "Noor Vale", "at": performed.isoformat()}},
        **more,
    )
