"""What applies to an opening on a day: its facts, its place, and the resolved requirements."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import rules
from doors.models import Jurisdiction, Opening
from doors.selectors.jurisdictions import Place, place_at, place_of
from doors.selectors.openings import FactsOnDay, facts_on
from rules.model import RequirementSet


@dataclass(frozen=True, slots=True)
class Applicable:
    """The requirements of an opening on a day, with everything they were resolved from."""

    on: date
    known: FactsOnDay
    place: Place
    requirements: RequirementSet

    def basis(self) -> dict[str, Any]:
        """JSON-ready: what a visit keeps, so that it can be judged again from its own record."""
        codes = {j.id: j.code for j in self.place.jurisdictions}
        return {
            "on": self.on.isoformat(),
            "facts": self.known.facts,
            "listed_instructions": self.known.listed_instructions,
            "library_place": self.place.library_place,
            "jurisdictions": [{"code": j.code, "name": j.name} for j in self.place.jurisdictions],
            "overrides": [
                {
                    "id": str(o.id),
                    "jurisdiction": codes[o.jurisdiction_id],
                    "title": o.title,
                    "begins_on": o.begins_on.isoformat(),
                    "document_sha256": o.document_sha256,
                }
                for o in self.place.overrides
            ],
        }


def applicable_at(place: Jurisdiction, on: date, facts: Mapping[str, Any]) -> Applicable:
    """Resolve what applies at a place on a day to a door of these facts, known or not."""
    there = place_at(place, on)
    resolved = rules.requirements(
        facts=facts, jurisdiction=there.library_place, on=on, layers=there.layers
    )
    return Applicable(on, FactsOnDay(dict(facts), []), there, resolved)


def applicable(opening: Opening, on: date) -> Applicable:
    """Resolve the requirements of an opening on a day, by the facts and rules of that day."""
    known, place = facts_on(opening, on), place_of(opening.site_id, on)
    resolved = rules.requirements(
        facts=known.facts,
        jurisdiction=place.library_place,
        on=on,
        listed_instructions=known.listed_instructions,
        layers=place.layers,
    )
    return Applicable(on, known, place, resolved)
