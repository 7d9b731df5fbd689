"""The project's table of limits, row by row, and the requirement that each row became.

The left column is the row (section and number, or the section alone where its rows have no
number); `trade` is the notes on the trade, which add checks, courses and clearances. What stands
in no row stands in no data file.
"""

# row, requirement, lower bound, upper bound, standing
LIMITS = """
1.1   ibc-2009/egress-force/latch-release                 -         15_lbf      secondary
1.1   ibc-2012/egress-force/latch-release                 -         15_lbf      secondary
1.1   ibc-2015/egress-force/latch-release                 -         15_lbf      secondary
1.1   ibc-2018/egress-force/latch-release                 -         15_lbf      secondary
1.1   ibc-2021/egress-force/latch-release                 -         15_lbf      secondary
1.1   ibc-2021/egress-force/latch-rotation                -         28_lbf*in   secondary
1.2   ibc-2009/egress-force/set-in-motion                 -         30_lbf      secondary
1.2   ibc-2018/egress-force/set-in-motion                 -         30_lbf      secondary
1.2   ibc-2021/egress-force/set-in-motion                 -         30_lbf      secondary
1.2   ibc-2012/egress-force/set-in-motion                 -         30_lbf      secondary
1.2   ibc-2015/egress-force/set-in-motion                 -         30_lbf      secondary
1.3   ibc-2009/egress-force/open-fully                    -         15_lbf      secondary
1.3   ibc-2018/egress-force/open-fully                    -         15_lbf      secondary
1.3   ibc-2012/egress-force/open-fully                    -         15_lbf      secondary
1.3   ibc-2015/egress-force/open-fully                    -         15_lbf      secondary
1.4   ibc-2009/egress-force/interior-swinging             -         5_lbf       secondary
1.4   ibc-2018/egress-force/interior-swinging             -         5_lbf       secondary
1.4   ibc-2012/egress-force/interior-swinging             -         5_lbf       secondary
1.4   ibc-2015/egress-force/interior-swinging             -         5_lbf       secondary
1.5   ibc-2006/special-purpose/set-in-motion              -         30_lbf      secondary
1.5   ibc-2012/special-purpose/set-in-motion              -         30_lbf      secondary
1.5   ibc-2015/special-purpose/set-in-motion              -         30_lbf      secondary
1.5   ibc-2018/special-purpose/set-in-motion              -         30_lbf      secondary
1.5   ibc-2021/special-purpose/set-in-motion              -         30_lbf      secondary
1.6   ibc-2018/special-purpose/close                      -         15_lbf      secondary
1.6   ibc-2018/special-purpose/open-to-width              -         15_lbf      secondary
1.6   ibc-2021/special-purpose/close                      -         15_lbf      secondary
1.6   ibc-2006/special-purpose/close                      -         15_lbf      secondary
1.6   ibc-2006/special-purpose/open-to-width              -         15_lbf      secondary
1.6   ibc-2012/special-purpose/close                      -         15_lbf      secondary
1.6   ibc-2012/special-purpose/open-to-width              -         15_lbf      secondary
1.6   ibc-2015/special-purpose/close                      -         15_lbf      secondary
1.6   ibc-2015/special-purpose/open-to-width              -         15_lbf      secondary
1.6   ibc-2021/special-purpose/open-to-width              -         15_lbf      secondary
1.7   ibc-2018/special-purpose/lateral-load               -         15_lbf      secondary
1.7   ibc-2021/special-purpose/lateral-load               -         15_lbf      secondary
1.7   nfpa-101-2012/special-purpose/lateral-load          -         50_lbf      from_memory
1.7   nfpa-101-2012/special-purpose/lateral-load-existing -         50_lbf      from_memory
1.7   ibc-2006/special-purpose/lateral-load               -         15_lbf      secondary
1.7   ibc-2012/special-purpose/lateral-load               -         15_lbf      secondary
1.7   ibc-2015/special-purpose/lateral-load               -         15_lbf      secondary
1.7b  ibc-2006/special-purpose/time-to-width              -         10_s        secondary
1.7b  ibc-2018/special-purpose/time-to-width              -         10_s        secondary
1.8   nfpa-101-2012/special-purpose/set-in-motion         -         30_lbf      secondary
1.8   nfpa-101-2012/special-purpose/open                  -         15_lbf      secondary
1.8   nfpa-101-2012/special-purpose/close                 -         15_lbf      secondary
1.8   nfpa-101-2012/special-purpose/device-push           -         15_lbf      from_memory
1.9   nfpa-101-2000/egress-force/latch-release            -         15_lbf      secondary
1.9   nfpa-101-2000/egress-force/set-in-motion            -         30_lbf      secondary
1.9   nfpa-101-2000/egress-force/open-to-width            -         15_lbf      secondary
1.10  nfpa-101-2000/egress-force/interior-without-closer  -         5_lbf       secondary
1.11  nfpa-101-2000/egress-force/existing-set-in-motion   -         50_lbf      secondary
1.11  nfpa-101-2000/egress-force/existing-latch-release   -         50_lbf      secondary
1.11  nfpa-101-2000/egress-force/existing-open-to-width   -         50_lbf      secondary
1.12  ibc-2018/power-lost/set-in-motion                   -         50_lbf      secondary
1.12  ibc-2018/power-lost/latch-release                   -         15_lbf      secondary
1.12  ibc-2018/power-lost/open-fully                      -         15_lbf      secondary
1.12  ibc-2021/power-lost/set-in-motion                   -         50_lbf      secondary
1.12  ibc-2015/power-lost/set-in-motion                   -         50_lbf      secondary
1.12  ibc-2015/power-lost/latch-release                   -         15_lbf      secondary
1.12  ibc-2015/power-lost/open-fully                      -         15_lbf      secondary
1.12  ibc-2021/power-lost/latch-release                   -         15_lbf      secondary
1.12  ibc-2021/power-lost/open-fully                      -         15_lbf      secondary
1.13  a156.19-1997/power-lost/latch-release               -         15_lbf      secondary
1.13  a156.19-1997/power-lost/latch-rotation              -         40_lbf*in   secondary
1.13  a156.19-1997/power-lost/set-in-motion               -         30_lbf      secondary
1.13  a156.19-1997/power-lost/open-fully                  -         15_lbf      secondary
1.14  a156.19-1997/stopped-door                           -         15_lbf      secondary
1.15  ada-2010/force/interior-hinged                      -         5_lbf       secondary
1.15  ada-2010/force/sliding-folding                      -         5_lbf       secondary
1.15  a117.1-2009/force/interior-hinged                   -         5_lbf       secondary
1.15  a117.1-2017/force/sliding-folding                   -         5_lbf       secondary
1.15  a117.1-2009/force/sliding-folding                   -         5_lbf       secondary
1.15  a117.1-2017/force/interior-hinged                   -         5_lbf       secondary
1.16  cbc-11b/accessible/fire-door                        -         15_lbf      secondary
1.16  cbc-11b/accessible/exterior-hinged                  -         5_lbf       secondary
1.17  cbc-2013/accessible/powered-alternative             -         8.5_lbf     secondary
1.17  cbc-2022/accessible/powered-alternative             -         8.5_lbf     secondary
1.18  en-16005-2012/power-lost/latch-release              -         67_N        secondary
1.18  en-16005-2012/power-lost/set-in-motion              -         90_N        secondary
1.18  en-16005-2012/power-lost/open-fully                 -         67_N        secondary
1.19  o-reg-332-12/exit-door/force                        -         90_N        secondary
1.19  nbc/barrier-free/exterior                           -         38_N        from_memory
1.19  nbc/barrier-free/interior                           -         22_N        from_memory
1.20  bs-8300-2-2018/opening-force-to-30                  -         30_N        secondary
1.20  bs-8300-2-2018/opening-force-to-60                  -         22.5_N      secondary
1.20  approved-document-m-volume-2/opening-force-to-30    -         30_N        secondary
1.20  approved-document-m-2004/opening-force              -         20_N        secondary
1.20  approved-document-m-volume-2/opening-force-to-60    -         22.5_N      secondary
2.1   nfpa-80-2007/rolling/closing-speed                  6_in/s    24_in/s     secondary
2.1   nfpa-80-2022/rolling/closing-speed                  6_in/s    24_in/s     secondary
2.2   sliding-door-course/closing-speed                   6_in/s    24_in/s     secondary
2.2   nfpa-80-1999/sliding/closing-speed                  6_in/s    24_in/s     secondary
2.2   nfpa-80-1999/sliding/start-delay                    -         10_s        secondary
2.3   ada-2010/closer-time                                5_s       -           secondary
2.3   adaag-1991/closer-time                              3_s       -           from_memory
2.4   ada-2010/spring-hinge-time                          1.5_s     -           secondary
2.5   a156.19-1997/open/to-backcheck                      3_s       -           secondary
2.5   a156.19-1997/open/total                             4_s       -           secondary
2.6   a156.19-1997/close/to-10-degrees                    3_s       -           secondary
2.6   a156.19-1997/close/to-latch                         1.5_s     -           secondary
2.7   a156.19-1997/hold-open                              5_s       -           secondary
2.8   a156.19-1997/kinetic-energy                         -         1.25_lbf*ft secondary
2.8   en-16005-2012/kinetic-energy                        -         1.69_J      secondary
2.9   en-16005-2012/static-closing-force                  -         150_N       secondary
4     ibc-2018/width/clear                                32_in     -           secondary
4     ada-2010/width/clear                                32_in     -           secondary
4     nfpa-101-2000/width/existing-clear                  28_in     -           secondary
4     nfpa-101-2000/width/leaf                            -         48_in       secondary
4     ibc-2018/width/leaf                                 -         48_in       secondary
4     ada-2010/width/automatic-power-on                   32_in     -           secondary
4     ada-2010/width/automatic-power-off                  32_in     -           secondary
4     cbc-2022/accessible/one-leaf                        32_in     -           secondary
4     29-cfr-1910-36/exit-access-width                    28_in     -           secondary
4     ibc-2018/capacity/door                              0.2_in    -           secondary
trade opening-record/width/required                     1         -           secondary
4     ibc-2018/capacity/door-sprinklered                  0.15_in   -           secondary
4     nyc-bc/capacity/door                                0.2_in    -           secondary
4     nfpa-101-2000/capacity/door                         0.2_in    -           secondary
4     ibc-2018/capacity/stair                             0.3_in    -           secondary
4     ibc-2018/capacity/stair-sprinklered                 0.2_in    -           secondary
4     nyc-bc/capacity/stair                               0.3_in    -           secondary
4     ibc-2015/width/clear                                32_in     -           secondary
4     ibc-2012/capacity/door                              0.2_in    -           secondary
4     ibc-2012/capacity/door-sprinklered                  0.15_in   -           secondary
4     ibc-2012/capacity/stair                             0.3_in    -           secondary
4     ibc-2012/capacity/stair-sprinklered                 0.2_in    -           secondary
5     ibc-2015/standby/closing-cycles                     50_cycles -           secondary
5     ibc-2018/standby/closing-cycles                     50_cycles -           secondary
5     sbc-801/standby/closing-cycles                      50_cycles -           secondary
5     nfpa-72-2010/standby/quiescent                      24_h      -           secondary
5     nfpa-72-2010/standby/alarm                          5_min     -           secondary
5     nfpa-72-2022/standby/alarm-voice                    15_min    -           secondary
5     nfpa-72-2010/battery/margin                         1.20      -           secondary
5     nfpa-72-2022/battery/margin                         1.25      -           secondary
5     nfpa-72-2022/supply/range                           0.85      1.10        secondary
5     bs-5839-1/standby/quiescent                         24_h      -           secondary
5     bs-5839-1/standby/quiescent-unattended              72_h      -           secondary
5     bs-5839-1/standby/alarm                             30_min    -           secondary
5     bs-5839-1/battery/ageing                            1.25      -           secondary
5     din-vde-0833-2/battery/ageing                       1.25      -           secondary
5     din-vde-0833-2/battery/discharge                    1.1       -           secondary
5     battery-textbook/float                              13.2_V    13.8_V      secondary
5     battery-textbook/cutoff                             10.5_V    -           secondary
5     battery-textbook/charge-end                         14.4_V    14.7_V      secondary
5     battery-textbook/peukert-flooded                    1.2       1.6         secondary
5     battery-textbook/peukert-agm                        1.05      1.15        secondary
5     battery-textbook/peukert-gel                        1.1       1.25        secondary
5     nfpa-72-2010/standby/alarm-voice                    15_min    -           secondary
5     nfpa-72-2010/supply/range                           0.85      1.10        secondary
5     nfpa-72-2022/standby/quiescent                      24_h      -           secondary
5     nfpa-72-2022/standby/alarm                          5_min     -           secondary
10    as-1851-2005/gap-head                               -         3_mm        secondary
10    as-1851-2005/gap-bottom                             -         10_mm       secondary
11    common-practice/closing-speed                       6_in/s    24_in/s     common_practice
11    common-practice/manual-set-in-motion                -         30_lbf      common_practice
11    common-practice/manual-opening                      -         15_lbf      common_practice
11    common-practice/battery-float                       13.2_V    13.8_V      common_practice
12    a156.10-1999/sliding/stop-force                     -         30_lbf      secondary
12    a156.10-1999/sliding/closing-speed                  -         1_ft/s      secondary
12    us-mn/sign/letters                                  1_in      -           secondary
12    ifc-2018/existing/interior-swinging                 -         5_lbf       from_memory
12    ifc-2018/existing/latch-release                     -         15_lbf      from_memory
12    ifc-2018/existing/set-in-motion                     -         30_lbf      from_memory
12    ifc-2018/existing/open-fully                        -         50_lbf      from_memory
12    ifc-2018/existing/clear-width                       28_in     -           from_memory
12    ifc-2018/existing/clear-width-health-care           32_in     -           from_memory
trade nfpa-80-2007/swinging/gap                           -         0.125_in    secondary
trade nfpa-80-2007/swinging/bottom-gap                    -         0.75_in     secondary
trade nfpa-80-2007/swinging/gap-steel                     -         0.1875_in   from_memory
"""

