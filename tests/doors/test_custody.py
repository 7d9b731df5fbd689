"""Who may act where follows from custody and grants, to the day in the site's zone."""

from __future__ import annotations

from contextlib import nullcontext
from datetime import date, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, connection, transaction

from doors.clock import start_of_day
from doors.errors import AlreadyExistsError, NotAllowedError, NotVisibleError, RefusedError
from doors.models import Custody, Grant, Sight, Site
from doors.selectors.sight import sight_of
from doors.services.grants import end_grant, grant_leave
from doors.services.sites import open_site
from doors.tenancy import Purpose, acting_for, looking_up
from tests.cast import SINCE, ZONE, Cast, today


def test_the_custodian_may_do_everything(cast: Cast) -> None:
    """Custody alone gives sight; nobody has to grant an owner its own building."""
    with acting_for(cast.owner.id, write=False):
        for may in ("read", "plan", "record", "repair", "submit", "manage"):
            assert sight_of(cast.site.id, may).custodian_id == cast.owner.id


def test_a_grantee_may_do_what_was_granted_and_no_more(cast: Cast) -> None:
    """The firm records and submits; the inventory is the owner's."""
    with acting_for(cast.firm.id, write=False):
        assert sight_of(cast.site.id, "record").custodian_name == cast.owner.name
        with pytest.raises(NotAllowedError):
            sight_of(cast.site.id, "manage")


def test_a_site_out_of_sight_does_not_exist(cast: Cast) -> None:
    """Not allowed and not there are told apart only for what is visible."""
    with acting_for(cast.stranger.id, write=False), pytest.raises(NotVisibleError):
        sight_of(cast.site.id, "read")


def test_a_grant_covers_only_the_grantors_sites(cast: Cast) -> None:
    """Leave for all sites of one owner opens no door of another."""
    with acting_for(cast.firm.id, write=False), pytest.raises(NotVisibleError):
        sight_of(cast.neighbours_site.id, "read")


def test_a_grant_ends_at_midnight_of_the_site(cast: Cast) -> None:
    """`ends_on` is the first day without it, counted where the building stands."""
    last = date(2030, 3, 10)  # the clocks go forward that night in Chicago
    with acting_for(cast.owner.id, write=True):
        grant = Grant.objects.get()
        end_grant(grant_id=grant.id, ends_on=last)
    with acting_for(cast.firm.id, write=False):
        ends_at = Sight.objects.get(site=cast.site).ends_at
    assert ends_at is not None
    assert ends_at == start_of_day(last, ZONE)
    before = ends_at - timedelta(microseconds=1)
    with acting_for(cast.firm.id, write=False):
        for at, open_still in ((before, True), (ends_at, False)):
            assert Sight.active(cast.firm.id, at).exists() is open_still


def test_an_ended_grant_closes_at_once(cast: Cast) -> None:
    """The next transaction sees nothing: no decision is cached."""
    with acting_for(cast.owner.id, write=True):
        end_grant(grant_id=Grant.objects.get().id, ends_on=today())
    with acting_for(cast.firm.id, write=False):
        assert not Site.objects.exists()


def test_a_grant_of_one_site_leaves_the_other_closed(cast: Cast) -> None:
    """Scope is the site where one is named."""
    with acting_for(cast.neighbour.id, write=True):
        second = open_site(
            reference="S-2",
            name="Annexe",
            address=["2 High Street"],
            time_zone=ZONE,
            jurisdiction_code=cast.town.code,
        )
        grant_leave(grantee_id=cast.firm.id, actions=["record"], begins_on=SINCE, site_id=second.id)
    with acting_for(cast.firm.id, write=False):
        seen = set(Site.objects.values_list("id", flat=True))
    assert seen == {cast.site.id, second.id}


def test_an_unknown_action_is_refused_with_its_place(cast: Cast) -> None:
    """`manage` is custody's and cannot be given away."""
    with acting_for(cast.owner.id, write=True), pytest.raises(RefusedError) as refused:
        grant_leave(grantee_id=cast.firm.id, actions=["manage"], begins_on=SINCE)
    assert refused.value.errors[0].pointer == "/actions"


