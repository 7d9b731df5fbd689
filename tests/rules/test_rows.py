"""Every number and interval that was read, row by row: what the data must say of it.

The left column is the row of the project's table of limits (section and number, or its words).
"""

from __future__ import annotations

import pytest

from rules.library import load
from rules.model import (
    ImpairmentSpec,
    IntervalSpec,
    LimitSpec,
    PermissionSpec,
    Requirement,
    RetentionSpec,
)
from rules.vocabulary import Meaning

# row, requirement, lower bound, upper bound, standing
LIMITS = """
1.1   ibc-2009/egress-force/latch-release              -         15_lbf      secondary
1.1   ibc-2012/egress-force/latch-release              -         15_lbf      secondary
1.1   ibc-2015/egress-force/latch-release              -         15_lbf      secondary
1.1   ibc-2018/egress-force/latch-release              -         15_lbf      secondary
1.1   ibc-2021/egress-force/latch-release              -         15_lbf      secondary
1.1   ibc-2021/egress-force/latch-rotation             -         28_lbf*in   secondary
1.2   ibc-2009/egress-force/set-in-motion              -         30_lbf      secondary
1.2   ibc-2018/egress-force/set-in-motion              -         30_lbf      secondary
1.2   ibc-2021/egress-force/set-in-motion              -         30_lbf      secondary
1.3   ibc-2009/egress-force/open-fully                 -         15_lbf      secondary
1.3   ibc-2018/egress-force/open-fully                 -         15_lbf      secondary
1.4   ibc-2009/egress-force/interior-swinging          -         5_lbf       secondary
1.4   ibc-2018/egress-force/interior-swinging          -         5_lbf       secondary
1.5   ibc-2006/special-purpose/set-in-motion           -         30_lbf      secondary
1.5   ibc-2012/special-purpose/set-in-motion           -         30_lbf      secondary
1.5   ibc-2015/special-purpose/set-in-motion           -         30_lbf      secondary
1.5   ibc-2018/special-purpose/set-in-motion           -         30_lbf      secondary
1.5   ibc-2021/special-purpose/set-in-motion           -         30_lbf      secondary
1.6   ibc-2018/special-purpose/close                   -         15_lbf      secondary
1.6   ibc-2018/special-purpose/open-to-width           -         15_lbf      secondary
1.6   ibc-2021/special-purpose/close                   -         15_lbf      secondary
1.7   ibc-2018/special-purpose/lateral-load            -         15_lbf      secondary
1.7   ibc-2021/special-purpose/lateral-load            -         15_lbf      secondary
1.7   nfpa-101-2012/special-purpose/lateral-load       -         50_lbf      from_memory
1.7   nfpa-101-2012/special-purpose/lateral-load-existing -      50_lbf      from_memory
1.7b  ibc-2006/special-purpose/time-to-width           -         10_s        secondary
1.7b  ibc-2018/special-purpose/time-to-width           -         10_s        secondary
1.8   nfpa-101-2012/special-purpose/set-in-motion      -         30_lbf      secondary
1.8   nfpa-101-2012/special-purpose/open               -         15_lbf      secondary
1.8   nfpa-101-2012/special-purpose/close              -         15_lbf      secondary
1.8   nfpa-101-2012/special-purpose/device-push        -         15_lbf      from_memory
1.9   nfpa-101-2000/egress-force/latch-release         -         15_lbf      secondary
1.9   nfpa-101-2000/egress-force/set-in-motion         -         30_lbf      secondary
1.9   nfpa-101-2000/egress-force/open-to-width         -         15_lbf      secondary
1.10  nfpa-101-2000/egress-force/interior-without-closer -       5_lbf       secondary
1.11  nfpa-101-2000/egress-force/existing-set-in-motion -        50_lbf      secondary
1.12  ibc-2018/power-lost/set-in-motion                -         50_lbf      secondary
1.12  ibc-2018/power-lost/latch-release                -         15_lbf      secondary
1.12  ibc-2018/power-lost/open-fully                   -         15_lbf      secondary
1.12  ibc-2021/power-lost/set-in-motion                -         50_lbf      secondary
1.13  a156.19-1997/power-lost/latch-release            -         15_lbf      secondary
1.13  a156.19-1997/power-lost/latch-rotation           -         40_lbf*in   secondary
1.13  a156.19-1997/power-lost/set-in-motion            -         30_lbf      secondary
1.13  a156.19-1997/power-lost/open-fully               -         15_lbf      secondary
1.14  a156.19-1997/stopped-door                        -         15_lbf      secondary
1.15  ada-2010/force/interior-hinged                   -         5_lbf       secondary
1.15  ada-2010/force/sliding-folding                   -         5_lbf       secondary
1.15  a117.1-2009/force/interior-hinged                -         5_lbf       secondary
1.15  a117.1-2017/force/sliding-folding                -         5_lbf       secondary
1.16  cbc-2022/accessible/fire-door                    -         15_lbf      secondary
1.16  cbc-2022/accessible/exterior-hinged              -         5_lbf       secondary
1.17  cbc-2013/accessible/powered-alternative          -         8.5_lbf     secondary
1.17  cbc-2022/accessible/powered-alternative          -         8.5_lbf     secondary
1.18  en-16005-2012/power-lost/latch-release           -         67_N        secondary
1.18  en-16005-2012/power-lost/set-in-motion           -         90_N        secondary
1.18  en-16005-2012/power-lost/open-fully              -         67_N        secondary
1.19  o-reg-332-12/exit-door/force                     -         90_N        secondary
1.19  nbc/barrier-free/exterior                        -         38_N        from_memory
1.19  nbc/barrier-free/interior                        -         22_N        from_memory
1.20  bs-8300-2-2018/opening-force-to-30               -         30_N        secondary
1.20  bs-8300-2-2018/opening-force-to-60               -         22.5_N      secondary
1.20  approved-document-m-2015/opening-force-to-30     -         30_N        secondary
1.20  approved-document-m-2004/opening-force           -         20_N        secondary
2.1   nfpa-80-2007/rolling/closing-speed               6_in/s    24_in/s     secondary
2.1   nfpa-80-2022/rolling/closing-speed               6_in/s    24_in/s     secondary
2.2   sliding-door-course/closing-speed                6_in/s    24_in/s     secondary
2.2   nfpa-80-1999/sliding/closing-speed               6_in/s    24_in/s     secondary
2.2   nfpa-80-1999/sliding/start-delay                 -         10_s        secondary
2.3   ada-2010/closer-time                             5_s       -           secondary
2.3   adaag-1991/closer-time                           3_s       -           from_memory
2.4   ada-2010/spring-hinge-time                       1.5_s     -           secondary
2.5   a156.19-1997/open/to-backcheck                   3_s       -           secondary
2.5   a156.19-1997/open/total                          4_s       -           secondary
2.6   a156.19-1997/close/to-10-degrees                 3_s       -           secondary
2.6   a156.19-1997/close/to-latch                      1.5_s     -           secondary
2.7   a156.19-1997/hold-open                           5_s       -           secondary
2.8   a156.19-1997/kinetic-energy                      -         1.25_lbf*ft secondary
2.8   en-16005-2012/kinetic-energy                     -         1.69_J      secondary
2.9   en-16005-2012/static-closing-force               -         150_N       secondary
12    a156.10-1999/sliding/stop-force                  -         30_lbf      secondary
12    a156.10-1999/sliding/closing-speed               -         1_ft/s      secondary
4     ibc-2018/width/clear                             32_in     -           secondary
4     ada-2010/width/clear                             32_in     -           secondary
4     nfpa-101-2000/width/existing-clear               28_in     -           secondary
4     nfpa-101-2000/width/leaf                         -         48_in       secondary
4     ibc-2018/width/leaf                              -         48_in       secondary
4     ada-2010/width/automatic-power-on                32_in     -           secondary
4     ada-2010/width/automatic-power-off               32_in     -           secondary
4     cbc-2022/accessible/one-leaf                     32_in     -           secondary
4     29-cfr-1910-36/exit-access-width                 28_in     -           secondary
4     ibc-2018/capacity/door                           0.2_in    -           secondary
4     ibc-2018/capacity/door-sprinklered               0.15_in   -           secondary
4     nyc-bc/capacity/door                             0.2_in    -           secondary
4     nfpa-101-2000/capacity/door                      0.2_in    -           secondary
4     ibc-2018/capacity/stair                          0.3_in    -           secondary
4     ibc-2018/capacity/stair-sprinklered              0.2_in    -           secondary
4     nyc-bc/capacity/stair                            0.3_in    -           secondary
5     ibc-2015/standby/closing-cycles                  50_cycles -           secondary
5     ibc-2018/standby/closing-cycles                  50_cycles -           secondary
5     sbc-801-2018/standby/closing-cycles              50_cycles -           secondary
5     nfpa-72-2010/standby/quiescent                   24_h      -           secondary
5     nfpa-72-2010/standby/alarm                       5_min     -           secondary
5     nfpa-72-2022/standby/alarm-voice                 15_min    -           secondary
5     nfpa-72-2010/battery/margin                      1.20      -           secondary
5     nfpa-72-2022/battery/margin                      1.25      -           secondary
5     nfpa-72-2022/supply/range                        0.85      1.10        secondary
5     bs-5839-1/standby/quiescent                      24_h      -           secondary
5     bs-5839-1/standby/quiescent-unattended           72_h      -           secondary
5     bs-5839-1/standby/alarm                          30_min    -           secondary
5     bs-5839-1/battery/ageing                         1.25      -           secondary
5     din-vde-0833-2/battery/ageing                    1.25      -           secondary
5     din-vde-0833-2/battery/discharge                 1.1       -           secondary
5     battery-textbook/float                           13.2_V    13.8_V      secondary
5     battery-textbook/cutoff                          10.5_V    -           secondary
5     battery-textbook/charge-end                      14.4_V    14.7_V      secondary
5     battery-textbook/peukert-flooded                 1.2       1.6         secondary
5     battery-textbook/peukert-agm                     1.05      1.15        secondary
5     battery-textbook/peukert-gel                     1.1       1.25        secondary
10    as-1851-2005/gap-head                            -         3_mm        secondary
10    as-1851-2005/gap-bottom                          -         10_mm       secondary
11    common-practice/closing-speed                    6_in/s    24_in/s     common_practice
11    common-practice/egress-panel-force               -         4_lbf       common_practice
11    common-practice/manual-set-in-motion             -         30_lbf      common_practice
11    common-practice/manual-opening                   -         15_lbf      common_practice
11    common-practice/battery-float                    13.2_V    13.8_V      common_practice
11    common-practice/battery-closes-at                11_V      -           common_practice
11    common-practice/supervision                      3         -           common_practice
12    us-mn/sign/letters                               1_in      -           secondary
trade nfpa-80-2013/swinging/gap                        -         0.125_in    secondary
trade nfpa-80-2013/swinging/bottom-gap                 -         0.75_in     secondary
trade nfpa-80-2013/swinging/gap-steel                  -         0.1875_in   from_memory
"""