# row, requirement, what is usual: told and held against nothing, standing
NOMINAL = """
11 common-practice/closing-speed      10_in/s common_practice
11 common-practice/egress-panel-force 4_lbf   common_practice
11 common-practice/battery-float      13.8_V  common_practice
11 common-practice/battery-closes-at  11_V    common_practice
11 common-practice/supervision        3       common_practice
"""

# row, requirement, the sides that a door's own listed instructions give, quantity
PER_DOOR = """
3     per-door/obstruction-force               at_most  obstruction_force
3     per-door/obstruction-pause               between  pause_time
3     per-door/obstruction-attempts            between  obstruction_attempts
3     per-door/obstruction-reversal            at_most  reversal_distance
11    per-door/retraction                      between  retraction_distance
11    per-door/retraction-pause                between  hold_open_time
trade per-door/start-delay                     at_most  start_delay
trade per-door/trouble-delay                   at_most  trouble_signal_delay
trade per-door/gap                             at_most  gap
trade per-door/bottom-gap                      at_most  bottom_gap
12    a156.10-1999/sliding/closing-speed-heavy at_most  closing_speed
11    common-practice/egress-panel-force       at_most  egress_panel_force
11    common-practice/battery-closes-at        between  battery_close_voltage
11    common-practice/supervision              at_least supervision_rate
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
6  accreditor-before-2014/frequency/quarterly    operation_test      P3M calendar_period secondary
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
11 common-practice/quarterly-operation-test operation_test P3M - common_practice
12 us-mn/moving-doors/yearly                     periodic_inspection P1Y -               secondary
"""

