"""The early notice: owed once, again when it changes by much, ended when a visit shows it wrong."""

from __future__ import annotations

import json
from typing import Any

import pytest

from doors.services.devices import fit_device
from doors.tenancy import acting_for
from inspections.models import EventType, Forecast, Notice, Owing, Stage, WebhookDelivery
from inspections.services.notices import deliver_waiting_notices
from inspections.services.owings import expand_waiting_owings
from inspections.services.webhooks import make_webhook
from tests.cast import Cast, findings, visit
from tests.inspections.test_trends import FORCE, ago, inspected, read

pytestmark = pytest.mark.django_db


def rising(cast: Cast) -> None:
    """22 to 28 lbf over a year and a half, and an inspection just now: past 30 within a year."""
    with acting_for(cast.firm.id, write=True):
        read(cast, ["22", "23", "24", "25", "26", "27", "28"], last=1)
        inspected(cast, "29")


def owed(cast: Cast) -> list[Owing]:
    """What is owed of forecasts."""
    while expand_waiting_owings():
        pass
    with acting_for(cast.owner.id, write=False):
        return list(Owing.objects.filter(stage=Stage.EXPECTED_TO_FAIL).order_by("thing_version"))


def forecast(cast: Cast) -> Forecast:
    """The one there is."""
    with acting_for(cast.owner.id, write=False):
        return Forecast.objects.get()


def test_it_is_owed_once(cast: Cast, mailoutbox: list[Any]) -> None:
    """However many visits say the same; the mail says where the values are heading, and no more."""
    rising(cast)
    (one,) = owed(cast)
    assert one.words["title"] == "Force that sets the leaf in motion"
    assert "at most 30 lbf" in one.words["says"]
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings((FORCE, "29", "lbf")), activity="operation_test")
    assert len(owed(cast)) == 1
    with acting_for(cast.owner.id, write=False):
        assert Notice.objects.filter(stage=Stage.EXPECTED_TO_FAIL).count() == 1
    deliver_waiting_notices()
    (mail,) = [m for m in mailoutbox if "expected to pass a limit" in m.subject]
    assert mail.subject.startswith(cast.site.name)
    assert "does not say that the building or the door is safe" in mail.body


def test_recording_a_visit_works_nothing_out(cast: Cast) -> None:
    """It is done when the visit is told of."""
    rising(cast)
    with acting_for(cast.owner.id, write=False):
        assert not Forecast.objects.exists()
        assert not Owing.objects.filter(stage=Stage.EXPECTED_TO_FAIL).exists()


def test_what_proves_otherwise_ends_it_and_it_may_begin_again(cast: Cast) -> None:
    """Another operator, and the readings begin anew; the next forecast is told anew."""
    rising(cast)
    assert len(owed(cast)) == 1
    with acting_for(cast.owner.id, write=True):
        fit_device(opening_id=cast.opening.id, begins_on=ago(0).date(), kind="operator")
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings((FORCE, "20", "lbf")), activity="operation_test")
    assert len(owed(cast)) == 1
    assert forecast(cast).ended_at is not None


def test_another_day_is_told_again_only_if_it_moved_by_much(cast: Cast) -> None:
    """By a month or more."""
    rising(cast)
    assert [o.thing_version for o in owed(cast)] == [1]
    with acting_for(cast.owner.id, write=True):
        Forecast.objects.update(crosses_on=forecast(cast).crosses_on.replace(year=2020))
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings((FORCE, "29", "lbf")), activity="operation_test")
    assert [o.thing_version for o in owed(cast)] == [1, 2]


def test_what_has_passed_the_limit_is_no_forecast(cast: Cast) -> None:
    """It has failed, and that is told in its own way."""
    with acting_for(cast.firm.id, write=True):
        read(cast, ["25", "27", "29"], last=1)
        inspected(cast, "31")
    assert owed(cast) == []


def test_machines_hear_of_it(cast: Cast, settings: Any) -> None:  # noqa: ANN401
    """Ids and days, and where to read; no reading."""
    settings.WEBHOOKS_TO_LOOPBACK = True
    with acting_for(cast.firm.id, write=True):
        make_webhook(url="http://127.0.0.1:9/", events=[EventType.TREND_EXPECTED])
    rising(cast)
    owed(cast)
    with acting_for(cast.firm.id, write=False):
        delivery = WebhookDelivery.objects.get()
    data = json.loads(delivery.payload)["data"]
    assert data["quantity"] == FORCE
    assert data["link"].endswith(f"/trends/{FORCE}")
    assert "30" not in {str(value) for value in data.values()}
