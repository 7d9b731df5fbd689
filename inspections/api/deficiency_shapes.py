"""The shapes of a deficiency and of what is done about it."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from doors.tenancy import current
from inspections.models import Activity, Deficiency, InterimMeasure, Repair, Visit
from inspections.selectors.deficiencies import is_guarded, is_overdue, who_did
from inspections.services.interim_measures import MEASURES
from inspections.states import DEFICIENCY
from rules.vocabulary import Protects

PROTECTS = [each.value for each in Protects]


class InterimMeasureOut(serializers.Serializer):
    """What protects people until the repair is proven."""

    id = serializers.UUIDField()
    kind = serializers.ChoiceField(choices=list(MEASURES.items()))
    words = serializers.CharField()
    responsible = serializers.CharField()
    begins_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField(allow_null=True)
    without_end = serializers.BooleanField(help_text="True is an exception: it needs an end.")
    stopped_at = serializers.DateTimeField(
        allow_null=True, help_text="When somebody ended it before its time."
    )
    stopped_by = serializers.CharField()
    stopped_because = serializers.CharField()
    author = serializers.CharField()


class PartOut(serializers.Serializer):
    """A part that was mended or replaced."""

    part = serializers.CharField(
        help_text="A word on which retests depend, as `controller`; may be empty."
    )
    words = serializers.CharField(help_text="What it was, in the words of who mended it.")
    listed_basis = serializers.CharField(
        help_text="The listing or label by which it belongs to this door, as it was told."
    )


class RepairOut(serializers.Serializer):
    """What was done to mend it; it proves nothing until a retest has."""

    id = serializers.UUIDField()
    done_at = serializers.DateTimeField()
    done_by = serializers.CharField()
    licence = serializers.CharField()
    words = serializers.CharField()
    parts = PartOut(many=True)
    photos = serializers.ListField(child=serializers.CharField(), help_text="SHA-256 of each.")
    author = serializers.CharField()


class PartyOut(serializers.Serializer):
    """An organization, and the person who stands for what it did."""

    organization = serializers.CharField()
    person = serializers.CharField(help_text="Name of the person.")


class DeadlineSourceOut(serializers.Serializer):
    """Where a class or a deadline comes from: the owner's policy, or a requirement of the place."""

    source = serializers.ChoiceField(  # type: ignore[assignment]  # of another meaning in a field
        choices=["organization", "jurisdiction"]
    )
    words = serializers.CharField()
    within = serializers.CharField(allow_null=True, help_text="ISO 8601; null where no time is.")
    due_on = serializers.DateField(allow_null=True)
    governs = serializers.BooleanField(help_text="Whether it is the stricter one.")
    policy_version = serializers.IntegerField(required=False)
    layer = serializers.CharField(required=False)
    requirement = serializers.CharField(required=False)
    citation = serializers.CharField(required=False)
    locals()["class"] = serializers.CharField(required=False)


class MissingOut(serializers.Serializer):
    """Something still to be shown before it is proven."""

    what = serializers.CharField(help_text="`repair`, `qualification`, or what must be shown.")
    because = serializers.CharField()


class AssignmentOut(serializers.Serializer):
    """Who is to put it right, and by when."""

    organization = serializers.UUIDField(allow_null=True, help_text="Id of the organization.")
    organization_name = serializers.CharField()
    person = serializers.CharField(help_text="Name of the person; may be empty.")
    until = serializers.DateField(allow_null=True)
    assigned_by = serializers.CharField()


class GroupNamedOut(serializers.Serializer):
    """A group of your own that it is in."""

    id = serializers.UUIDField()
    title = serializers.CharField()


class DeficiencyOut(serializers.Serializer):
    """What is wrong at an opening, and how far it has come."""

    id = serializers.UUIDField()
    opening = serializers.UUIDField()
    site = serializers.UUIDField()
    subject = serializers.CharField(
        help_text="What was looked at: quantity, check, sequence; or `seen:` by a person."
    )
    requirements = serializers.ListField(
        child=serializers.CharField(), help_text="Ids of those it failed."
    )
    title = serializers.CharField()
    words = serializers.CharField()
    protects = serializers.CharField(help_text="closing, egress, people or record.")
    state = serializers.ChoiceField(choices=sorted(DEFICIENCY))
    version = serializers.IntegerField()
    guarded = serializers.BooleanField(help_text="Whether an interim measure is in force now.")
    opened_at = serializers.DateTimeField()
    ended_at = serializers.DateTimeField(allow_null=True)
    found_by = serializers.UUIDField(allow_null=True, help_text="The visit that found it.")
    found_again = serializers.ListField(
        child=serializers.UUIDField(), help_text="Visits that found it when it stood already."
    )
    proven_by = serializers.UUIDField(allow_null=True)
    recurs = serializers.UUIDField(
        allow_null=True, help_text="The earlier deficiency of the same subject, which had ended."
    )
    reason = serializers.CharField(help_text="Why it was withdrawn; else empty.")
    photos = serializers.ListField(child=serializers.CharField(), help_text="SHA-256 of each.")
    due_on = serializers.DateField(allow_null=True, help_text="On the calendar of the site.")
    overdue = serializers.BooleanField()
    deadline_from = DeadlineSourceOut(many=True)
    assignment = AssignmentOut(allow_null=True)
    interim_measures = InterimMeasureOut(many=True)
    repairs = RepairOut(many=True)
    retest_missing = MissingOut(many=True)
    inspected = PartyOut()
    repaired = PartyOut(many=True)
    retested = PartyOut(allow_null=True)
    same_firm = serializers.BooleanField(help_text="One firm inspected, repaired and retested.")
    same_firm_words = serializers.CharField()
    groups = GroupNamedOut(many=True)
    locals()["class"] = serializers.CharField(
        help_text="In the words of the owner's policy as of the day it opened; may be empty."
    )


