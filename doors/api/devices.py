"""Devices and batteries: `/v1/openings/{id}/devices`, `/v1/openings/{id}/batteries`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.amounts import AmountIn, AmountOut
from doors.api.base import TenantView
from doors.api.fields import CivilDateField, IdField, StrictSerializer, TextField
from doors.api.lives import EndIn
from doors.api.scalars import WholeField
from doors.models import KEEPERS, Battery, Device, DeviceKind
from doors.selectors.openings import opening_by_id
from doors.services.devices import fit_battery, fit_device, take_out_battery, take_out_device
from rules.facts import FACTS

BATTERY_TYPES = [word for word in FACTS["battery_type"].words if word != "none"]
_MOST_CELLS = 1_000


class FittingIn(StrictSerializer):
    """What was put into an opening."""

    serial_number = TextField(max_length=100, required=False, help_text="The maker's number.")
    begins_on = CivilDateField(help_text="The day it was put in, at the site.")
    replaces = IdField(required=False, help_text="What it was put in for, which ends that day.")


class DeviceIn(FittingIn):
    """A device that was put in."""

    kind = serializers.ChoiceField(choices=DeviceKind.choices, help_text="What it does.")
    words = TextField(max_length=300, required=False, help_text="What it is, in words.")
    place = TextField(max_length=200, required=False, help_text="Where it is.")
    reference = TextField(
        max_length=100,
        required=False,
        help_text="The alarm side's own mark for it; the same at every opening that it moves.",
    )
    zone = TextField(max_length=100, required=False, help_text="The alarm panel's name for it.")


class BatteryIn(FittingIn):
    """A battery that was put in; its kind and voltage become facts of the opening that day."""

    battery_type = serializers.ChoiceField(choices=BATTERY_TYPES, help_text="How it is built.")
    nominal_voltage = AmountIn(required=False, help_text="Of the whole, in V.")
    quantity = WholeField(
        min_value=1, max_value=_MOST_CELLS, required=False, help_text="How many units; 1 if absent."
    )
    replace_by = CivilDateField(required=False, help_text="The day by which it is to be replaced.")


class FittingOut(serializers.Serializer):
    """What was put into an opening."""

    id = serializers.UUIDField(help_text="Of this one.")
    serial_number = serializers.CharField(help_text="The maker's number.")
    begins_on = serializers.DateField(help_text="The day it was put in, at the site.")
    ends_on = serializers.DateField(allow_null=True, help_text="The day it was taken out.")
    recorded_at = serializers.DateTimeField(help_text="When that was said.")


class DeviceOut(FittingOut):
    """A device of an opening."""

    kind = serializers.ChoiceField(choices=DeviceKind.choices, help_text="What it does.")
    words = serializers.CharField(help_text="What it is, in words.")
    place = serializers.CharField(help_text="Where it is.")
    reference = serializers.CharField(help_text="The alarm side's own mark for it; may be empty.")
    zone = serializers.CharField(help_text="The alarm panel's name for it.")


class BatteryOut(FittingOut):
    """A battery of an opening."""

    battery_type = serializers.ChoiceField(choices=BATTERY_TYPES, help_text="How it is built.")
    nominal_voltage = AmountOut(allow_null=True, help_text="Of the whole, in V.")
    quantity = serializers.IntegerField(help_text="How many units.")
    replace_by = serializers.DateField(
        allow_null=True, help_text="The day by which it is to be replaced."
    )


_FITTING = ("id", "serial_number", "begins_on", "ends_on", "recorded_at")


def device_row(device: Device) -> dict[str, Any]:
    """A device as the API gives it."""
    return {
        n: getattr(device, n) for n in (*_FITTING, "kind", "words", "place", "reference", "zone")
    }


def battery_row(battery: Battery) -> dict[str, Any]:
    """A battery as the API gives it."""
    own = ("battery_type", "nominal_voltage", "quantity", "replace_by")
    return {name: getattr(battery, name) for name in (*_FITTING, *own)}


class DevicesView(TenantView):
    """The devices of one opening."""

    scope = "openings"
    capabilities = KEEPERS
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_devices", responses=DeviceOut(many=True))
    def get(self, request: Request, opening_id: UUID) -> Response:
        """List an opening's devices, those put in last first, with those taken out."""
        rows = Device.objects.filter(opening=opening_by_id(opening_id))
        return self.page(rows, order=("-begins_on", "id"), row=device_row)

    @extend_schema(operation_id="fit_device", request=DeviceIn, responses={201: DeviceOut})
    def post(self, request: Request, opening_id: UUID) -> Response:
        """Record a device that was put in."""
        body = DeviceIn(data=request.data)
        body.is_valid(raise_exception=True)
        device = fit_device(opening_id=opening_id, **body.validated_data)
        return Response(device_row(device), status=201)


class DeviceEndView(TenantView):
    """The end of a device."""

    scope = "openings"
    capabilities = KEEPERS

    @extend_schema(operation_id="take_out_device", request=EndIn, responses=DeviceOut)
    def post(self, request: Request, opening_id: UUID, device_id: UUID) -> Response:
        """Record the day on which a device was taken out."""
        body = EndIn(data=request.data)
        body.is_valid(raise_exception=True)
        found = take_out_device(opening_id=opening_id, device_id=device_id, **body.validated_data)
        return Response(device_row(found))


class BatteriesView(TenantView):
    """The batteries of one opening."""

    scope = "openings"
    capabilities = KEEPERS
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_batteries", responses=BatteryOut(many=True))
    def get(self, request: Request, opening_id: UUID) -> Response:
        """List an opening's batteries, those put in last first, with those taken out."""
        rows = Battery.objects.filter(opening=opening_by_id(opening_id))
        return self.page(rows, order=("-begins_on", "id"), row=battery_row)

    @extend_schema(operation_id="fit_battery", request=BatteryIn, responses={201: BatteryOut})
    def post(self, request: Request, opening_id: UUID) -> Response:
        """Record a battery that was put in, and its kind and voltage as facts from that day."""
        body = BatteryIn(data=request.data)
        body.is_valid(raise_exception=True)
        battery = fit_battery(opening_id=opening_id, **body.validated_data)
        return Response(battery_row(battery), status=201)


class BatteryEndView(TenantView):
    """The end of a battery."""

    scope = "openings"
    capabilities = KEEPERS

    @extend_schema(operation_id="take_out_battery", request=EndIn, responses=BatteryOut)
    def post(self, request: Request, opening_id: UUID, battery_id: UUID) -> Response:
        """Record the day on which a battery was taken out."""
        body = EndIn(data=request.data)
        body.is_valid(raise_exception=True)
        found = take_out_battery(
            opening_id=opening_id, battery_id=battery_id, **body.validated_data
        )
        return Response(battery_row(found))
