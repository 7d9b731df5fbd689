"""When and how your people are told: `/v1/notice-policy`, and for one site or one person."""

from __future__ import annotations

import re
from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from doors.api.etags import tagged
from doors.api.fields import IdField, StrictSerializer, TextField
from doors.api.scalars import FlagField, StringField, WholeField
from doors.models import Capability
from doors.selectors.sight import sight_of
from inspections.models import REMINDERS, Kind
from inspections.selectors.policies import Policy, policy_of
from inspections.services.policies import set_policy, set_stopped_stages, stopped_stages

_MOST_STEPS, _FURTHEST, _MOST_CONTACTS, _LONGEST_WAIT = 10, 366, 20, 10_080
_TIME = re.compile(r"(?:[01][0-9]|2[0-3]):[0-5][0-9]", re.ASCII)
_LEAD = "Days before the due day on which it is told that something will be due."
_OVERDUE = (
    "Days after the last day on which it is told that it is overdue; from the second on, one more "
    "of the contacts hears of it each time."
)
_DIGEST = "true: one mail a person a day; false: one a person, building and day."
_SEND = "When reminders go out, by the site's clock, outside the quiet hours."
_QUIET = "by the site's clock; no reminder goes out in them. Failures do."
_WORKING = "Weekdays on which reminders go out; 1 is Monday."
_HOLIDAYS = "Whether public holidays are no working days."
_WHOSE = "Whose public holidays; null: those of the site's place."
_ACKNOWLEDGE = "Minutes in which somebody must say that they have seen a failure, else it climbs."
_CONTACTS = "In the order in which failures climb; empty: everybody who receives notices."
_KINDS = "What they are told of from the beginning; of the rest they hear when it climbs to them."


@extend_schema_field({"type": "string", "pattern": f"^{_TIME.pattern}$"})
class TimeOfDayField(StringField):
    """A time of day, as 08:00."""

    default_error_messages = {"not_a_time": "A time of day, as 08:00."}

    def to_internal_value(self, data: object) -> str:
        """Return the time as sent."""
        text = self.string(data)
        if not _TIME.fullmatch(text):
            self.fail("not_a_time")
        return text

    def to_representation(self, value: str) -> str:
        """Return the time."""
        return value


class HolidaysIn(StrictSerializer):
    """A country, and a part of it where that has holidays of its own."""

    country = TextField(max_length=2, help_text="ISO 3166-1, as US.")
    subdivision = TextField(
        max_length=6, allow_blank=True, help_text="ISO 3166-2 behind the country, as CA; or empty."
    )


class ContactIn(StrictSerializer):
    """One of your people who is told."""

    person = IdField(help_text="Their id; they need a mail address.")
    kinds = serializers.ListField(
        child=serializers.ChoiceField(choices=Kind.choices), max_length=len(Kind), help_text=_KINDS
    )


def _days(words: str) -> serializers.ListField:
    child = WholeField(min_value=1, max_value=_FURTHEST)
    return serializers.ListField(
        child=child, required=False, max_length=_MOST_STEPS, help_text=words
    )


class NoticePolicyIn(StrictSerializer):
    """What you state; what is absent falls back to your policy for all sites, then to ours."""

    lead_days = _days(_LEAD)
    overdue_days = _days(_OVERDUE)
    digest = FlagField(required=False, help_text=_DIGEST)
    send_at = TimeOfDayField(required=False, help_text=_SEND)
    quiet_from = TimeOfDayField(required=False, help_text=f"Quiet hours begin, {_QUIET}")
    quiet_until = TimeOfDayField(required=False, help_text=f"Quiet hours end, {_QUIET}")
    working_days = serializers.ListField(
        child=WholeField(min_value=1, max_value=7),
        required=False,
        min_length=1,
        max_length=7,
        help_text=_WORKING,
    )
    public_holidays = FlagField(required=False, help_text=_HOLIDAYS)
    holidays_of = HolidaysIn(required=False, allow_null=True, help_text=_WHOSE)
    acknowledge_minutes = WholeField(
        required=False, min_value=1, max_value=_LONGEST_WAIT, help_text=_ACKNOWLEDGE
    )
    contacts = serializers.ListField(
        child=ContactIn(), required=False, max_length=_MOST_CONTACTS, help_text=_CONTACTS
    )


class HolidaysOut(serializers.Serializer):
    """Whose public holidays hold."""

    country = serializers.CharField(help_text="ISO 3166-1, as US.")
    subdivision = serializers.CharField(help_text="ISO 3166-2 behind the country; or empty.")


class ContactOut(serializers.Serializer):
    """One of your people who is told."""

    person = serializers.UUIDField(help_text="Their id.")
    kinds = serializers.ListField(
        child=serializers.ChoiceField(choices=Kind.choices), help_text=_KINDS
    )


