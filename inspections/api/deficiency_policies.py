"""The policy of urgency and deadlines of your organization: `/v1/deficiency-policy`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from doors.api.etags import tagged
from doors.api.fields import StrictSerializer, TextField
from doors.models import DOOR_TYPES, Capability
from inspections.api.deficiency_shapes import PROTECTS
from inspections.selectors.deadlines import policy_document
from inspections.services.deficiency_policies import set_deficiency_policy


class UrgencyIn(StrictSerializer):
    """A class of deficiencies, in your own words."""

    name = TextField(max_length=60)
    words = TextField(max_length=500, required=False)
    within = TextField(
        max_length=20,
        required=False,
        help_text="By when it is put right, by ISO 8601, as P14D; absent where you set no time.",
    )


class UrgencyRuleIn(StrictSerializer):
    """Which deficiencies are of a class: all that is named must be so; the first rule decides."""

    protects = serializers.ChoiceField(choices=PROTECTS, required=False)
    subject = TextField(max_length=120, required=False, help_text="As `sequence:egress`.")
    door_type = serializers.ChoiceField(choices=DOOR_TYPES, required=False)
    locals()["class"] = TextField(max_length=60, help_text="The name of one of the classes.")


class DeficiencyPolicyIn(StrictSerializer):
    """What you hold of what is wrong: how urgent, and by when it is put right."""

    classes = serializers.ListField(child=UrgencyIn(), max_length=20)
    rules = serializers.ListField(child=UrgencyRuleIn(), max_length=200)
    warn_before = TextField(
        max_length=20,
        required=False,
        help_text="How long before an interim measure runs out you are told; absent, PT24H.",
    )


class UrgencyOut(serializers.Serializer):
    """A class of deficiencies."""

    name = serializers.CharField()
    words = serializers.CharField(required=False)
    within = serializers.CharField(required=False)


class UrgencyRuleOut(serializers.Serializer):
    """Which deficiencies are of a class."""

    protects = serializers.CharField(required=False)
    subject = serializers.CharField(required=False)
    door_type = serializers.CharField(required=False)
    locals()["class"] = serializers.CharField()


class DeficiencyPolicyOut(serializers.Serializer):
    """What you hold of what is wrong; version 0 and empty where you have said nothing."""

    version = serializers.IntegerField()
    classes = UrgencyOut(many=True)
    rules = UrgencyRuleOut(many=True)
    warn_before = serializers.CharField(required=False)


class DeficiencyPolicyView(TenantView):
    """Your organization's own policy; it speaks of the sites in your custody."""

    scope = "deficiencies"
    capabilities = frozenset({Capability.OWNER})

    @extend_schema(operation_id="read_deficiency_policy", responses=DeficiencyPolicyOut)
    def get(self, request: Request) -> Response:
        """Read the policy, with the version to change it by."""
        return tagged(_row(*policy_document()))

    @extend_schema(
        operation_id="set_deficiency_policy",
        request=DeficiencyPolicyIn,
        responses=DeficiencyPolicyOut,
    )
    def put(self, request: Request) -> Response:
        """Replace the policy; what stands open already keeps its class and its day."""
        body = DeficiencyPolicyIn(data=request.data)
        body.is_valid(raise_exception=True)
        version, document = set_deficiency_policy(
            document=_plain(body.validated_data), expected=self.expected
        )
        return tagged(_row(version, document))


def _plain(given: Mapping[str, Any]) -> dict[str, Any]:
    lists = {name: [dict(each) for each in given[name]] for name in ("classes", "rules")}
    return dict(given) | lists


def _row(version: int, document: Mapping[str, Any]) -> dict[str, Any]:
    return {"version": version, "classes": [], "rules": [], **document}