# row, requirement, activity, every, meaning (- is not later than), standing
INTERVALS = """
6  nfpa-80-2007/inspection/yearly                periodic_inspection P1Y -               secondary
6  nfpa-80-2013/inspection/yearly                periodic_inspection P1Y -               secondary
6  nfpa-80-2013/inspection/after-installation    acceptance_test     -   -               secondary
6  nfpa-80-2013/inspection/after-maintenance     repair_retest       -   -               secondary
6  cms-sc-17-38/inspection/yearly                periodic_inspection P1Y -               verified
6  nfpa-101-2009/egress-door-inspection          periodic_inspection P1Y -               verified
6  nfpa-105-2019/repair/retest                   repair_retest       -   -               secondary
6  nyc-fc-2022/hold-open/yearly                  periodic_inspection P1Y -               secondary
6  nyc-fc-2022/alarm/five-yearly                 acceptance_test     P5Y -               secondary
6  nfpa-72-2002/smoke-detector/function          periodic_inspection P1Y -               secondary
6  nfpa-72-2002/smoke-detector/sensitivity-first acceptance_test     P1Y -               secondary
6  nfpa-72-2002/smoke-detector/sensitivity       periodic_inspection P2Y -               secondary
6  nfpa-72-2002/waterflow-switch                 periodic_inspection P6M -               from_memory
6  nfpa-25-2020/waterflow-alarm                  periodic_inspection P3M -               from_memory
5  nfpa-72-2002/battery/charger                  periodic_inspection P1Y -               from_memory
5  nfpa-72-2002/battery/discharge                periodic_inspection P1Y -               from_memory
5  nfpa-72-2002/battery/load-voltage             periodic_inspection P6M -               from_memory
6  nfpa-25-2020/frequency/weekly                 operation_test      P1W calendar_period secondary
6  nfpa-25-2020/frequency/monthly                operation_test      P1M calendar_period secondary
6  nfpa-25-2020/frequency/quarterly              operation_test      P3M between         secondary
6  nfpa-25-2020/frequency/semiannual             operation_test      P6M between         from_memory
6  nfpa-25-2020/frequency/annual                 periodic_inspection P1Y between         from_memory
6  nfpa-25-2020/frequency/three-yearly           periodic_inspection P3Y between         from_memory
6  nfpa-25-2020/frequency/five-yearly            periodic_inspection P5Y between         from_memory
6  accreditor-2014/frequency/quarterly           operation_test      P3M from_date       secondary
6  accreditor-2014/frequency/quarterly-by-month  operation_test      P3M from_month      secondary
6  accreditor-2013/frequency/quarterly           operation_test      P3M calendar_period secondary
6  accreditor-2014/frequency/semiannual          operation_test      P6M from_date       secondary
6  accreditor-2014/frequency/annual              periodic_inspection P1Y from_date       secondary
6  accreditor-2014/frequency/three-yearly        periodic_inspection P3Y from_date       from_memory
6  accreditor-2014/frequency/monthly             operation_test      P1M calendar_period from_memory
6  accreditor-2014/frequency/weekly              operation_test      P1W calendar_period from_memory
6  as-1851-2012/half-yearly-with-tolerance       periodic_inspection P6M from_date       from_memory
10 fire-safety-england-2022/communal/quarterly   periodic_inspection P3M -               secondary
10 fire-safety-england-2022/flat-entrance/yearly periodic_inspection P1Y -               secondary
10 bs-9999/fire-doors/half-yearly                periodic_inspection P6M -               secondary
10 bs-9999/release-devices/daily                 operation_test      P1D -               secondary
10 bs-9999/release-devices/monthly               operation_test      P1M -               secondary
10 dibt-hold-open/operator/monthly               operation_test      P1M -               secondary
10 dibt-hold-open/specialist/yearly              periodic_inspection P1Y -               secondary
10 din-14677-2011/function/quarterly             operation_test      P3M -               secondary
10 din-14677-2011/maintenance/yearly             periodic_inspection P1Y -               secondary
10 as-1851-2012/sliding/quarterly                periodic_inspection P3M -               secondary
10 as-1851-2012/others/half-yearly               periodic_inspection P6M -               secondary
10 as-1851-2012/flat-entrance/yearly             periodic_inspection P1Y -               secondary
10 qdc-mp-6-1/fire-doors/half-yearly             periodic_inspection P6M -               secondary
10 qdc-mp-6-1/fire-doors/yearly                  periodic_inspection P1Y -               secondary
10 o-reg-213-07/separation/daily                 operation_test      P1D -               from_memory
10 o-reg-213-07/separation/monthly               periodic_inspection P1M -               from_memory
11 common-practice/quarterly-operation-test      operation_test      P3M -           common_practice
12 us-mn/moving-doors/yearly                     periodic_inspection P1Y -               secondary
"""