# row, requirement, how long, from when, standing
RETENTIONS = """
6  nfpa-80-2013/record/retention               P3Y record      verified
6  nfpa-80-2013/record/acceptance-kept         P0D removal     from_memory
6  nfpa-72-2010/record/alarm-tests             P1Y next_record secondary
6  nfpa-72-2010/record/heat-detector-cycle     P6Y record      secondary
10 o-reg-213-07/record/retention               P2Y record      secondary
12 o-reg-213-07/record/retention-long-interval P1Y next_record secondary
12 us-mn/record/retention                      P3Y record      secondary
"""

# row, requirement, out of service for longer than, standing
IMPAIRMENTS = """
7 nfpa-101-2009/impairment/fire-alarm      PT4H  secondary
7 nfpa-101-2012/impairment/sprinklers      PT10H from_memory
7 county-form-nfpa-1/impairment/fire-alarm PT8H  secondary
7 county-form-nfpa-1/impairment/sprinklers PT10H secondary
7 ifc-2018/impairment                      -     from_memory
7 o-reg-213-07/corrected-at-once           -     secondary
7 nfpa-80-2007/defects-without-delay       -     from_memory
"""

# row, requirement, standing
CHECKS = """
3     ibc-2006/special-purpose/operable                  secondary
12    ibc-2006/special-purpose/power-and-manual          secondary
12    ibc-2006/special-purpose/closes-by-smoke-detection secondary
12    ibc-2006/special-purpose/standby-supply            secondary
12    ibc-2006/special-purpose/supply-supervised         secondary
3     ibc-2012/special-purpose/operable                  secondary
12    ibc-2012/special-purpose/power-and-manual          secondary
12    ibc-2012/special-purpose/closes-by-smoke-detection secondary
12    ibc-2012/special-purpose/standby-supply            secondary
12    ibc-2012/special-purpose/supply-supervised         secondary
3     ibc-2018/special-purpose/operable                  secondary
12    ibc-2018/special-purpose/power-and-manual          secondary
12    ibc-2018/special-purpose/closes-by-smoke-detection secondary
12    ibc-2018/special-purpose/standby-supply            secondary
12    ibc-2018/special-purpose/supply-supervised         secondary
3     ibc-2021/special-purpose/operable                  secondary
3     nfpa-80-2010/opening-kept-clear                    secondary
3     nfpa-80-2016/opening-kept-clear                    secondary
4     29-cfr-1910-36/self-closing-opening                secondary
4     29-cfr-1910-36/swings-with-egress                  from_memory
4     ibc-2018/swings-with-egress                        secondary
4     nfpa-101-2000/swings-with-egress                   secondary
5     nfpa-72-2010/battery/age                           secondary
5     nfpa-72-2022/battery/age                           secondary
6     nyc-fc-2022/hold-open/manual-control               secondary
7     nfpa-105-2019/repair/original-parts                secondary
10    din-14677-2011/detector/five-years                 secondary
10    din-14677-2011/detector/eight-years                secondary
11    common-practice/drive-chain                        common_practice
11    common-practice/tracks                             common_practice
11    common-practice/leading-edge-cap                   common_practice
12    us-mn/kept-closed-while-repaired                   secondary
trade common-practice/battery-sound                      common_practice
trade common-practice/detectors-placed                   common_practice
trade common-practice/no-field-modification              common_practice
trade common-practice/operating-device-visible           common_practice
trade common-practice/path-and-pocket-clear              common_practice
trade common-practice/seals-present                      common_practice
trade nfpa-80-2007/inspection/looked-at-first            secondary
trade nfpa-80-2007/swinging/no-holes                     secondary
trade nfpa-80-2007/swinging/glazing-intact               secondary
trade nfpa-80-2007/swinging/hardware-aligned             secondary
trade nfpa-80-2013/moving/fusible-links-clean            secondary
trade nfpa-80-2013/moving/guides-sound                   secondary
trade nfpa-80-2013/moving/label-legible                  secondary
trade nfpa-80-2013/moving/no-holes                       secondary
trade nfpa-80-2013/swinging/coordinator                  secondary
trade nfpa-80-2013/swinging/glazing-intact               secondary
trade nfpa-80-2013/swinging/hardware-aligned             secondary
trade nfpa-80-2013/swinging/label-legible                secondary
trade nfpa-80-2013/swinging/no-added-hardware            secondary
trade nfpa-80-2013/swinging/no-field-modification        secondary
trade nfpa-80-2013/swinging/no-holes                     secondary
trade nfpa-80-2013/swinging/no-parts-missing             secondary
trade nfpa-80-2013/swinging/seals-present                secondary
trade nfpa-80-2013/swinging/signs-conform                secondary
"""

