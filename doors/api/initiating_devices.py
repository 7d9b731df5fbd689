"""What sets the doors of a site in motion: `/v1/sites/{id}/initiating-devices`."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.clock import civil_date
from doors.models import Device, DeviceKind, Site
from doors.selectors.devices import initiating_devices, moved_by
from doors.selectors.visible import visible
from doors.tenancy import current


class MovedOut(serializers.Serializer):
    """An opening that hangs on the device."""

    opening = serializers.UUIDField(help_text="Its id.")
    tag = serializers.CharField(help_text="Its tag.")
    location = serializers.CharField(help_text="Where it is.")


class InitiatingDeviceOut(serializers.Serializer):
    """One device and every door that it moves."""

    reference = serializers.CharField(help_text="The alarm side's own mark for it.")
    kind = serializers.ChoiceField(choices=DeviceKind.choices, help_text="What it does.")
    words = serializers.CharField(help_text="What it is, in words.")
    place = serializers.CharField(help_text="Where it is.")
    zone = serializers.CharField(help_text="The alarm panel's name for it.")
    moves = MovedOut(many=True, help_text="Every opening of the site that has it today.")


class InitiatingDevicesView(TenantView):
    """What must be known before a device is tripped: which doors move with it."""

    scope = "openings"
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_initiating_devices", responses=InitiatingDeviceOut(many=True))
    def get(self, request: Request, site_id: UUID) -> Response:
        """List a site's initiating devices by reference, each with the openings that it moves.

        Before one is tripped, every one of these doors is clear and watched.
        """
        site = visible(Site.objects.filter(id=site_id))
        today = civil_date(current().now, site.time_zone)
        answer = self.page(
            initiating_devices(site.id, today), order=("reference", "id"), row=_device
        )
        rows = answer.data["data"]
        moved = moved_by(site.id, today, {row["reference"] for row in rows})
        for row in rows:
            row["moves"] = [asdict(each) for each in moved[row["reference"]]]
        return answer


def _device(device: Device) -> dict[str, Any]:
    names = ("reference", "kind", "words", "place", "zone")
    return {name: getattr(device, name) for name in names}