# row, requirement, how long, from when, standing
RETENTIONS = """
6  nfpa-80-2013/record/retention                 P3Y record      verified
6  nfpa-80-2013/record/acceptance-kept           P0D removal     from_memory
6  nfpa-72-2010/record/alarm-tests               P1Y next_record secondary
6  nfpa-72-2010/record/heat-detector-cycle       P6Y record      secondary
10 o-reg-213-07/record/retention                 P2Y record      secondary
12 o-reg-213-07/record/retention-long-interval   P1Y next_record secondary
12 us-mn/record/retention                        P3Y record      secondary
"""

# row, requirement, out of service for longer than, standing
IMPAIRMENTS = """
7  nfpa-101-2009/impairment/fire-alarm        PT4H  secondary
7  nfpa-101-2012/impairment/sprinklers        PT10H from_memory
7  county-form-nfpa-1/impairment/fire-alarm   PT8H  secondary
7  county-form-nfpa-1/impairment/sprinklers   PT10H secondary
7  ifc-2018/impairment                        -     from_memory
7  o-reg-213-07/corrected-at-once             -     secondary
"""


def rows(table: str) -> list[list[str]]:
    """The rows of a table above, a value and its unit joined by an underscore."""
    return [line.split() for line in table.strip().splitlines()]


def packaged(name: str) -> Requirement:
    """The packaged requirement of that id, as its publication or its place first states it."""
    library = load()
    own = (a.requirement for place in library.places.values() for a in place.amendments)
    return library.requirements.get(name) or next(r for r in own if r and r.id == name)


