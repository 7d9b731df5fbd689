"""Overrides: from which day an authority may let its rules hold."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from doors.errors import RefusedError
from doors.models import Jurisdiction, Override
from doors.services.jurisdictions import establish_jurisdiction
from doors.services.organizations import register_organization
from doors.services.overrides import draft_override, publish_override
from doors.tenancy import acting_for

pytestmark = pytest.mark.django_db
DOCUMENT = """
[jurisdiction]
code = "us-farthing"
parent = "us"
name = "Farthing"

[[adopt]]
requirement = "common-practice/quarterly-operation-test"
from = {begins_on}
standing = "verified"
citation = {{ publication = "Order of the town (invented)", edition = "1", clause = "1" }}
"""


def place_in(time_zone: str) -> Jurisdiction:
    """A town with an authority, in a time zone."""
    authority = register_organization(name="Farthing Fire Office", capabilities=["authority"])
    country = establish_jurisdiction(
        code="us", name="United States", kind="country", library_place="us"
    )
    return establish_jurisdiction(
        code="us-farthing",
        name="Farthing",
        kind="city",
        parent=country,
        time_zone=time_zone,
        authority=authority,
    )


def published(place: Jurisdiction, begins_on: date) -> Override:
    """Draft and publish a change that holds from that day."""
    document = DOCUMENT.format(begins_on=begins_on.isoformat())
    assert place.authority_id is not None
    with acting_for(place.authority_id, write=True):
        draft = draft_override(jurisdiction_code=place.code, title="Order", document=document)
        return publish_override(override_id=draft.id)


@pytest.mark.parametrize("time_zone", ["Etc/GMT+12", "UTC", "Etc/GMT-14"])
def test_an_override_may_begin_on_the_day_it_is_at_the_place(time_zone: str) -> None:
    """An evening in the west is still today there, whatever the day in Greenwich."""
    today = datetime.now(UTC).astimezone(ZoneInfo(time_zone)).date()
    assert published(place_in(time_zone), today).published_at is not None


@pytest.mark.parametrize("time_zone", ["Etc/GMT+12", "UTC", "Etc/GMT-14"])
def test_an_override_may_not_begin_before_its_publication(time_zone: str) -> None:
    """Nobody is bound by a rule of yesterday that was written today."""
    yesterday = datetime.now(UTC).astimezone(ZoneInfo(time_zone)).date() - timedelta(days=1)
    with pytest.raises(RefusedError, match="before the day it is published"):
        published(place_in(time_zone), yesterday)


def test_a_place_in_no_known_time_zone_is_refused() -> None:
    """A misspelt zone would move every day of the place unseen."""
    with pytest.raises(RefusedError, match="no IANA time zone"):
        place_in("America/Chicagoo")
