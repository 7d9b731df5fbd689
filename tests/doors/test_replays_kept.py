"""Kept answers last as long as was promised, and no longer."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.conf import settings

from doors.models import Replay
from doors.services.organizations import register_organization
from doors.services.replays import forget_old_replays
from doors.tenancy import acting_for, current


@pytest.mark.parametrize(("over", "forgotten"), [(-60, 0), (60, 1)])
def test_an_answer_is_forgotten_after_its_time(db: None, over: int, forgotten: int) -> None:
    """A minute before it stands, a minute after it is gone."""
    firm = register_organization(name="Brass Lantern Inspections", capabilities=["inspector"])
    with acting_for(firm.id, write=True):
        age = settings.IDEMPOTENCY_KEPT_FOR + timedelta(seconds=over)
        Replay.objects.create(
            organization=firm,
            route="/v1/visits",
            key="k",
            fingerprint="",
            status=201,
            body="{}",
            created_at=current().now - age,
        )
    assert forget_old_replays() == forgotten