def measure_row(measure: InterimMeasure) -> dict[str, Any]:
    """An interim measure as the API gives it."""
    names = (
        *("id", "kind", "words", "responsible", "begins_at", "ends_at"),
        *("stopped_at", "stopped_by", "stopped_because"),
    )
    shown = {name: getattr(measure, name) for name in names}
    unending = measure.ends_at is None and measure.stopped_at is None
    return shown | {"without_end": unending, "author": measure.author_name}


def repair_row(repair: Repair) -> dict[str, Any]:
    """A repair as the API gives it."""
    names = ("id", "done_at", "done_by", "licence", "words", "photos")
    parts = [{n: p.get(n, "") for n in ("part", "words", "listed_basis")} for p in repair.parts]
    shown = {name: getattr(repair, name) for name in names}
    return shown | {"parts": parts, "author": repair.author_name}


_PLAIN = (
    *("id", "subject", "requirements", "title", "words", "protects", "state", "version"),
    *("opened_at", "ended_at", "found_again", "reason", "photos", "due_on", "deadline_from"),
    "retest_missing",
)


def deficiency_row(deficiency: Deficiency) -> dict[str, Any]:
    """A deficiency as the API gives it, with what was done about it."""
    now = current().now
    return {
        **{name: getattr(deficiency, name) for name in _PLAIN},
        "class": deficiency.urgency,
        "opening": deficiency.opening_id,
        "site": deficiency.site_id,
        "found_by": deficiency.found_by_id,
        "proven_by": deficiency.proven_by_id,
        "recurs": deficiency.recurs_id,
        "guarded": is_guarded(deficiency, now),
        "overdue": is_overdue(deficiency, now),
        "assignment": _assignment(deficiency),
        "interim_measures": [measure_row(m) for m in deficiency.interim_measures.all()],
        "repairs": [repair_row(r) for r in deficiency.repairs.all()],
        "groups": [{"id": g.group_id, "title": g.group.title} for g in deficiency.grouped.all()],
        **who_did(deficiency),
    }


def _assignment(deficiency: Deficiency) -> dict[str, Any] | None:
    if not deficiency.assigned_by:
        return None
    return {
        "organization": deficiency.assigned_to_id,
        "organization_name": deficiency.assigned_to_name,
        "person": deficiency.assigned_person,
        "until": deficiency.assigned_until,
        "assigned_by": deficiency.assigned_by,
    }


class DeficiencyOfVisitOut(serializers.Serializer):
    """A deficiency of the opening that this visit found, found again, or retested."""

    id = serializers.UUIDField()
    requirements = serializers.ListField(child=serializers.CharField())
    title = serializers.CharField()
    state = serializers.CharField()
    retest_missing = MissingOut(many=True)


def deficiencies_of_visit(visit: Visit) -> dict[str, list[dict[str, Any]]]:
    """What the visit means for the deficiencies of its opening, as they stand now."""
    rows = list(Deficiency.objects.filter(opening_id=visit.opening_id).order_by("opened_at", "id"))
    retest = visit.activity == Activity.REPAIR_RETEST
    chosen = {
        "found": [d for d in rows if d.found_by_id == visit.id],
        "found_again": [d for d in rows if str(visit.id) in d.found_again],
        "proved": [d for d in rows if d.proven_by_id == visit.id],
        "not_proven": [d for d in rows if retest and d.state == "repaired"],
    }
    return {name: [_of_visit(d) for d in found] for name, found in chosen.items()}


def _of_visit(deficiency: Deficiency) -> dict[str, Any]:
    return {
        "id": deficiency.id,
        "requirements": deficiency.requirements,
        "title": deficiency.title,
        "state": deficiency.state,
        "retest_missing": deficiency.retest_missing,
    }