# row, requirement, standing
SEQUENCES = """
6     nfpa-80-2007/operation/closes-on-signal    secondary
6     nfpa-80-2007/operation/full-closure        secondary
6     nfpa-80-2007/operation/drop-test           secondary
10    fire-safety-england-2022/self-closing      secondary
11    common-practice/fire-mode-signal           common_practice
11    common-practice/low-battery                common_practice
11    common-practice/mains-loss                 common_practice
11    common-practice/manual-in-fire-mode        common_practice
11    common-practice/manual-without-power       common_practice
11    common-practice/reset                      common_practice
11    common-practice/second-push                common_practice
11    nfpa-80-2007/operation/obstruction         secondary
11    nfpa-80-2007/operation/egress-in-fire-mode secondary
trade common-practice/coordinator-order common_practice
trade common-practice/closes-from-15-degrees common_practice
trade common-practice/trouble/mains common_practice
trade common-practice/trouble/battery common_practice
trade common-practice/trouble/drive common_practice
trade common-practice/trouble/obstruction common_practice
trade common-practice/trouble/not-closed common_practice
trade common-practice/trouble/not-open common_practice
trade common-practice/trouble/key-switch common_practice
trade common-practice/trouble/detector common_practice
trade common-practice/trouble/communication common_practice
3     per-door/obstruction-course secondary
11    per-door/egress-course secondary
trade common-practice/device-fault               common_practice
trade common-practice/mains-loss-and-signal      common_practice
trade common-practice/restore                    common_practice
trade nfpa-80-2007/operation/hold-open-release   secondary
trade nfpa-80-2007/swinging/closes-and-latches   secondary
trade nfpa-80-2013/swinging/closes-and-latches   secondary
"""