@pytest.mark.parametrize("row", rows(LIMITS), ids=lambda row: row[1])
def test_limit_says_what_was_read(row: list[str]) -> None:
    """Bounds as published, in the published unit, with the standing of their source."""
    _, name, low, high, standing = row
    requirement = packaged(name)
    assert isinstance(spec := requirement.spec, LimitSpec)
    assert (str(spec.low or "-"), str(spec.high or "-")) == (
        low.replace("_", " "),
        high.replace("_", " "),
    )
    assert requirement.standing == standing


@pytest.mark.parametrize("row", rows(INTERVALS), ids=lambda row: row[1])
def test_interval_says_what_was_read(row: list[str]) -> None:
    """The activity, the period, what the publisher means by it, and the standing."""
    _, name, activity, every, meaning, standing = row
    requirement = packaged(name)
    spec = requirement.spec
    assert isinstance(spec, IntervalSpec)
    meant = "-" if spec.meaning is Meaning.NOT_LATER_THAN else spec.meaning
    assert (spec.activity, spec.every or "-", meant) == (activity, every, meaning)
    assert requirement.standing == standing


@pytest.mark.parametrize("row", rows(RETENTIONS), ids=lambda row: row[1])
def test_retention_says_what_was_read(row: list[str]) -> None:
    """How long a record is kept, and from when."""
    _, name, keep, counted_from, standing = row
    requirement = packaged(name)
    assert isinstance(spec := requirement.spec, RetentionSpec)
    assert (spec.keep, spec.counted_from, requirement.standing) == (keep, counted_from, standing)


