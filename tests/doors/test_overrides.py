"""Overrides: from which day an authority may let its rules hold."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from django.db.utils import DatabaseError

import rules
from doors.clock import start_of_day
from doors.errors import RefusedError, WrongStateError
from doors.models import Job, Jurisdiction, Override
from doors.selectors.jurisdictions import place_at, remarks_on
from doors.services.jurisdictions import establish_jurisdiction
from doors.services.organizations import register_organization
from doors.services.overrides import draft_override, publish_override
from doors.tenancy import Purpose, acting_for, looking_up
from rules.model import IntervalSpec, LimitSpec

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
TIGHTER = """
[jurisdiction]
code = "us-farthing-quay"
parent = "us-farthing"
name = "Quay"

[[tighten]]
target = "common-practice/quarterly-operation-test"
every = "P1M"
from = {begins_on}
standing = "verified"
citation = {{ publication = "Order of the district (invented)", edition = "1", clause = "1" }}
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


def test_duties_are_settled_again_when_a_later_change_begins() -> None:
    """One job now, one at midnight of the day it begins, where the place is."""
    place = place_in("America/Denver")
    day = datetime.now(UTC).date() + timedelta(days=40)
    published(place, day)
    assert place.authority_id is not None
    with acting_for(place.authority_id, write=False):
        jobs = list(Job.objects.order_by("not_before"))
    assert [job.kind for job in jobs] == ["settle_places", "settle_places"]
    assert jobs[1].not_before == start_of_day(day, "America/Denver")


def test_a_district_builds_on_what_its_town_published() -> None:
    """The town adopts the quarter, its district makes a month of it; both stand in the walk."""
    town = place_in("UTC")
    district = establish_jurisdiction(
        code="us-farthing-quay",
        name="Quay",
        kind="district",
        parent=town,
        authority=register_organization(name="Quay Fire Office", capabilities=["authority"]),
    )
    today = datetime.now(UTC).date()
    published(town, today)
    tighter = TIGHTER.format(begins_on=today.isoformat())
    assert district.authority_id is not None
    with acting_for(district.authority_id, write=True):
        draft = draft_override(jurisdiction_code=district.code, title="Monthly", document=tighter)
        publish_override(override_id=draft.id)
        walked = place_at(Jurisdiction.objects.select_related("parent").get(id=district.id))
    assert [layer.code for layer in walked.layers] == ["us-farthing", "us-farthing-quay"]
    found = rules.requirements(
        facts={"door_type": "accordion", "operation": "power", "means_of_egress": True},
        jurisdiction=walked.library_place,
        on=today,
        layers=walked.layers,
    )
    (owed,) = [r for r in found.items if r.requirement.id.endswith("quarterly-operation-test")]
    assert isinstance(owed.requirement.spec, IntervalSpec)
    assert (owed.requirement.spec.every, owed.layer) == ("P1M", "us-farthing-quay")


def test_a_district_hangs_together_under_a_town_without_rules() -> None:
    """A town that changed nothing is no gap in the walk."""
    town = place_in("UTC")
    district = establish_jurisdiction(
        code="us-farthing-quay", name="Quay", kind="district", parent=town
    )
    with looking_up(Purpose.SET_UP):
        walked = place_at(Jurisdiction.objects.select_related("parent").get(id=district.id))
    assert [layer.code for layer in walked.layers] == ["us-farthing", "us-farthing-quay"]


FORCE = """
[jurisdiction]
code = "us-farthing"
parent = "us"
name = "Farthing"

[[tighten]]
target = "ibc/special-purpose/set-in-motion"
high = "{high}"
from = {begins_on}
{more}
standing = "verified"
citation = {{ publication = "Order of the town (invented)", edition = "1", clause = "2" }}
"""
MOTION = re.compile("ibc-[0-9]+/special-purpose/set-in-motion")
LATER = date(2031, 1, 1)


def force(high: str, begins_on: date, more: str = "") -> str:
    """A town's own limit for the force that sets a leaf in motion."""
    return FORCE.format(high=high, begins_on=begins_on.isoformat(), more=more)


def drafted(place: Jurisdiction, title: str, document: str) -> Override:
    """A draft of the place's authority."""
    assert place.authority_id is not None
    with acting_for(place.authority_id, write=True):
        return draft_override(jurisdiction_code=place.code, title=title, document=document)


def publish(override: Override) -> Override:
    """Publish it as its author."""
    with acting_for(override.author_id, write=True):
        return publish_override(override_id=override.id)


