"""Kept answers are forgotten after the time that was promised."""

from __future__ import annotations

from django.conf import settings

from doors.models import Replay
from doors.tenancy import Purpose, current, looking_up


def forget_old_replays() -> int:
    """Delete the answers kept longer than settings.IDEMPOTENCY_KEPT_FOR; answers how many."""
    with looking_up(Purpose.SWEEP, write=True):
        oldest = current().now - settings.IDEMPOTENCY_KEPT_FOR
        count, _ = Replay.objects.filter(created_at__lt=oldest).delete()
    return count
