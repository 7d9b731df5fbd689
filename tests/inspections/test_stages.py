"""The days and hours of notices: pure functions of dates, policies and zones."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.models import Stage
from inspections.selectors.policies import DEFAULTS
from inspections.selectors.stages import moments_of, reached
from inspections.selectors.working_days import Calendar, holidays_of

ZONES = (
    "America/New_York",
    "America/Phoenix",
    "Australia/Lord_Howe",
    "Europe/London",
    "Pacific/Apia",
    "UTC",
)
DAYS = [
    date(2025, 1, 1) + timedelta(days=n) for n in range((date(2036, 1, 1) - date(2025, 1, 1)).days)
]
HOURS = (time(0, 0), time(1, 30), time(2, 0), time(2, 15), time(2, 30), time(8, 0), time(23, 59))


def calendar(
    zone: str = "America/Denver", *, at: time = time(8), weekdays: str = "12345", of: str = "US"
) -> Calendar:
    """A building's days and hours, quiet from eight to seven."""
    days = frozenset(map(int, weekdays))
    return Calendar(zone, days, (of, ""), at, time(20), time(7))


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("at", HOURS)
def test_mail_of_a_day_goes_out_on_that_day_once(zone: str, at: time) -> None:
    """Every date of eleven years: on that very civil day there, at that hour or, where the
    clocks skip it, as much later as they skip; each day has one instant, later than the last.
    """
    there, kept = ZoneInfo(zone), calendar(zone, at=at)
    instants = [kept.instant_of(day) for day in DAYS]
    assert all(a < b for a, b in pairwise(instants))
    skipped = 0
    for day, instant in zip(DAYS, instants, strict=True):
        local = instant.astimezone(there)
        assert local.date() == day
        if local.time() != at:
            shift = local - datetime.combine(day, at, tzinfo=there)
            assert timedelta(0) < local.replace(tzinfo=None) - datetime.combine(day, at)
            assert shift <= timedelta(hours=1)
            skipped += 1
        else:
            assert local.fold == 0  # of an hour that comes twice, the first
    expected = {"America/New_York": {time(2, 0), time(2, 15), time(2, 30)}}
    if zone in {"America/Phoenix", "Pacific/Apia", "UTC"}:
        assert skipped == 0
    elif zone in expected:
        assert bool(skipped) == (at in expected[zone])


def test_a_due_day_is_the_building_s_own() -> None:
    """Due 14 March 2027 in Denver, when the clocks change: told at eight there, not a day early."""
    kept = calendar(weekdays="1234567", of="")
    moments = moments_of(
        due_on=date(2027, 3, 14), closes_on=date(2027, 3, 14), terms=DEFAULTS, calendar=kept
    )
    due = next(m for m in moments if m.stage == Stage.DUE)
    assert due.on == date(2027, 3, 14)
    assert kept.instant_of(due.on) == datetime(2027, 3, 14, 14, tzinfo=UTC)
    overdue = next(m for m in moments if m.stage == Stage.OVERDUE)
    assert overdue.on == date(2027, 3, 15)


def test_nobody_is_written_to_on_a_day_of_rest() -> None:
    """Due on a Sunday: told the Friday before that it will be, and on Monday that it is overdue;
    the fourth of July waits too.
    """
    kept = calendar()
    sunday = date(2027, 3, 14)
    moments = moments_of(due_on=sunday, closes_on=sunday, terms=DEFAULTS, calendar=kept)
    assert [(m.stage.value, m.step, m.on.isoformat()) for m in moments] == [
        ("before_due", 30, "2027-02-12"),
        ("before_due", 7, "2027-03-08"),
        ("before_due", 1, "2027-03-12"),
        ("due", 0, "2027-03-15"),
        ("overdue", 1, "2027-03-15"),
        ("overdue", 8, "2027-03-22"),
        ("overdue", 15, "2027-03-29"),
        ("overdue", 29, "2027-04-12"),
    ]
    latest, following = reached(moments, date(2027, 3, 15))
    assert latest is not None
    assert latest.stage == Stage.OVERDUE
    assert following is not None
    assert following.step == 8
    assert kept.working_day(date(2028, 7, 4)) == date(2028, 7, 5)


@given(
    due=st.dates(date(2025, 1, 1), date(2035, 12, 31)),
    tolerance=st.integers(0, 60),
    leads=st.lists(st.integers(1, 120), max_size=5, unique=True),
    weekdays=st.sets(st.integers(1, 7), min_size=1),
    of=st.sampled_from(["", "US", "CA", "DE", "SA"]),
)
def test_no_stage_comes_early(
    due: date, tolerance: int, leads: list[int], weekdays: set[int], of: str
) -> None:
    """None says due before the due day or overdue before the last day has passed; what says that
    it will be due comes before; and all come on working days, in order.
    """
    kept = calendar(weekdays="".join(map(str, weekdays)), of=of)
    closes = due + timedelta(days=tolerance)
    moments = moments_of(
        due_on=due, closes_on=closes, terms=DEFAULTS | {"lead_days": leads}, calendar=kept
    )
    by_stage = {stage: [m.on for m in moments if m.stage == stage] for stage in Stage}
    assert all(on < due for on in by_stage[Stage.BEFORE_DUE])
    assert all(on >= due for on in by_stage[Stage.DUE])
    assert all(on > closes for on in by_stage[Stage.OVERDUE])
    assert [m.on for m in moments] == sorted(m.on for m in moments)
    assert all(kept.works(m.on) for m in moments)
    assert len({(m.stage, m.step, m.version) for m in moments}) == len(moments)


@given(
    now=st.datetimes(datetime(2025, 1, 1), datetime(2035, 12, 31), timezones=st.just(UTC)),  # noqa: DTZ001
    zone=st.sampled_from(ZONES),
)
def test_the_next_moment_is_neither_past_nor_quiet(now: datetime, zone: str) -> None:
    """From any moment on: not before it, on a working day there, outside the quiet hours."""
    kept = calendar(zone)
    at = kept.next_instant(now)
    local = at.astimezone(ZoneInfo(zone))
    assert at >= now
    assert kept.works(local.date())
    assert not kept.quiet(local.time())


@pytest.mark.parametrize(
    ("codes", "whose"),
    [
        (["us", "us-quillhaven"], ("US", "")),
        (["us", "us-ny", "us-ny-nyc"], ("US", "NY")),
        (["gb", "gb-eng"], ("GB", "ENG")),
        (["xx-marsh"], ("", "")),
    ],
)
def test_whose_holidays_hold_follows_from_the_place(
    codes: list[str], whose: tuple[str, str]
) -> None:
    """Country and state by their codes; a town has none of its own, an unknown place none."""
    assert holidays_of(codes) == whose