def test_the_same_reference_twice_is_refused_for_one_owner_only(cast: Cast) -> None:
    """Another owner may use it: nobody learns from a refusal what others call their buildings."""
    again: dict[str, Any] = {
        "reference": "S-1",
        "name": "Second",
        "address": ["3 High Street"],
        "time_zone": ZONE,
        "jurisdiction_code": cast.town.code,
    }
    with acting_for(cast.owner.id, write=True), pytest.raises(AlreadyExistsError):
        open_site(**again)
    with acting_for(cast.stranger.id, write=True):
        assert open_site(**again).reference == "S-1"


@pytest.mark.parametrize("zone", ["", "Mars/Olympus", "../etc/passwd", "america/chicago"])
def test_a_zone_that_is_none_is_refused(cast: Cast, zone: str) -> None:
    """Due dates hang on it, so no other spelling is guessed."""
    with acting_for(cast.owner.id, write=True), pytest.raises(RefusedError) as refused:
        open_site(
            reference="S-9",
            name="Nowhere",
            address=["9 High Street"],
            time_zone=zone,
            jurisdiction_code=cast.town.code,
        )
    assert refused.value.errors[0].pointer == "/time_zone"


def test_nobody_is_granted_anything_who_is_not_there(cast: Cast) -> None:
    """Said at once and with its place, not at the end of the transaction."""
    with acting_for(cast.owner.id, write=True), pytest.raises(RefusedError) as refused:
        grant_leave(grantee_id=uuid4(), actions=["record"], begins_on=SINCE)
    assert refused.value.errors[0].pointer == "/grantee"


def put(cast: Cast, begins: int, ends: int | None) -> None:
    """Write a custody of the cast's site by hand, in days from when its owner's began."""
    row = Custody(site=cast.site, owner=cast.neighbour, owner_name="Neighbour")
    values = [row.id.hex, row.site_id.hex, row.owner_id.hex, row.owner_name]
    days = [None if n is None else (SINCE + timedelta(days=n)).isoformat() for n in (begins, ends)]
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO doors_custody (id, site_id, owner_id, owner_name, begins_on, ends_on)"
            " VALUES (%s, %s, %s, %s, %s, %s)",
            [*values, *days],
        )


def cut(cast: Cast, days: int) -> None:
    """Let the custody of the cast's owner end so many days after it began, by hand."""
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE doors_custody SET ends_on = %s WHERE site_id = %s AND owner_id = %s",
            [(SINCE + timedelta(days=days)).isoformat(), cast.site.id.hex, cast.owner.id.hex],
        )


@pytest.mark.parametrize(
    ("begins", "ends", "fits"),
    [
        (-10, 0, True),
        (100, None, True),
        (100, 200, True),
        (50, 50, True),  # no day at all
        (-10, 1, False),
        (99, None, False),
        (99, 200, False),
        (10, 20, False),
        (-10, 200, False),
        (-10, None, False),
        (0, 100, False),
    ],
)
def test_the_database_lets_no_two_own_a_site_on_one_day(
    cast: Cast, begins: int, ends: int | None, *, fits: bool
) -> None:
    """Whoever writes there, past every service: the owner of the tables, by hand."""
    with looking_up(Purpose.CUSTODY, write=True):
        cut(cast, 100)
        refused = nullcontext() if fits else pytest.raises(DatabaseError, match="one_at_a_time")
        with refused, transaction.atomic():
            put(cast, begins, ends)


def test_the_database_lets_no_custody_grow_over_the_next(cast: Cast) -> None:
    """An end is moved up to the next beginning and no day further."""
    with looking_up(Purpose.CUSTODY, write=True):
        cut(cast, 100)
        put(cast, 150, 200)
        cut(cast, 150)
        with pytest.raises(DatabaseError, match="one_at_a_time"), transaction.atomic():
            cut(cast, 151)
