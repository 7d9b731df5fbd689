"""What an opening looks like in the API, going in and coming out."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from doors.api.amounts import AmountIn, AmountOut
from doors.api.fields import CivilDateField, IdField, ProseField, StrictSerializer, TextField
from doors.api.library import FACTS, INSTRUCTION, LibraryObject
from doors.api.patches import Patch
from doors.api.scalars import FlagField, WholeField
from doors.clock import civil_date
from doors.models import DOOR_TYPES, PARTICULARS, Opening, Outage
from doors.selectors.openings import STATES, facts_on, state_on
from doors.tenancy import current

_ON_FILE = "What the label or the papers say; judged by nobody here."
LONGEST_RATING = 480  # minutes
_REQUIRED = frozenset({"location"})


class ParticularsIn(StrictSerializer):
    """What is known of an assembly beside its kind, its tag and its dated facts."""

    reference = TextField(
        max_length=100, help_text="Your own reference, unique at the site; imports find it by it."
    )
    location = TextField(max_length=300, help_text="Where in the building, in words.")
    floor = TextField(max_length=60, help_text="As the building writes it: 3, B1, mezzanine.")
    from_space = TextField(max_length=200, help_text="The room or space on one side.")
    to_space = TextField(max_length=200, help_text="The room or space on the other side.")
    barrier = TextField(max_length=100, help_text="The wall or barrier it stands in.")
    drawing = TextField(max_length=100, help_text="The drawing that shows it.")
    permit = TextField(max_length=100, help_text="The permit under which it was put in.")
    serial_number = TextField(max_length=100, help_text="The maker's serial number.")
    rating_minutes = WholeField(
        min_value=1, max_value=LONGEST_RATING, help_text=f"Fire rating, minutes. {_ON_FILE}"
    )
    temperature_rise = TextField(max_length=100, help_text=f"With its unit. {_ON_FILE}")
    label_agency = TextField(max_length=100, help_text=f"Whose label it bears. {_ON_FILE}")
    label_number = TextField(max_length=100, help_text=f"Number of the listing. {_ON_FILE}")
    label_legible = FlagField(help_text="Whether the label can be read.")
    travel_length = AmountIn(help_text="How far the leading edge travels; a length.")
    parting = serializers.ChoiceField(
        choices=Opening.Parting.choices, help_text="One leaf, or two that meet."
    )
    curved = FlagField(help_text="Whether its track is curved.")
    pocket_cover = FlagField(help_text="Whether a cover closes its pocket.")
    sensor_edge = FlagField(help_text="Whether its leading edge feels what it meets.")
    floor_track = FlagField(help_text="Whether it runs in a track in the floor.")
    egress_side = TextField(max_length=200, help_text="From which side people leave through it.")
    operating_device = TextField(max_length=200, help_text="What opens it by hand, and where.")
    locking = TextField(max_length=200, help_text="How it can be locked.")
    remarks = ProseField(max_length=2000, help_text="Whatever else the next person should know.")

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        """Return the members; only where it stands must be said."""
        found = super().get_fields()
        for name in set(PARTICULARS) - _REQUIRED:
            found[name].required = False
        return found


class OpeningAt(ParticularsIn):
    """A door assembly, wherever it stands."""

    tag = TextField(max_length=60, help_text="What is written on the door; unique at the site.")
    door_type = serializers.ChoiceField(choices=DOOR_TYPES, help_text="How the leaf moves.")
    facts = LibraryObject(FACTS, help_text="What is so from the day it stands there.")
    listed_instructions = serializers.ListField(
        child=LibraryObject(INSTRUCTION),
        required=False,
        max_length=200,
        help_text="Numbers that this door's own listed instructions give.",
    )


class OpeningIn(OpeningAt):
    """A door assembly to be recorded."""

    site = IdField(help_text="Where it stands.")
    in_place_since = CivilDateField(
        required=False, help_text="The first day of its record; today where absent."
    )
    replaces = IdField(
        required=False, help_text="The removed opening of this site in whose place it stands."
    )


class OpeningPatch(Patch, ParticularsIn):
    """What may change; null empties a member. Tag, kind and facts change from a day on."""

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        """Return the members; each but the location can be emptied."""
        found = super().get_fields()
        for name in set(PARTICULARS) - _REQUIRED:
            found[name].allow_null = True
        return found


def emptied(changed: dict[str, Any]) -> dict[str, Any]:
    """The change with null as the column keeps it: an empty text where it is one."""
    texts = {f.name for f in Opening._meta.concrete_fields if not f.null}
    return {
        name: "" if value is None and name in texts else value for name, value in changed.items()
    }


class TagOut(serializers.Serializer):
    """A tag the opening bears or bore."""

    tag = serializers.CharField(help_text="What was written on the door.")
    begins_on = serializers.DateField(help_text="The first day with it, at the site.")
    ends_on = serializers.DateField(
        allow_null=True, help_text="The first day without it; null while it bears it."
    )


class OutageOut(serializers.Serializer):
    """A time out of service."""

    id = serializers.UUIDField(help_text="Of this time out of service.")
    begins_on = serializers.DateField(help_text="The first day out of service, at the site.")
    ends_on = serializers.DateField(
        allow_null=True, help_text="The first day back; null where nobody has said."
    )
    reason = serializers.CharField(help_text="Why, in words.")


class OpeningOut(serializers.Serializer):
    """A door assembly."""

    id = serializers.UUIDField(help_text="Of the opening; it never changes.")
    site = serializers.UUIDField(help_text="Where it stands.")
    tag = serializers.CharField(help_text="What is written on the door now.")
    tags = TagOut(many=True, help_text="Every tag it ever bore, the first first.")
    door_type = serializers.ChoiceField(choices=DOOR_TYPES, help_text="How the leaf moves.")
    reference = serializers.CharField(help_text="The reference of whoever manages the site.")
    location = serializers.CharField(help_text="Where in the building, in words.")
    floor = serializers.CharField(help_text="As the building writes it.")
    from_space = serializers.CharField(help_text="The space on one side.")
    to_space = serializers.CharField(help_text="The space on the other side.")
    barrier = serializers.CharField(help_text="The wall or barrier it stands in.")
    drawing = serializers.CharField(help_text="The drawing that shows it.")
    permit = serializers.CharField(help_text="The permit under which it was put in.")
    serial_number = serializers.CharField(help_text="The maker's serial number.")
    rating_minutes = serializers.IntegerField(allow_null=True, help_text="Fire rating, minutes.")
    temperature_rise = serializers.CharField(help_text="With its unit, as it was sent.")
    label_agency = serializers.CharField(help_text="Whose label it bears.")
    label_number = serializers.CharField(help_text="Number of the listing.")
    label_legible = serializers.BooleanField(allow_null=True, help_text="Can it be read?")
    travel_length = AmountOut(allow_null=True, help_text="How far the leading edge travels.")
    parting = serializers.CharField(help_text="single, bi_parting, or empty where unknown.")
    curved = serializers.BooleanField(allow_null=True, help_text="Is its track curved?")
    pocket_cover = serializers.BooleanField(allow_null=True, help_text="Is there a cover?")
    sensor_edge = serializers.BooleanField(allow_null=True, help_text="Does its edge feel?")
    floor_track = serializers.BooleanField(allow_null=True, help_text="Is there one?")
    egress_side = serializers.CharField(help_text="From which side people leave through it.")
    operating_device = serializers.CharField(help_text="What opens it by hand, and where.")
    locking = serializers.CharField(help_text="How it can be locked.")
    remarks = serializers.CharField(help_text="Whatever else the next person should know.")
    state = serializers.ChoiceField(choices=sorted(STATES), help_text="Today, at its site.")
    outages = OutageOut(many=True, help_text="Its times out of service, the first first.")
    removed_on = serializers.DateField(allow_null=True, help_text="The first day without it.")
    removal_reason = serializers.CharField(help_text="Why it was removed.")
    removal_reference = serializers.CharField(help_text="The authority's reference for that.")
    replaces = serializers.UUIDField(allow_null=True, help_text="The one in whose place it is.")
    replaced_by = serializers.UUIDField(allow_null=True, help_text="The one in its place.")
    created_at = serializers.DateTimeField(help_text="When it was recorded.")
    changed_at = serializers.DateTimeField(help_text="When it was last changed.")
    version = serializers.IntegerField(help_text="Rises with each change; its ETag is made of it.")


class OpeningWithFactsOut(OpeningOut):
    """A door assembly with its facts of today."""

    facts = LibraryObject(FACTS, help_text="What is so today, as the rules library names it.")
    listed_instructions = serializers.ListField(
        child=LibraryObject(INSTRUCTION), help_text="What its own instructions say today."
    )


_PLAIN = (
    "id",
    "tag",
    "door_type",
    *PARTICULARS,
    "removed_on",
    "removal_reason",
    "removal_reference",
    "created_at",
    "changed_at",
    "version",
)


def opening_row(opening: Opening) -> dict[str, Any]:
    """An opening of `openings_shown()` as the API gives it."""
    today = civil_date(current().now, opening.site.time_zone)
    outages = sorted(opening.outages.all(), key=lambda each: each.begins_on)
    tags = sorted(opening.tags.all(), key=lambda each: (each.begins_on, each.ends_on is None))
    later = getattr(opening, "replaced_by", None)
    return {name: getattr(opening, name) for name in _PLAIN} | {
        "site": opening.site_id,
        "tags": [{n: getattr(t, n) for n in ("tag", "begins_on", "ends_on")} for t in tags],
        "state": state_on(opening, outages, today),
        "outages": [outage_row(each) for each in outages],
        "replaces": opening.replaces_id,
        "replaced_by": later.id if later else None,
    }


def outage_row(outage: Outage) -> dict[str, Any]:
    """A time out of service as the API gives it."""
    return {name: getattr(outage, name) for name in ("id", "begins_on", "ends_on", "reason")}


def opening_today(opening: Opening) -> dict[str, Any]:
    """An opening with its facts of today."""
    known = facts_on(opening, civil_date(current().now, opening.site.time_zone))
    facts = {"facts": known.facts, "listed_instructions": known.listed_instructions}
    return opening_row(opening) | facts