class NoticePolicyOut(serializers.Serializer):
    """The terms in force, and which of them this policy states."""

    lead_days = serializers.ListField(child=serializers.IntegerField(), help_text=_LEAD)
    overdue_days = serializers.ListField(child=serializers.IntegerField(), help_text=_OVERDUE)
    digest = serializers.BooleanField(help_text=_DIGEST)
    send_at = TimeOfDayField(help_text=_SEND)
    quiet_from = TimeOfDayField(help_text=f"Quiet hours begin, {_QUIET}")
    quiet_until = TimeOfDayField(help_text=f"Quiet hours end, {_QUIET}")
    working_days = serializers.ListField(child=serializers.IntegerField(), help_text=_WORKING)
    public_holidays = serializers.BooleanField(help_text=_HOLIDAYS)
    holidays_of = HolidaysOut(allow_null=True, help_text=_WHOSE)
    acknowledge_minutes = serializers.IntegerField(help_text=_ACKNOWLEDGE)
    contacts = ContactOut(many=True, help_text=_CONTACTS)
    stated = serializers.ListField(
        child=serializers.CharField(), help_text="The terms that this policy states itself."
    )
    version = serializers.IntegerField(help_text="Rises with each change; 0 where none was made.")


class RemindersIn(StrictSerializer):
    """What a person wants no more of."""

    stopped = serializers.ListField(
        child=serializers.ChoiceField(choices=sorted(REMINDERS)),
        max_length=len(REMINDERS),
        help_text="Stages of which no reminder is sent to them. Failures cannot be stopped.",
    )


class RemindersOut(serializers.Serializer):
    """What a person wants no more of."""

    stopped = serializers.ListField(
        child=serializers.ChoiceField(choices=sorted(REMINDERS)),
        help_text="Stages of which no reminder is sent to them.",
    )


def policy_row(policy: Policy) -> dict[str, Any]:
    """A policy as the API gives it."""
    return {**policy.terms, "stated": sorted(policy.stated), "version": policy.version}


def _stated(request: Request) -> dict[str, Any]:
    body = NoticePolicyIn(data=request.data)
    body.is_valid(raise_exception=True)
    terms = dict(body.validated_data)
    for name in ("lead_days", "overdue_days", "working_days"):
        if name in terms:
            terms[name] = sorted(set(terms[name]))
    if "contacts" in terms:
        terms["contacts"] = [
            {"person": str(each["person"]), "kinds": sorted(set(each["kinds"]))}
            for each in terms["contacts"]
        ]
    if terms.get("holidays_of"):
        terms["holidays_of"] = dict(terms["holidays_of"])
    return terms


class NoticePolicyView(TenantView):
    """Your policy for all sites in your custody."""

    scope = "notices"

    @extend_schema(operation_id="read_notice_policy", responses=NoticePolicyOut)
    def get(self, request: Request) -> Response:
        """Read the terms in force, those that you have stated and the defaults."""
        return tagged(policy_row(policy_of()))

    @extend_schema(
        operation_id="set_notice_policy", request=NoticePolicyIn, responses=NoticePolicyOut
    )
    def put(self, request: Request) -> Response:
        """State your terms in place of those that stood; the ETag of none is "v0"."""
        return tagged(policy_row(set_policy(terms=_stated(request), expected=self.expected)))


class SiteNoticePolicyView(TenantView):
    """Your policy for one site, where it differs."""

    scope = "notices"
    capabilities = frozenset({Capability.OWNER})

    @extend_schema(operation_id="read_site_notice_policy", responses=NoticePolicyOut)
    def get(self, request: Request, site_id: UUID) -> Response:
        """Read the terms in force at a site."""
        sight_of(site_id, "manage")
        return tagged(policy_row(policy_of(site_id)))

    @extend_schema(
        operation_id="set_site_notice_policy", request=NoticePolicyIn, responses=NoticePolicyOut
    )
    def put(self, request: Request, site_id: UUID) -> Response:
        """State what differs at this site; an empty body takes all of it back."""
        terms, expected = _stated(request), self.expected
        return tagged(policy_row(set_policy(terms=terms, expected=expected, site_id=site_id)))


class PersonRemindersView(TenantView):
    """What one of your people wants no reminders of."""

    scope = "notices"

    @extend_schema(operation_id="read_reminders", responses=RemindersOut)
    def get(self, request: Request, person_id: UUID) -> Response:
        """Read the stages of which this person is not reminded."""
        return Response({"stopped": stopped_stages(person_id)})

    @extend_schema(operation_id="set_reminders", request=RemindersIn, responses=RemindersOut)
    def post(self, request: Request, person_id: UUID) -> Response:
        """Say of which stages this person is not reminded; an empty list: of all again."""
        body = RemindersIn(data=request.data)
        body.is_valid(raise_exception=True)
        stages = body.validated_data["stopped"]
        return Response({"stopped": set_stopped_stages(person_id=person_id, stages=stages)})
