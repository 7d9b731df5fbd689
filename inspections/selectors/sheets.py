"""One opening as a packet holds it: the door, what is owed, what was found, what was wrong."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any, TypeAlias

from django.db.models import Q

from doors.clock import civil_date
from doors.models import Opening, OpeningTag, Site
from doors.selectors.openings import facts_on
from doors.tenancy import current
from inspections.models import Activity, Deficiency, Duty, InterimMeasure, Visit
from inspections.selectors.deficiencies import is_guarded, with_measures
from inspections.selectors.drawings import drawn_trace
from inspections.selectors.duties import duty_state
from inspections.selectors.traces import traces_of
from inspections.selectors.trend_drawings import drawn_series
from inspections.selectors.trends import trends_of
from inspections.selectors.visits import standing_visits

Beside: TypeAlias = Callable[[Visit], dict[str, Any]]

FULL = {Activity.PERIODIC_INSPECTION.value, Activity.ACCEPTANCE_TEST.value}
_RATINGS = ("fire_rating", "smoke_rated", "label")


def opening_sheet(opening: Opening, site: Site, beside: Beside) -> dict[str, Any]:
    """Everything a reviewer reads of one opening, newest visit first; `beside` gives what a visit
    has besides its record.
    """
    today = civil_date(current().now, site.time_zone)
    facts = facts_on(opening, today).facts
    deficiencies = _deficiencies(opening)
    return {
        "tag": opening.tag,
        "tags": [_tag(t) for t in OpeningTag.objects.filter(opening=opening).order_by("begins_on")],
        "location": opening.location,
        "floor": opening.floor,
        "door_type": opening.door_type,
        "operation": str(facts.get("operation", "")),
        "ratings": {name: facts[name] for name in _RATINGS if name in facts},
        "facts": {n: v for n, v in facts.items() if n not in {*_RATINGS, "door_type"}},
        "duties": [_duty(d, today) for d in _duties(opening)],
        "visits": [_visit(v) | beside(v) for v in _telling(opening, deficiencies)],
        "deficiencies": [_deficiency(d, site) for d in deficiencies],
        # Where a trend shows a person would rather look than read; the other series are in the API.
        "series": [drawn_series(t) for t in trends_of(opening) if t.measured is not None],
    }


def _telling(opening: Opening, deficiencies: list[Deficiency]) -> list[Visit]:
    """The visits that tell how the opening stands, newest first: the latest full one, the latest
    of each activity since, and those that found or proved what a packet tells of. The earlier
    ones stay in the record.
    """
    named = {d.found_by_id for d in deficiencies} | {d.proven_by_id for d in deficiencies}
    chosen: list[Visit] = []
    activities: set[str] = set()
    for visit in standing_visits(opening).reverse():
        since_the_full_one = not activities & FULL
        if visit.id in named or (since_the_full_one and visit.activity not in activities):
            activities.add(visit.activity)
            chosen.append(visit)
    return chosen


def _duties(opening: Opening) -> list[Duty]:
    rows = Duty.objects.filter(opening=opening).exclude(standing=Duty.Standing.ENDED)
    return list(rows.order_by("due_on", "id"))


def _deficiencies(opening: Opening) -> list[Deficiency]:
    """What stands, and what ended within the year."""
    ended = Q(ended_at=None) | Q(ended_at__gt=current().now - timedelta(days=366))
    rows = Deficiency.objects.filter(ended, opening=opening)
    return list(with_measures(rows).order_by("-opened_at"))


def _tag(tag: OpeningTag) -> dict[str, Any]:
    ends = tag.ends_on.isoformat() if tag.ends_on else None
    return {"tag": tag.tag, "from": tag.begins_on.isoformat(), "until": ends}


def _duty(duty: Duty, today: date) -> dict[str, Any]:
    return {
        "activity": duty.activity,
        "opens_on": duty.opens_on.isoformat(),
        "due_on": duty.due_on.isoformat(),
        "closes_on": duty.closes_on.isoformat(),
        "state": duty_state(duty, today),
        "reason": duty.reason,
        "citation": duty.adopted_by or duty.citation,
        "adoption": duty.adoption,
    }


def _visit(visit: Visit) -> dict[str, Any]:
    found, judged = visit.findings, visit.judgement
    attestation = {"name": visit.attested_by, "at": found["attestation"]["at"]}
    return {
        "id": str(visit.id),
        "activity": visit.activity,
        "performed_at": visit.performed_at_text,
        "received_at": instant_text(visit.received_at),
        "organization": visit.author_name,
        "party": visit.basis["author"],
        "basis": visit.basis,
        "attestation": attestation | {"sha256": visit.content_sha256},
        "people": [p | {"organization": visit.author_name} for p in found["people"]],
        "instruments": [_instrument(i) for i in found.get("instruments", [])],
        "summary": judged["summary"],
        "verdicts": judged["verdicts"],
        "advisory": judged["advisory"],
        "readings": found.get("readings", []),
        "checks": found.get("checks", []),
        "sequences": [_sequence(s) for s in found.get("sequences", [])],
        "traces": _traces(traces_of(visit), judged),
        "alarm_log": found.get("alarm_log"),
        "remarks": found.get("remarks", ""),
        "warnings": [each["detail"] for each in visit.warnings],
        "supersedes": str(visit.supersedes_id) if visit.supersedes_id else None,
    }


def _traces(sent: list[dict[str, Any]], judged: dict[str, Any]) -> list[dict[str, Any]]:
    pairs = zip(sent, judged["measurements"], strict=True)
    drawn = [drawn_trace(trace, measured, judged["verdicts"]) for trace, measured in pairs]
    return [trace for trace in drawn if trace is not None]


def _instrument(instrument: dict[str, Any]) -> dict[str, Any]:
    amounts = {
        name: f"{instrument[name]['value']} {instrument[name]['unit']}"
        for name in ("resolution", "uncertainty")
        if name in instrument
    }
    return instrument | amounts


def _sequence(sequence: dict[str, Any]) -> dict[str, Any]:
    times = [{k: v for k, v in t.items() if k != "history"} for t in sequence.get("times", [])]
    return sequence | {"times": times}


def _deficiency(deficiency: Deficiency, site: Site) -> dict[str, Any]:
    def day(at: datetime | None) -> str | None:
        return civil_date(at, site.time_zone).isoformat() if at else None

    return {
        "ref": str(deficiency.id)[:8],
        "words": f"{deficiency.title}: {deficiency.words}",
        "requirement": ", ".join(deficiency.requirements),
        "opened_on": day(deficiency.opened_at),
        "state": deficiency.state,
        "guarded": is_guarded(deficiency, current().now),
        "interim": [_interim(m) for m in deficiency.interim_measures.all()],
        "repairs": [
            {
                "on": day(r.done_at),
                "by": r.done_by,
                "organization": r.author_name,
                "words": r.words,
                "parts": [_part(part) for part in r.parts],
            }
            for r in deficiency.repairs.all()
        ],
        "proven_on": day(deficiency.ended_at) if deficiency.state == "proven" else None,
        "proven_by_visit": str(deficiency.proven_by_id) if deficiency.proven_by_id else None,
        "withdrawn_reason": deficiency.reason or None,
    }


def _part(part: dict[str, str]) -> str:
    """A part in one line: the library's word, the repairer's own, and its listing."""
    named = ": ".join(part[name] for name in ("part", "words") if part.get(name))
    return f"{named} ({part['listed_basis']})" if part.get("listed_basis") else named


def _interim(measure: InterimMeasure) -> dict[str, Any]:
    ends = [end for end in (measure.stopped_at, measure.ends_at) if end is not None]
    return {
        "words": measure.words,
        "responsible": measure.responsible,
        "from": instant_text(measure.begins_at),
        "until": instant_text(ends[0]) if ends else None,
    }


def instant_text(at: datetime) -> str:
    """A server's time as RFC 3339 in UTC, to the second."""
    return at.isoformat(timespec="seconds").replace("+00:00", "Z")
