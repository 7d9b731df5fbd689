"""People of your organization: `/v1/people`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.etags import tagged
from doors.api.fields import EmailField, LanguageField, StrictSerializer, TextField
from doors.api.lookalikes import WarningOut, warnings_of
from doors.api.patches import Patch, read_patch
from doors.api.scalars import FlagField
from doors.models import Person
from doors.selectors.lookalikes import people_like
from doors.selectors.visible import visible
from doors.services.people import add_person, change_person, end_person

_NAME = "As it is to stand in records."
_EMAIL = "Where notices go; seen by your organization alone."
_TELEPHONE = "As it is dialled; seen by your organization alone."
_POSITION = "What they do in your organization."
_LANGUAGE = "Language of their mails, as en or fr-CA."
_NOTICES = "Whether failures and dues are mailed to them."


class NewPersonIn(StrictSerializer):
    """A person of your organization."""

    name = TextField(help_text=_NAME)
    email = EmailField(required=False, allow_blank=True, help_text=_EMAIL)
    telephone = TextField(max_length=40, required=False, allow_blank=True, help_text=_TELEPHONE)
    position = TextField(required=False, allow_blank=True, help_text=_POSITION)
    language = LanguageField(required=False, help_text=f"{_LANGUAGE} en where absent.")
    receives_notices = FlagField(required=False, help_text=f"{_NOTICES} No where absent.")


class PersonPatch(Patch):
    """What may change about a person."""

    name = TextField(help_text=_NAME)
    email = EmailField(allow_blank=True, help_text=_EMAIL)
    telephone = TextField(max_length=40, allow_blank=True, help_text=_TELEPHONE)
    position = TextField(allow_blank=True, help_text=_POSITION)
    language = LanguageField(help_text=_LANGUAGE)
    receives_notices = FlagField(help_text=_NOTICES)


class PersonOut(serializers.Serializer):
    """A person of your organization."""

    id = serializers.UUIDField(help_text="Their id.")
    name = serializers.CharField(help_text=_NAME)
    email = serializers.CharField(help_text=_EMAIL)
    telephone = serializers.CharField(help_text=_TELEPHONE)
    position = serializers.CharField(help_text=_POSITION)
    language = serializers.CharField(help_text=_LANGUAGE)
    receives_notices = serializers.BooleanField(help_text=_NOTICES)
    ended_at = serializers.DateTimeField(
        allow_null=True, help_text="When they left, UTC; null = they are there."
    )
    version = serializers.IntegerField(help_text="Rises with each change; its ETag is made of it.")


class PersonNamedOut(PersonOut):
    """A person just added or changed."""

    warnings = WarningOut(
        many=True, help_text="People of yours whose names look like a name just given."
    )


def person_row(person: Person) -> dict[str, Any]:
    """A person as the API gives them."""
    return {
        "id": person.id,
        "name": person.name,
        "email": person.email,
        "telephone": person.telephone,
        "position": person.position,
        "language": person.language,
        "receives_notices": person.receives_notices,
        "ended_at": person.ended_at,
        "version": person.version,
    }


class PeopleView(TenantView):
    """The people of your organization; nobody else sees them."""

    scope = "people"
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_people", responses=PersonOut(many=True))
    def get(self, request: Request) -> Response:
        """List people, also those who have left, by name."""
        return self.page(Person.objects.all(), order=("name", "id"), row=person_row)

    @extend_schema(operation_id="add_person", request=NewPersonIn, responses={201: PersonNamedOut})
    def post(self, request: Request) -> Response:
        """Add a person.

        A name that looks like one of your people's is taken all the same, and told of in
        `warnings`.
        """
        body = NewPersonIn(data=request.data)
        body.is_valid(raise_exception=True)
        person = add_person(**body.validated_data)
        told = {**person_row(person), "warnings": warnings_of(people_like(person))}
        return tagged(told, status=201, Location=f"/v1/people/{person.id}")


class PersonView(TenantView):
    """One person of your organization."""

    scope = "people"

    @extend_schema(operation_id="read_person", responses=PersonOut)
    def get(self, request: Request, person_id: UUID) -> Response:
        """Read one person."""
        person = visible(Person.objects.filter(id=person_id))
        return tagged(person_row(person))

    @extend_schema(operation_id="change_person", request=PersonPatch, responses=PersonNamedOut)
    def patch(self, request: Request, person_id: UUID) -> Response:
        """Change what is known of a person.

        A new name that looks like one of your people's is taken all the same, and told of in
        `warnings`.
        """
        changed = read_patch(PersonPatch, request)
        person = change_person(person_id=person_id, expected=self.expected, **changed)
        alike = people_like(person) if "name" in changed else []
        return tagged({**person_row(person), "warnings": warnings_of(alike)})


class PersonEndView(TenantView):
    """The leaving of a person."""

    scope = "people"

    @extend_schema(operation_id="end_person", request=None, responses=PersonOut)
    def post(self, request: Request, person_id: UUID) -> Response:
        """Say that a person has left.

        They get no more notices and their membership ends; what they did keeps their name.
        """
        return tagged(person_row(end_person(person_id=person_id, reach=self.key.scopes)))
