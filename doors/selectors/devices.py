"""Devices in place on a day, and the doors that one of them moves."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet

from doors.models import INITIATING, Battery, Device, Opening


@dataclass(frozen=True, slots=True)
class Moved:
    """An opening that a device moves."""

    opening: UUID
    tag: str
    location: str


def devices_on(opening: Opening, on: date) -> QuerySet[Device]:
    """What is built into an opening on a day."""
    return _in_place(Device.objects.filter(opening=opening), on).order_by("kind", "begins_on", "id")


def batteries_on(opening: Opening, on: date) -> QuerySet[Battery]:
    """The batteries of an opening on a day."""
    rows = Battery.objects.filter(Q(ends_on=None) | Q(ends_on__gt=on), begins_on__lte=on)
    return rows.filter(opening=opening).order_by("begins_on", "id")


def initiating_devices(site_id: UUID, on: date) -> QuerySet[Device]:
    """The devices with a reference that set doors of a site in motion, each reference once."""
    rows = _referred(site_id, on)
    earlier = rows.filter(reference=OuterRef("reference"), id__lt=OuterRef("id"))
    return rows.filter(~Exists(earlier))


def moved_by(site_id: UUID, on: date, references: set[str]) -> dict[str, list[Moved]]:
    """By reference, the openings of a site that hang on that device, in the order of their tags."""
    rows = _referred(site_id, on).filter(reference__in=references)
    found: dict[str, list[Moved]] = defaultdict(list)
    told = rows.values_list("reference", "opening_id", "opening__tag", "opening__location")
    for reference, id_, tag, location in told.distinct().order_by("opening__tag", "opening_id"):
        found[reference].append(Moved(id_, tag, location))
    return found


def _referred(site_id: UUID, on: date) -> QuerySet[Device]:
    rows = Device.objects.filter(site_id=site_id, kind__in=INITIATING).exclude(reference="")
    return _in_place(rows, on)


def _in_place(rows: QuerySet[Device], on: date) -> QuerySet[Device]:
    return rows.filter(Q(ends_on=None) | Q(ends_on__gt=on), begins_on__lte=on)
