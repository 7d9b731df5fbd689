"""What an edition, an override or the rules of today would change for one opening.

Nothing is written and no stored verdict is touched: what was judged stays judged.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

import rules
from doors.clock import civil_date
from doors.models import Opening, Override
from doors.selectors.jurisdictions import Place, place_of, place_with, place_without
from doors.selectors.openings import facts_on
from doors.selectors.sight import as_custodian
from doors.selectors.visible import visible
from doors.tenancy import current
from inspections.models import Activity, Visit
from inspections.selectors.duties import windows_on
from inspections.selectors.findings import asked_of
from inspections.selectors.visits import standing_visits
from rules.comparing import series_name, supposed
from rules.layers import Layer
from rules.model import RequirementSet

_WINDOW = ("requirement", "opens_on", "due_on", "closes_on", "state")


@dataclass(frozen=True, slots=True)
class Rules:
    """The rules of a place on a day; `supposed` are laid upon what holds there."""

    on: date
    place: Place
    supposed: tuple[Layer, ...] = ()

    def of(self, opening: Opening) -> RequirementSet:
        """What they ask of an opening."""
        known = facts_on(opening, self.on)
        return rules.requirements(
            facts=known.facts,
            jurisdiction=self.place.library_place,
            on=self.on,
            listed_instructions=known.listed_instructions,
            layers=[*self.place.layers, *self.supposed],
        )


def what_if(
    opening: Opening, *, on: date | None, edition: str | None, override_id: UUID | None
) -> dict[str, Any]:
    """What would change: requirements, verdicts on the latest standing visits, duties' windows.

    Without an edition and an override it is asked what the rules of `on` change against those of
    the day of the last visit. An override that begins later is looked at on its first day.
    """
    visits = _latest(opening)
    override = visible(Override.objects.filter(id=override_id)) if override_id else None
    day = on or civil_date(current().now, opening.site.time_zone)
    if edition is None and override is None:
        since = max([v.performed_on for v in visits], default=day)
        held, given = Rules(since, place_of(opening.site_id, since)), _supposed(opening, day)
    else:
        given = _supposed(opening, day, edition, override)
        held = _held(opening, given.on, override)
    before, after = held.of(opening), given.of(opening)
    stored = [{"findings": asked_of(v), "answer": v.judgement} for v in visits]
    compared = rules.compare(before, after, stored)
    rejudged = compared.pop("visits")
    return {
        "on": given.on,
        "since": held.on,
        "edition": edition,
        "override": override_id,
        "requirements": compared,
        "visits": [_told(v, told) for v, told in zip(visits, rejudged, strict=True)],
        "duties": _moved(opening, held, given),
    }


def _supposed(
    opening: Opening, on: date, edition: str | None = None, override: Override | None = None
) -> Rules:
    day = max(on, override.begins_on) if override else on
    place = place_of(opening.site_id, day)
    if override is not None:
        place = place_with(place, override)
    layers = (supposed(edition, place.library_place, place.layers),) if edition else ()
    return Rules(day, place, layers)


def _held(opening: Opening, on: date, override: Override | None) -> Rules:
    """What holds that day without what is supposed, which may hold already."""
    place = place_of(opening.site_id, on)
    return Rules(on, place_without(place, override) if override else place)


def _latest(opening: Opening) -> list[Visit]:
    """The last standing visit of each activity, of those in sight."""
    found = (standing_visits(opening).filter(activity=each).last() for each in Activity.values)
    return [visit for visit in found if visit is not None]


def _told(visit: Visit, told: dict[str, Any]) -> dict[str, Any]:
    return {
        "visit": visit.id,
        "activity": visit.activity,
        "performed_on": visit.performed_on,
        "summary": told["summary"],
        "differ": told["differ"],
    }


def _moved(opening: Opening, held: Rules, given: Rules) -> list[dict[str, Any]]:
    """Each duty whose window would be another, by its name within its series of editions. All
    visits count, as where duties are settled; windows are no secret of who made the visits.
    """
    with as_custodian(opening.site_id):
        standing = windows_on(opening, given.on, held.place)
        would = windows_on(opening, given.on, given.place, given.supposed)
    before, after = _by_name(standing), _by_name(would)
    return [
        {
            "name": name,
            "activity": (after.get(name) or before[name])["activity"],
            "before": _window(before.get(name)),
            "after": _window(after.get(name)),
        }
        for name in sorted(before.keys() | after.keys())
        if _window(before.get(name)) != _window(after.get(name))
    ]


def _by_name(windows: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    return {series_name(window["requirement"]): window for window in windows}


def _window(window: dict[str, Any] | None) -> dict[str, Any] | None:
    return {name: window[name] for name in _WINDOW} if window else None