def test_two_overrides_of_one_place_do_not_overlap() -> None:
    """A draft that clashes with what is published is refused, and both are named."""
    place = place_in("UTC")
    publish(drafted(place, "Order one", force("25 lbf", LATER)))
    with pytest.raises(RefusedError) as refused:
        drafted(place, "Order two", force("20 lbf", date(2032, 1, 1)))
    (error,) = refused.value.errors
    assert (error.pointer, error.code) == ("/document/tighten/0/from", "overlap")
    assert "/tighten/0 in 'Order one', from 2031-01-01 without end" in error.detail
    assert "supersedes = true" in error.detail


def test_of_two_drafts_that_overlap_one_is_published() -> None:
    """The second is judged again when it is published."""
    place = place_in("UTC")
    one = drafted(place, "Order one", force("25 lbf", LATER))
    two = drafted(place, "Order two", force("20 lbf", date(2032, 1, 1)))
    publish(one)
    with pytest.raises(RefusedError) as refused:
        publish(two)
    assert [e.code for e in refused.value.errors] == ["overlap"]


def test_the_last_day_of_an_override_is_inside() -> None:
    """Until the 31st, another may begin on the 1st and not on the 31st."""
    place = place_in("UTC")
    publish(drafted(place, "Order one", force("25 lbf", LATER, "until = 2031-12-31")))
    with pytest.raises(RefusedError, match="mistakes"):
        drafted(place, "Order two", force("20 lbf", date(2031, 12, 31)))
    publish(drafted(place, "Order two", force("20 lbf", date(2032, 1, 1))))


def test_a_later_order_supersedes_an_earlier_one() -> None:
    """It ends it on the day before; doors built in between keep theirs."""
    place = place_in("UTC")
    publish(drafted(place, "Order one", force("25 lbf", LATER)))
    publish(drafted(place, "Order two", force("20 lbf", date(2032, 1, 1), "supersedes = true")))
    with looking_up(Purpose.SET_UP):
        walked = place_at(Jurisdiction.objects.select_related("parent").get(id=place.id))
    limits = {}
    for built in ("2030-12-31", "2031-01-01", "2031-12-31", "2032-01-01"):
        found = rules.requirements(
            facts={"door_type": "accordion", "means_of_egress": True, "installed_on": built},
            jurisdiction=walked.library_place,
            on=date(2033, 1, 1),
            layers=walked.layers,
        )
        (limit,) = [r for r in found.items if MOTION.fullmatch(r.requirement.id)]
        assert isinstance(limit.requirement.spec, LimitSpec)
        limits[built] = str(limit.requirement.spec.high)
    assert list(limits.values()) == ["30 lbf", "25 lbf", "25 lbf", "20 lbf"]


@pytest.mark.parametrize(
    ("more", "codes"),
    [
        ("", ["new_doors_only"]),
        ('existing_doors = "this_edition"', []),
        ('existing_doors = "as_built"', []),
    ],
)
def test_a_draft_says_whom_it_reaches(more: str, codes: list[str]) -> None:
    """A number for construction reaches new doors alone; its author is told how to reach all."""
    remarks = remarks_on(drafted(place_in("UTC"), "Order", force("20 lbf", LATER, more)))
    assert [remark.code for remark in remarks] == codes
    assert all('existing_doors = "this_edition"' in remark.message for remark in remarks)


def test_an_interval_that_no_calendar_counts_is_refused_at_its_author() -> None:
    """Five months are no period of the calendar; nobody who lives under it finds out later."""
    document = TIGHTER.format(begins_on="2031-01-01").replace(
        "common-practice/quarterly-operation-test", "nfpa-80/inspection/yearly"
    )
    wrong = document.replace("P1M", "P0M").replace("us-farthing-quay", "us-farthing")
    with pytest.raises(RefusedError) as refused:
        drafted(place_in("UTC"), "Order", wrong.replace('"us-farthing"\nname', '"us"\nname'))
    assert "/document/tighten/0/every" in {e.pointer for e in refused.value.errors}


def test_every_mistake_is_named_with_its_place() -> None:
    """An authority writes without a programmer."""
    place = place_in("UTC")
    wrong = DOCUMENT.format(begins_on="2100-01-01").replace("requirement =", "requirment =")
    assert place.authority_id is not None
    with acting_for(place.authority_id, write=True), pytest.raises(RefusedError) as refused:
        draft_override(jurisdiction_code=place.code, title="Order", document=wrong)
    assert "/document/adopt/0/requirment" in {e.pointer for e in refused.value.errors}


def test_what_is_published_is_never_changed() -> None:
    """Not even by its author, through the database."""
    place = place_in("UTC")
    override = published(place, datetime.now(UTC).date())
    assert place.authority_id is not None
    with acting_for(place.authority_id, write=True):
        with pytest.raises(WrongStateError):
            publish_override(override_id=override.id)
        with pytest.raises(DatabaseError), transaction.atomic():
            Override.objects.filter(id=override.id).update(document="x")
