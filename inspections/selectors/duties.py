"""Duties as they stand on a day."""

from __future__ import annotations

from datetime import date

from django.db.models import QuerySet

from inspections.models import Duty

STATES = ("upcoming", "open", "due", "overdue", "suspended", "ended")


def duty_state(duty: Duty, today: date) -> str:
    """upcoming, open, due, overdue, suspended or ended, on a civil day at the site."""
    if duty.standing != Duty.Standing.RUNNING:
        return str(duty.standing)
    if today > duty.closes_on:
        return "overdue"
    if today >= duty.due_on:
        return "due"
    return "open" if today >= duty.opens_on else "upcoming"


def running_duties() -> QuerySet[Duty]:
    """The running duties of every site in sight, with what a reader needs to find the door."""
    return Duty.objects.filter(standing=Duty.Standing.RUNNING).select_related("opening__site")
