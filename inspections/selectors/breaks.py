"""Where a series of readings breaks: what was another instrument, or another door, before.

Only what changes the number that is read breaks it. More people in the building change a limit
and no force; a fact told for the first time was so before; a repair of a sign moves no leaf.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from doors.clock import civil_date, start_of_day
from doors.models import Battery, Device, DeviceKind, Opening, OpeningFacts
from inspections.models import Repair

_OF_BATTERY = frozenset({"battery_type", "battery_nominal_voltage"})
_OF_DOOR = frozenset(
    {
        *("operation", "altered_on", "closer", "spring_hinge", "pair", "hold_open"),
        *("leaf_material", "release_control", "opening_width", "opening_height", "leaf_weight"),
    }
)
_MOVING = (
    DeviceKind.OPERATOR,
    DeviceKind.CONTROL_UNIT,
    DeviceKind.OPERATING_DEVICE,
    DeviceKind.SENSOR_EDGE,
    DeviceKind.CLOSER,
    DeviceKind.HOLD_OPEN,
    DeviceKind.RELEASE,
)
_ON_STANDBY = frozenset({"standby_cycles", "standby_time", "alarm_time"})
_MOVED = ("quantity:", "sequence:")  # subjects of deficiencies whose repair changes how it moves
_SPACES = str.maketrans("_", " ")


@dataclass(frozen=True, slots=True)
class Break:
    """From when on readings are not comparable with those before, and why."""

    at: datetime
    on: date
    why: str
    words: str


@dataclass(frozen=True, slots=True)
class Change:
    """Something that changed at a door; `quantity` where it concerns that one alone, `battery`
    where it concerns what is measured of the battery, None where it concerns every quantity but
    those.
    """

    found: Break
    battery: bool | None = None
    quantity: str = ""

    def concerns(self, quantity: str) -> bool:
        """Whether it breaks the series of that quantity."""
        if self.quantity:
            return self.quantity == quantity
        return bool(self.battery) == is_of_battery(quantity)


def is_of_battery(quantity: str) -> bool:
    """Whether a quantity is measured of the battery, not of the moving leaf."""
    return quantity.startswith("battery_") or quantity in _ON_STANDBY


def changes_at(opening: Opening) -> list[Change]:
    """What changed at an opening whose site is at hand, oldest first, in four queries."""
    zone = opening.site.time_zone
    rows = OpeningFacts.objects.filter(opening=opening).order_by("begins_on", "recorded_at")
    batteries = Battery.objects.filter(opening=opening)
    devices = Device.objects.filter(opening=opening, kind__in=_MOVING)
    repairs = Repair.objects.filter(deficiency__opening=opening).select_related("deficiency")
    found = [
        *_of_facts(rows, zone),
        *(_of_battery(battery, zone) for battery in batteries),
        *(_of_device(device, zone) for device in devices),
        *(change for repair in repairs for change in _of_repair(repair, zone)),
    ]
    return sorted(found, key=lambda change: change.found.at)


def _of_facts(rows: Iterable[OpeningFacts], zone: str) -> Iterator[Change]:
    before: OpeningFacts | None = None
    for row in rows:
        if before is not None:
            begins = start_of_day(row.begins_on, zone), row.begins_on
            listed = before.listed_instructions
            if listed and listed != row.listed_instructions:
                words = "the door's listed instructions changed"
                for battery in (False, True):
                    yield Change(Break(*begins, "instructions", words), battery)
            for names, battery in ((_OF_DOOR, False), (_OF_BATTERY, True)):
                changed = sorted(n for n in names if _differs(before.facts, row.facts, n))
                if changed:
                    named = ", ".join(changed).translate(_SPACES)
                    words = f"the door changed: {named}"
                    yield Change(Break(*begins, "facts", words), battery)
        before = row


def _differs(before: Mapping[str, Any], after: Mapping[str, Any], name: str) -> bool:
    return name in before and name in after and before[name] != after[name]


def _of_battery(battery: Battery, zone: str) -> Change:
    at, words = start_of_day(battery.begins_on, zone), "another battery was put in"
    return Change(Break(at, battery.begins_on, "battery", words), battery=True)


def _of_device(device: Device, zone: str) -> Change:
    kind = DeviceKind(device.kind).value.translate(_SPACES)
    at, words = start_of_day(device.begins_on, zone), f"{kind} put in"
    return Change(Break(at, device.begins_on, "device", words))


def _of_repair(repair: Repair, zone: str) -> Iterator[Change]:
    sort, _, name = repair.deficiency.subject.partition(":")
    on, words = civil_date(repair.done_at, zone), f"repaired: {repair.deficiency.title}"
    found = Break(repair.done_at, on, "repair", words)
    if sort == "quantity" and is_of_battery(name):
        yield Change(found, quantity=name)
    elif repair.deficiency.subject.startswith(_MOVED) or repair.parts:
        yield Change(found)
