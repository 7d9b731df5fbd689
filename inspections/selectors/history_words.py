"""What happened at an opening, in plain words: one sentence or two of each row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from doors.models import Battery, Custody, Device, Opening, OpeningFacts, OpeningTag, Outage, Photo
from inspections.models import (
    Amendment,
    Deficiency,
    Filing,
    InterimMeasure,
    Repair,
    ReportedVisit,
    Submittal,
    Visit,
)

MOST = 500  # characters of what others wrote; all of it stands with the thing itself
_VERDICTS = {
    "conforms": "conforms to the requirements tested",
    "does_not_conform": "does not conform",
    "inconclusive": "inconclusive",
    "not_tested": "not tested",
}
_OUTCOMES = {
    "no_fault_reported": "no fault reported",
    "faults_reported": "faults reported",
    "not_reported": "no outcome reported",
}


def added(row: Opening) -> str:
    """An opening came on record."""
    return "The record of this opening began."


def removed(row: Opening) -> str:
    """An opening is gone."""
    return _sentence("The assembly was removed", row.removal_reason)


def facts(row: OpeningFacts) -> str:
    """What was so from a day on."""
    told = ", ".join(f"{_plain(name)}: {_plain(value)}" for name, value in row.facts.items())
    return _sentence("From this day on it is so", told or "nothing is known")


def tag(row: OpeningTag) -> str:
    """A tag was given."""
    return f"It bears the tag {row.tag} from this day on."


def out(row: Outage) -> str:
    """Out of service."""
    return _sentence("Out of service", row.reason)


def back(row: Outage) -> str:
    """Back in service."""
    return _sentence("Back in service; it had been out", row.reason)


def device_in(row: Device) -> str:
    """A device was put in."""
    return _sentence("Put in", _device(row))


def device_out(row: Device) -> str:
    """A device was taken out."""
    return _sentence("Taken out", _device(row))


def _device(row: Device) -> str:
    return ", ".join(filter(None, [_plain(row.kind), row.words, row.place, row.reference]))


def battery_in(row: Battery) -> str:
    """Batteries were put in."""
    return f"Batteries put in: {row.quantity}, {_plain(row.battery_type)}."


def battery_out(row: Battery) -> str:
    """Batteries were taken out."""
    return f"Batteries taken out: {row.quantity}, {_plain(row.battery_type)}."


def custody(row: Custody) -> str:
    """Somebody answers for the site."""
    return f"{row.owner_name} answers for the site from this day on."


def photo(row: Photo) -> str:
    """A picture was hung there."""
    return _sentence("A picture was added", row.caption)


def photo_withdrawn(row: Photo) -> str:
    """A picture was taken back."""
    return _sentence("A picture was withdrawn", row.withdrawal_reason)


def visit(row: Visit) -> str:
    """What a visit was for and came to."""
    by = f" by {row.attested_by}" if row.attested_by else ""
    return f"{_plain(row.activity).capitalize()}{by}: {_VERDICTS[row.verdict]}."


def correction(row: Visit) -> str:
    """An earlier visit was corrected."""
    why = _sentence("A visit was corrected", row.reason)
    return f"{why} {visit(row)}"


def reported(row: ReportedVisit) -> str:
    """Somebody told of an earlier visit."""
    what = f"{_plain(row.activity).capitalize()} by {row.performed_by}: {_OUTCOMES[row.outcome]}"
    return f"{what}. Told from an earlier record, and judged by nobody here."


def reported_withdrawn(row: ReportedVisit) -> str:
    """What was told was taken back."""
    return _sentence("What was told of an earlier visit was withdrawn", row.withdrawal_reason)


def deficiency(row: Deficiency) -> str:
    """Something is wrong."""
    return _sentence(f"Found wrong: {row.title}", row.words)


def proven(row: Deficiency) -> str:
    """A repair has been proven."""
    return f"A retest proved the repair: {row.title}."


def withdrawn(row: Deficiency) -> str:
    """What was wrong is withdrawn."""
    return _sentence(f"Withdrawn: {row.title}", row.reason)


def repair(row: Repair) -> str:
    """What was done."""
    done = _sentence(f"Repaired by {row.done_by}: {row.title}", row.words)  # type: ignore[attr-defined]
    return f"{done} Nothing is proven by that yet."


def measure(row: InterimMeasure) -> str:
    """What protects people meanwhile."""
    about = f"Until it is repaired, {row.responsible} sees to this: {_plain(row.kind)}"
    return _sentence(about, f"{row.words} ({row.title})")  # type: ignore[attr-defined]


def measure_stopped(row: InterimMeasure) -> str:
    """It no longer does."""
    return _sentence(f"No longer in force: {row.words}", row.stopped_because)


def assembled(row: Submittal) -> str:
    """A packet was frozen."""
    return "A packet over the site was assembled."


def filed(row: Filing) -> str:
    """It was handed in."""
    return f"A packet over the site was filed with {row.authority_name}."


def answered(row: Filing) -> str:
    """What the authority said."""
    return _sentence(f"{row.authority_name} answered: {_plain(row.state)}", row.remarks)


def amended(row: Amendment) -> str:
    """A filed packet holds what was corrected since."""
    return _sentence("A visit in a filed packet was corrected since", row.reason)


def _sentence(what: str, why: str) -> str:
    why = " ".join(why.split())
    if len(why) > MOST:
        why = f"{why[:MOST].rstrip()}…"
    told = f"{what}: {why}" if why else what
    return told if told.endswith((".", "!", "?", "…")) else f"{told}."


def _plain(value: object) -> str:
    """A word of ours, a measure or a list of them, as a person reads it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        if {*value} == {"value", "unit"}:
            return f"{value['value']} {value['unit']}"
        return ", ".join(f"{_plain(name)} {_plain(each)}" for name, each in value.items())
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(_plain(each) for each in value)
    return str(value).replace("_", " ")
