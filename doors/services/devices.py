"""Devices and batteries put into an opening and taken out of it."""

from __future__ import annotations

from datetime import date
from typing import Any, TypeVar
from uuid import UUID

from django.db import transaction

from doors.errors import FutureDateError, RefusedError, WrongStateError
from doors.models import Battery, Device, Opening
from doors.reactions import Event, react
from doors.selectors.openings import facts_row
from doors.selectors.visible import visible
from doors.services.facts import next_facts
from doors.services.ledger import LedgerLine
from doors.services.lives import refuse_removed
from doors.services.newcomers import refuse_other_measure
from doors.services.openings import changed_opening, opening_in_care, today_at
from doors.tenancy import current
from rules.quantities import Dimension

Fitting = TypeVar("Fitting", Device, Battery)


@transaction.atomic
def fit_device(
    *, opening_id: UUID, begins_on: date, replaces: UUID | None = None, **fields: Any
) -> Device:
    """Record a device from the day it was put in; the one it replaces ends on that day."""
    opening, sight = opening_in_care(opening_id)
    _refuse_future(opening, begins_on, "/begins_on")
    _end_replaced(Device, opening, replaces, begins_on)
    device = Device.objects.create(**_hung(opening), begins_on=begins_on, **fields)
    content = {"kind": device.kind, "from": begins_on.isoformat()}
    line = LedgerLine("device_fitted", device.id, opening.site_id, content)
    changed_opening(opening, sight, line)
    return device


@transaction.atomic
def fit_battery(
    *, opening_id: UUID, begins_on: date, replaces: UUID | None = None, **fields: Any
) -> Battery:
    """Record a battery from the day it was put in; the one it replaces ends on that day.

    Its kind and nominal voltage are facts of the opening from that day, by which it is judged.
    """
    opening, sight = opening_in_care(opening_id)
    _refuse_future(opening, begins_on, "/begins_on")
    refuse_other_measure(fields.get("nominal_voltage"), Dimension.VOLTAGE, "/nominal_voltage")
    if fields.get("replace_by") and fields["replace_by"] <= begins_on:
        raise RefusedError.at("/replace_by", "It is to be replaced after it was put in.")
    _end_replaced(Battery, opening, replaces, begins_on)
    battery = Battery.objects.create(**_hung(opening), begins_on=begins_on, **fields)
    _tell_facts(opening, battery)
    content = {"battery_type": battery.battery_type, "from": begins_on.isoformat()}
    line = LedgerLine("battery_fitted", battery.id, opening.site_id, content)
    changed_opening(opening, sight, line)
    return battery


def _tell_facts(opening: Opening, battery: Battery) -> None:
    told = {
        "battery_type": battery.battery_type,
        "battery_nominal_voltage": battery.nominal_voltage,
    }
    told = {name: value for name, value in told.items() if value is not None}
    before = facts_row(opening, battery.begins_on)
    known = before.facts if before else {}
    if any(known.get(name) != value for name, value in told.items()):
        next_facts(opening, told, None, battery.begins_on)
        react(Event.OPENING_CHANGED, opening=opening)


@transaction.atomic
def take_out_device(*, opening_id: UUID, device_id: UUID, ends_on: date) -> Device:
    """Record the day on which a device was taken out."""
    return _take_out(Device, opening_id, device_id, ends_on)


@transaction.atomic
def take_out_battery(*, opening_id: UUID, battery_id: UUID, ends_on: date) -> Battery:
    """Record the day on which a battery was taken out."""
    return _take_out(Battery, opening_id, battery_id, ends_on)


def _take_out(model: type[Fitting], opening_id: UUID, id_: UUID, ends_on: date) -> Fitting:
    opening, sight = opening_in_care(opening_id)
    fitting = visible(model.objects.filter(opening=opening, id=id_))
    if fitting.ends_on is not None:
        raise WrongStateError(f"It was taken out on {fitting.ends_on.isoformat()} already.")
    _refuse_future(opening, ends_on, "/ends_on")
    _end(fitting, ends_on, "/ends_on")
    kind = f"{model.__name__.lower()}_taken_out"
    line = LedgerLine(kind, fitting.id, opening.site_id, {"to": ends_on.isoformat()})
    changed_opening(opening, sight, line)
    return fitting


def _end_replaced(
    model: type[Fitting], opening: Opening, replaced_id: UUID | None, on: date
) -> None:
    if replaced_id is None:
        return
    replaced = model.objects.filter(opening=opening, id=replaced_id, ends_on=None).first()
    if replaced is None:
        raise RefusedError.at("/replaces", "Nothing of this kind with this id is in place.")
    _end(replaced, on, "/begins_on")


def _end(fitting: Device | Battery, on: date, pointer: str) -> None:
    if on < fitting.begins_on:
        since = fitting.begins_on.isoformat()
        raise RefusedError.at(pointer, f"It was put in on {since}, and not taken out before.")
    fitting.ends_on = on
    fitting.save(update_fields=["ends_on"])


def _refuse_future(opening: Opening, day: date, pointer: str) -> None:
    refuse_removed(opening)
    if day > today_at(opening.site):
        raise FutureDateError.at(pointer, "This is recorded when it has been done.")


def _hung(opening: Opening) -> dict[str, Any]:
    return {"site_id": opening.site_id, "opening": opening, "recorded_at": current().now}
