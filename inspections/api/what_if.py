"""What would change for an opening: `/v1/openings/{id}/what-if`."""

from __future__ import annotations

from uuid import UUID

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

import rules
from doors.api.base import TenantView
from doors.api.problems import At, ProblemError
from doors.api.queries import date_parameter, uuid_parameter
from doors.selectors.openings import opening_by_id
from inspections.api.requirements import ON
from inspections.models import Activity
from inspections.selectors.what_if import what_if

EDITION = OpenApiParameter(
    "edition", str, description="Id of an edition, supposed to govern this door, new or existing."
)
OVERRIDE = OpenApiParameter(
    "override",
    OpenApiTypes.UUID,
    description="An override, published or your own draft, supposed to hold.",
)


class WordsOut(serializers.Serializer):
    """One word now and the word it would be."""

    before = serializers.CharField(allow_null=True, help_text="As it stands; null where none does.")
    after = serializers.CharField(allow_null=True, help_text="As it would be; null for none.")


class DifferingOut(WordsOut):
    """A verdict that would be another."""

    name = serializers.CharField(help_text="Of the requirement, the same in every edition.")
    says = WordsOut(help_text="Why each verdict is what it is, in words.")


class RejudgedVisitOut(serializers.Serializer):
    """A visit judged again for this answer alone: what is stored of it stays."""

    visit = serializers.UUIDField(help_text="Its id.")
    activity = serializers.ChoiceField(choices=Activity.choices)
    performed_on = serializers.DateField(help_text="The day at the site.")
    summary = WordsOut(help_text="The verdict over all binding requirements.")
    differ = DifferingOut(many=True, help_text="Each verdict that would be another.")


class WindowOut(serializers.Serializer):
    """A window of a duty."""

    requirement = serializers.CharField()
    opens_on = serializers.DateField()
    due_on = serializers.DateField()
    closes_on = serializers.DateField(help_text="The last day; overdue from the day after.")
    state = serializers.CharField(help_text="On the day of the answer.")


class MovedDutyOut(serializers.Serializer):
    """A duty whose window would be another."""

    name = serializers.CharField(help_text="Of the requirement, the same in every edition.")
    activity = serializers.CharField()
    before = WindowOut(allow_null=True, help_text="As it stands; null where nothing is owed.")
    after = WindowOut(allow_null=True, help_text="As it would be; null where nothing would be.")


class WhatIfOut(serializers.Serializer):
    """What would change, and nothing that has changed."""

    opening = serializers.UUIDField()
    on = serializers.DateField(help_text="The day it is supposed to hold.")
    since = serializers.DateField(help_text="The day whose rules it is held against.")
    edition = serializers.CharField(allow_null=True, help_text="As asked for.")
    override = serializers.UUIDField(allow_null=True, help_text="As asked for.")
    requirements = serializers.DictField(
        help_text=(
            "Requirements `added`, `withdrawn`, `tightened`, `relaxed`, `changed` and `restated`, "
            "each with what it says and where that is written; how many are `unchanged`; and what "
            "of either side was not read."
        )
    )
    visits = RejudgedVisitOut(many=True, help_text="The last standing visit of each activity.")
    duties = MovedDutyOut(many=True, help_text="Each duty whose window would be another.")


class WhatIfView(TenantView):
    """The rules supposed to be others."""

    scope = "openings"
    parameters = {"get": (ON, EDITION, OVERRIDE)}

    @extend_schema(operation_id="suppose_rules", responses=WhatIfOut)
    def get(self, request: Request, opening_id: UUID) -> Response:
        """Read what an edition or an override would change for an opening; nothing is stored.

        With neither, the rules of the day are held against those of the day of the last visit.
        Stored verdicts stay as they were given, whatever is published later.
        """
        edition = request.query_params.get("edition")
        if edition is not None and edition not in rules.load().publications:
            known = "No edition has this id; a requirement's own id begins with its edition's."
            wrong = At("unknown_value", known, parameter="edition")
            raise ProblemError.in_fields("invalid_parameter", [wrong])
        opening = opening_by_id(opening_id)
        found = what_if(
            opening,
            on=date_parameter(request, "on"),
            edition=edition,
            override_id=uuid_parameter(request, "override"),
        )
        return Response({"opening": opening.id, **found})
