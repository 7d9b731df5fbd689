"""Each night the duties stored are held against those computed: what differs is told only."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from rest_framework.test import APIClient

from doors.tenancy import acting_for
from inspections.models import Duty, DutyDifference, DutyProof
from inspections.services.notices import deliver_waiting_notices
from inspections.services.owings import expand_waiting_owings
from inspections.services.proofs import prove_all_now, prove_duties
from tests.cast import Cast, conforming, visit


def spoil(cast: Cast) -> Duty:
    """Move one duty without anything that moves it."""
    with acting_for(cast.owner.id, write=True):
        duty = Duty.objects.filter(standing="running").order_by("id")[0]
        Duty.objects.filter(id=duty.id).update(due_on=duty.due_on + timedelta(days=30))
    return duty


def test_what_is_stored_is_what_is_computed(cast: Cast) -> None:
    """Before and after a visit, for every opening of every site; the next proof is a night off."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, conforming(cast.opening, "periodic_inspection"))
    rows = list(prove_all_now())
    assert [(openings, differences) for _, openings, differences in rows] == [(1, 0), (1, 0)]
    assert prove_duties() == 0
    with acting_for(cast.owner.id, write=False):
        assert not DutyDifference.objects.exists()


def test_a_difference_is_kept_told_and_not_mended(cast: Cast) -> None:
    """Both dates stand; the owner's people get one mail of that day; the duty stays as it was."""
    duty = spoil(cast)
    list(prove_all_now())
    list(prove_all_now())
    expand_waiting_owings()
    deliver_waiting_notices()
    with acting_for(cast.owner.id, write=False):
        found = list(DutyDifference.objects.filter(requirement=duty.requirement))
        kept = Duty.objects.get(id=duty.id)
        assert len(found) == 2
        assert found[0].computed is not None
        assert found[0].stored is not None
        assert found[0].computed["due_on"] == duty.due_on.isoformat()
        assert found[0].stored["due_on"] == kept.due_on.isoformat()
        assert kept.due_on == duty.due_on + timedelta(days=30)
    with acting_for(cast.neighbour.id, write=False):
        assert not DutyDifference.objects.exists()
    (sent,) = mail.outbox
    assert sent.subject.endswith("house: due dates must be checked")
    assert "A-1" in sent.body


def test_a_duty_that_is_missing_or_too_many_differs_too(cast: Cast) -> None:
    """Not only what stands in the wrong place."""
    with acting_for(cast.owner.id, write=True):
        first, *_ = Duty.objects.filter(standing="running").order_by("id")
        Duty.objects.filter(id=first.id).update(standing="ended")
        extra = Duty.objects.get(id=first.id)
        extra.pk, extra.requirement, extra.standing = None, "nobody/asks", "running"
        extra.save(force_insert=True)
    list(prove_all_now())
    with acting_for(cast.owner.id, write=False):
        found = {d.requirement: (d.stored, d.computed) for d in DutyDifference.objects.all()}
        assert found["nobody/asks"][1] is None
        assert first.requirement in found
        assert DutyProof.objects.get(site=cast.site).differences == len(found) == 2


def test_operators_see_it(cast: Cast) -> None:
    """A command that fails, and a number that must be none."""
    said = StringIO()
    call_command("prove_duties", stdout=said)
    assert "2 sites proven, 0 duties differ" in said.getvalue()
    assert "duties_that_differ 0.0" in APIClient().get("/metrics").content.decode()
    spoil(cast)
    with pytest.raises(CommandError):
        call_command("prove_duties", stdout=said)
    assert f"{cast.site.id}: 1 of the duties of 1 openings" in said.getvalue()
    assert "duties_that_differ 1.0" in APIClient().get("/metrics").content.decode()
