"""What holds for the notices of a site: what its custodian stated, else sane defaults."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time, timedelta
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from doors.models import Person, Site
from doors.selectors.jurisdictions import place_codes
from doors.tenancy import acting_organization
from inspections.models import KIND_OF, Kind, NoticePolicy, Stage
from inspections.selectors.working_days import Calendar, holidays_of

DEFAULTS: dict[str, Any] = {
    "lead_days": [30, 7, 1],  # before a duty is due
    "overdue_days": [1, 8, 15, 29],  # after the last day; from the second on one more hears of it
    "digest": True,  # one mail a person a day; else one a person, building and day
    "send_at": "08:00",  # by the site's clock
    "quiet_from": "20:00",
    "quiet_until": "07:00",
    "working_days": [1, 2, 3, 4, 5],
    "public_holidays": True,
    "holidays_of": None,  # else as {"country": "US", "subdivision": "CA"}; by the site's place
    "acknowledge_minutes": 60,
    "contacts": [],  # in the order in which failures climb; empty: whoever receives notices
}


@dataclass(frozen=True, slots=True)
class Policy:
    """The terms in force at a site, or for an organization as a whole; `stated` names those that
    its own policy states, `version` is that policy's, 0 where there is none.
    """

    terms: Mapping[str, Any]
    stated: frozenset[str]
    version: int

    @property
    def acknowledge_within(self) -> timedelta:
        """How long somebody has to say that they have seen a failure."""
        return timedelta(minutes=self.terms["acknowledge_minutes"])

    def calendar(self, time_zone: str, codes: list[str]) -> Calendar:
        """The days and hours at which reminders of a site may go out."""
        terms = self.terms
        whose = ("", "")
        if terms["public_holidays"]:
            named = terms["holidays_of"]
            whose = (named["country"], named["subdivision"]) if named else holidays_of(codes)
        at, quiet_from, quiet_until = (
            time.fromisoformat(terms[name]) for name in ("send_at", "quiet_from", "quiet_until")
        )
        weekdays = frozenset(terms["working_days"])
        return Calendar(time_zone, weekdays, whose, at, quiet_from, quiet_until)


def policy_of(site_id: UUID | None = None) -> Policy:
    """The acting organization's policy for a site, or for itself where none is named."""
    own = NoticePolicy.objects.filter(organization_id=acting_organization())
    rows = {row.site_id: row for row in own.filter(site=None)}
    if site_id is not None:
        rows |= {row.site_id: row for row in own.filter(site_id=site_id)}
    general, asked = rows.get(None), rows.get(site_id)
    terms = DEFAULTS | (general.terms if general else {}) | (asked.terms if asked else {})
    stated = frozenset(asked.terms) if asked else frozenset()
    return Policy(terms, stated, asked.version if asked else 0)


def calendar_of_site(site: Site, policy: Policy, on: date) -> Calendar:
    """The days and hours at which reminders of that site may go out, by where it lies on a day."""
    return policy.calendar(site.time_zone, place_codes(site.id, on))


def hearers(policy: Policy, stage: str) -> list[Person]:
    """Who is told of that stage from the beginning, in the order of the contacts."""
    order = contacts(policy)
    named = {UUID(c["person"]): c["kinds"] for c in policy.terms["contacts"]}
    kind = KIND_OF[Stage(stage)]
    return [p for p in order if kind in named.get(p.id, Kind.values)]


def contacts(policy: Policy) -> list[Person]:
    """Whoever may be told anything, in the order in which failures climb: those the policy names,
    else everybody who receives notices, by name.
    """
    named = [UUID(c["person"]) for c in policy.terms["contacts"]]
    if not named:
        return receivers()
    found = _reached().in_bulk(named)
    return [found[id_] for id_ in named if id_ in found]


def receivers() -> list[Person]:
    """Everybody who receives notices, by name."""
    return list(_reached().filter(receives_notices=True).order_by("name", "id"))


def _reached() -> QuerySet[Person]:
    return Person.objects.filter(ended_at=None).exclude(email="")