# row, requirement, kind, standing
OTHERS = """
4     ibc-2018/permission/manual-sliding                  permission    secondary
4     nfpa-101-2000/permission/manual-sliding             permission    secondary
4     nfpa-101-2012/permission/manual-sliding-health-care permission    secondary
4     ibc-2006/special-purpose/group                      permission    secondary
4     ibc-2012/special-purpose/group                      permission    secondary
4     ibc-2018/special-purpose/group                      permission    secondary
4     nfpa-101-1988/special-purpose/load                  permission    secondary
6     nfpa-80-2007/record/signed                          record        secondary
6     nfpa-80-2013/record/contents                        record        verified
10    din-14677-2011/record/kept                          record        secondary
12    o-reg-213-07/record/contents                        record        secondary
12    us-mn/record/filing                                 filing        secondary
12    us-mn/adopted/nfpa-80-16                            qualification secondary
12    us-mn/adopted/nfpa-101-12                           qualification secondary
trade nfpa-80-2007/inspection/qualified                   qualification secondary
"""

# row, requirement as one state's own rule for existing doors, lower and upper bound, printed SI
EXISTING_IN_MINNESOTA = """
12 ifc-2018/existing/interior-swinging       -     5_lbf  22_N
12 ifc-2018/existing/latch-release           -     15_lbf 66_N
12 ifc-2018/existing/set-in-motion           -     30_lbf 133_N
12 ifc-2018/existing/open-fully              -     50_lbf 222_N
12 ifc-2018/existing/clear-width             28_in -      711_mm
12 ifc-2018/existing/clear-width-health-care 32_in -      810_mm
"""


def rows(table: str) -> list[list[str]]:
    """The rows of a table above, a value and its unit joined by an underscore."""
    return [line.split() for line in table.strip().splitlines()]
