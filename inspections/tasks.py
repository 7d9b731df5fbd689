"""The scans that a worker runs each minute. Each is safe to run twice, and holds no truth."""

from __future__ import annotations

from celery import shared_task

from doors.services.exports import forget_old_exports
from doors.services.jobs import run_waiting_jobs
from doors.services.replays import forget_old_replays
from inspections.services.deliveries import deliver_waiting_webhooks
from inspections.services.interim_measures import alarm_of_measures
from inspections.services.ladders import climb_ladders
from inspections.services.notices import deliver_waiting_notices
from inspections.services.owings import expand_waiting_owings
from inspections.services.proofs import prove_duties
from inspections.services.reminders import remind_of_duties
from inspections.services.secrets import seal_anew


@shared_task
def run_jobs() -> int:
    """Do waiting long work."""
    return run_waiting_jobs()


@shared_task
def forget_replays() -> int:
    """Delete answers kept longer than promised."""
    return forget_old_replays()


@shared_task
def forget_exports() -> int:
    """Delete the files of exports kept longer than promised."""
    return forget_old_exports()


@shared_task
def remind() -> int:
    """Say what is to be said of duties today."""
    return remind_of_duties()


@shared_task
def climb() -> int:
    """Tell the next contact of what nobody has seen."""
    return climb_ladders()


@shared_task
def prove() -> int:
    """Hold the duties that are stored against those that are computed."""
    return prove_duties()


@shared_task
def expand_owings() -> int:
    """Turn what is owed into notices."""
    return expand_waiting_owings()


@shared_task
def deliver_webhooks() -> int:
    """Send what machines are told."""
    return deliver_waiting_webhooks()


@shared_task
def seal_secrets_anew() -> int:
    """Seal under the present key what an earlier one sealed."""
    return seal_anew()


@shared_task
def deliver_notices() -> int:
    """Deliver waiting notices."""
    return deliver_waiting_notices()


@shared_task
def alarm_measures() -> int:
    """Owe the notices of interim measures that run out."""
    return alarm_of_measures()