@pytest.mark.parametrize("row", rows(IMPAIRMENTS), ids=lambda row: row[1])
def test_impairment_says_what_was_read(row: list[str]) -> None:
    """After how many hours out of service something is owed, where hours are named."""
    _, name, over, standing = row
    requirement = packaged(name)
    assert isinstance(spec := requirement.spec, ImpairmentSpec)
    assert (spec.over or "-", requirement.standing) == (over, standing)


@pytest.mark.parametrize(
    ("name", "least", "greatest"),
    [
        ("quarterly", "P2M", "P4M"),
        ("semiannual", "P4M", "P8M"),
        ("annual", "P9M", "P15M"),
        ("three-yearly", "P30M", "P40M"),
        ("five-yearly", "P54M", "P66M"),
    ],
)
def test_months_between_two_tests(name: str, least: str, greatest: str) -> None:
    """One publisher names the least and the greatest number of months between two tests."""
    spec = packaged(f"nfpa-25-2020/frequency/{name}").spec
    assert isinstance(spec, IntervalSpec)
    assert (spec.least, spec.greatest) == (least, greatest)


@pytest.mark.parametrize(
    ("name", "tolerance"),
    [("quarterly", "P10D"), ("semiannual", "P20D"), ("annual", "P30D"), ("three-yearly", "P45D")],
)
def test_days_either_way(name: str, tolerance: str) -> None:
    """An accreditor gives days before and after the date."""
    spec = packaged(f"accreditor-2014/frequency/{name}").spec
    assert isinstance(spec, IntervalSpec)
    assert (spec.early, spec.late) == (tolerance, tolerance)


@pytest.mark.parametrize(
    ("name", "load", "holds"),
    [
        ("ibc-2018/permission/manual-sliding", 10, True),
        ("ibc-2018/permission/manual-sliding", 11, False),
        ("nfpa-101-2000/permission/manual-sliding", 9, True),
        ("nfpa-101-2000/permission/manual-sliding", 10, False),
        ("nfpa-101-2012/permission/manual-sliding-health-care", 10, False),
        ("nfpa-101-1988/special-purpose/load", 49, True),
        ("nfpa-101-1988/special-purpose/load", 50, False),
    ],
)
def test_permission_by_occupant_load(name: str, load: int, holds: bool) -> None:  # noqa: FBT001
    """Up to which occupant load a door of its kind may stand in a means of egress."""
    spec = packaged(name).spec
    assert isinstance(spec, PermissionSpec)
    assert spec.permitted_when.ask({"occupant_load": load, "occupancy_group": "B"}).holds is holds


@pytest.mark.parametrize("name", ["obstruction-force", "obstruction-pause", "obstruction-attempts"])
def test_numbers_that_nobody_found_are_left_to_each_door(name: str) -> None:
    """No text gives them, so the library gives none either."""
    spec = packaged(f"per-door/{name}").spec
    assert isinstance(spec, LimitSpec)
    assert spec.supplied_per_door


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("ibc-2018/special-purpose/set-in-motion", "133 N"),
        ("ibc-2018/special-purpose/close", "67 N"),
        ("ibc-2018/power-lost/set-in-motion", "220 N"),
        ("nfpa-101-2012/special-purpose/lateral-load", "222 N"),
        ("ada-2010/width/clear", "815 mm"),
        ("ibc-2018/width/clear", "813 mm"),
        ("ada-2010/force/interior-hinged", "22.2 N"),
        ("cbc-2022/accessible/powered-alternative", "38 N"),
        ("ibc-2021/egress-force/latch-rotation", "315 N-cm"),
    ],
)
def test_printed_si_is_kept_beside_and_never_decides(name: str, printed: str) -> None:
    """What a publisher prints in SI is rounded; it is kept as text, not as a bound."""
    spec = packaged(name).spec
    assert isinstance(spec, LimitSpec)
    assert spec.printed_si == printed
