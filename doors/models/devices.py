"""Devices and batteries of an opening, each from the day it was put in to its last."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from doors.models.homes import SiteRow
from doors.walls import Wall, in_sight

_WALL = Wall(
    read=in_sight(),
    write=in_sight("manage"),
    changeable=("ends_on",),
    homes=(("opening_id", "doors_opening"),),
)
_FORWARD = Q(ends_on__isnull=True) | Q(ends_on__gte=F("begins_on"))


class DeviceKind(models.TextChoices):
    """What a device does for the door."""

    HOLD_OPEN = "hold_open"
    RELEASE = "release"
    SMOKE_DETECTOR = "smoke_detector"
    HEAT_DETECTOR = "heat_detector"
    FUSIBLE_LINK = "fusible_link"
    PULL_STATION = "pull_station"
    FLOW_SWITCH = "flow_switch"
    OPERATOR = "operator"
    CONTROL_UNIT = "control_unit"
    OPERATING_DEVICE = "operating_device"
    SENSOR_EDGE = "sensor_edge"
    CLOSER = "closer"
    LOCK = "lock"
    KEY_SWITCH = "key_switch"
    CIRCUIT = "circuit"
    SIGN = "sign"
    OTHER = "other"


INITIATING = (
    DeviceKind.SMOKE_DETECTOR,
    DeviceKind.HEAT_DETECTOR,
    DeviceKind.FUSIBLE_LINK,
    DeviceKind.PULL_STATION,
    DeviceKind.FLOW_SWITCH,
    DeviceKind.CONTROL_UNIT,
)


class Device(SiteRow):
    """One device: `zone` is the alarm panel's name for what supervises or triggers it. One device
    that moves several doors stands at each of them, under one `reference` within the site.
    """

    WALL = _WALL

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="devices")
    kind = models.CharField(max_length=24, choices=DeviceKind)
    words = models.CharField(max_length=300, blank=True)
    place = models.CharField(max_length=200, blank=True)
    reference = models.CharField(max_length=100, blank=True)
    zone = models.CharField(max_length=100, blank=True)
    serial_number = models.CharField(max_length=100, blank=True)
    begins_on = models.DateField()
    ends_on = models.DateField(null=True)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [models.CheckConstraint(condition=_FORWARD, name="device_runs_forward")]
        indexes = [
            models.Index(fields=["opening", "-begins_on"], name="device_by_opening"),
            models.Index(fields=["site", "reference", "id"], name="device_by_reference"),
        ]


class Battery(SiteRow):
    """One battery; measures are `{"value", "unit"}` as sent. `replace_by` is what its maker or
    its owner set, and judges nothing.
    """

    WALL = _WALL

    opening = models.ForeignKey("doors.Opening", on_delete=models.PROTECT, related_name="batteries")
    battery_type = models.CharField(max_length=24)
    nominal_voltage = models.JSONField(null=True)
    quantity = models.PositiveSmallIntegerField(default=1)
    serial_number = models.CharField(max_length=100, blank=True)
    begins_on = models.DateField()
    replace_by = models.DateField(null=True)
    ends_on = models.DateField(null=True)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [models.CheckConstraint(condition=_FORWARD, name="battery_runs_forward")]
        indexes = [models.Index(fields=["opening", "-begins_on"], name="battery_by_opening")]
