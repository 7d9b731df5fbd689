"""What a person should look at again in a visit that was taken as sent: it changes no verdict."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from typing import Any, TypeAlias

from doors.clock import instant_told
from doors.models import Opening
from doors.tenancy import current
from inspections.models import Visit
from inspections.selectors.device_clocks import CLOCK_SLACK, clock_words
from inspections.selectors.requirements import Applicable
from inspections.selectors.retests import qualifications_asked
from inspections.selectors.traces import sent_of
from rules.amending import length
from rules.model import ImpairmentSpec, Requirement

Findings: TypeAlias = Mapping[str, Any]
Named: TypeAlias = tuple[str, str, str]  # code, pointer, words

_ALARM = {"fire alarm system", "fire protection system"}
_EARLIER = 10  # visits of the same author in which an instrument is looked for
_NEAR = 0.5  # of everything found, that two visits share before they look like one
_MOST_ALIKE = 5  # visits of one minute that are compared: each may hold long traces


def warnings_of(
    visit: Visit, opening: Opening, applying: Applicable, findings: Findings
) -> list[dict[str, str]]:
    """Everything worth a second look, each with its code, its place in what was sent, and words."""
    found = [
        *_other_clock(visit),
        *_qualifications(visit.activity, applying, findings),
        *_left_on_test(applying, findings),
        *_other_instruments(visit, findings),
        *_duplicates(visit, opening, findings),
    ]
    return [{"code": code, "pointer": at, "detail": said} for code, at, said in found]


def _other_clock(visit: Visit) -> Iterator[Named]:
    """A device whose clock was far from ours when it sent."""
    skew_s = visit.clock_skew_s
    if skew_s is not None and abs(skew_s) > CLOCK_SLACK.total_seconds():
        yield "clock_differs", "/sent_at", clock_words(skew_s)


def _qualifications(activity: str, applying: Applicable, findings: Findings) -> Iterator[Named]:
    """Qualifications as they stood on the day of the visit, where the place asks for one."""
    asked = [each for each, _ in qualifications_asked(applying.requirements, activity)]
    by = f"; asked for by {_named(asked[0])}" if asked else "; no requirement here asks for one"
    for number, person in enumerate(findings["people"]):
        until = person.get("valid_until")
        if until is not None and date.fromisoformat(until) < applying.on:
            what = person.get("qualification", "qualification")
            said = f"{person['name']}: {what} was valid until {until}, before the visit{by}."
            yield "qualification_lapsed", f"/people/{number}/valid_until", said
    if asked and not any(person.get("qualification") for person in findings["people"]):
        said = f"Nobody's qualification is stated{by}."
        yield "qualification_not_stated", "/people", said


def _left_on_test(applying: Applicable, findings: Findings) -> Iterator[Named]:
    """An alarm system left on test, or longer than the place lets it be without more."""
    log = findings.get("alarm_log") or {}
    if "on_test_at" not in log:
        return
    began, ended = instant_told(log["on_test_at"]), log.get("off_test_at")
    if ended is None:
        said = f"On test since {log['on_test_at']}; nobody says that it was taken off test."
        yield "left_on_test", "/alarm_log/off_test_at", said
    lasted = (instant_told(ended) if ended else current().now) - began
    for item in applying.requirements.items:
        requirement, spec = item.requirement, item.requirement.spec
        if item.missing_facts or not isinstance(spec, ImpairmentSpec):
            continue
        if spec.system not in _ALARM or not spec.over:
            continue
        if lasted > timedelta(days=float(length(spec.over))):
            said = f"On test for {_hours(lasted)} h: {spec.response} ({_named(requirement)})."
            yield "on_test_too_long", "/alarm_log/on_test_at", said


def _other_instruments(visit: Visit, findings: Findings) -> Iterator[Named]:
    """An instrument called as before, with another serial number."""
    named = {
        i["ref"]: (n, i["serial"]) for n, i in enumerate(_instruments(findings)) if "serial" in i
    }
    if not named:
        return
    rows = Visit.objects.filter(author_id=visit.author_id).order_by("-performed_at", "id")
    for earlier in rows.values_list("findings__instruments", flat=True)[:_EARLIER]:
        for one in earlier or []:
            number, serial = named.get(one["ref"], (0, ""))
            if serial and one.get("serial", serial) != serial:
                del named[one["ref"]]
                said = f"{one['ref']} had the serial number {one['serial']} before, not {serial}."
                yield "instrument_changed", f"/instruments/{number}/serial", said


def _duplicates(visit: Visit, opening: Opening, findings: Findings) -> Iterator[Named]:
    """The same person at the same door in the same minute, with much the same found."""
    minute = visit.performed_at.replace(second=0, microsecond=0)
    rows = Visit.objects.filter(
        opening=opening,
        performed_on=visit.performed_on,
        author_id=visit.author_id,
        attested_by=visit.attested_by,
        performed_at__gte=minute,
        performed_at__lt=minute + timedelta(minutes=1),
    )
    if visit.supersedes_id is not None:
        rows = rows.exclude(id=visit.supersedes_id)
    for earlier in rows.order_by("-received_at", "id")[:_MOST_ALIKE]:
        if _alike(findings, sent_of(earlier)) >= _NEAR:
            named = f"{earlier.id}, sent as {earlier.client_ref!r}"
            said = f"Perhaps the visit {named}, once more; both stand."
            yield "possible_duplicate", "/client_ref", said


def _alike(one: Findings, other: Findings) -> float:
    """Which share of what two visits found is the same; two that found nothing are alike."""
    here, there = _found(one), _found(other)
    return len(here & there) / len(here | there) if here | there else 1.0


def _found(findings: Findings) -> set[str]:
    parts = ("readings", "checks", "sequences", "traces")
    found = {str(sorted(each.items(), key=str)) for p in parts for each in findings.get(p) or []}
    return found | {str(findings.get("no_access", ""))} - {""}


def _instruments(findings: Findings) -> Sequence[Mapping[str, Any]]:
    found: Sequence[Mapping[str, Any]] = findings.get("instruments") or []
    return found


def _named(requirement: Requirement) -> str:
    cited = requirement.citation
    return f"{cited.publication}, {cited.edition}, {cited.clause}"


def _hours(lasted: timedelta) -> str:
    return f"{lasted / timedelta(hours=1):.1f}"
