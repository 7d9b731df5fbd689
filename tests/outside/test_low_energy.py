"""The closing time of a low-energy swinging door against its published limit of energy.

W-numbers are those of the project's table of worked examples.
"""

from __future__ import annotations

from math import pi, sqrt

import pytest

from rules.quantities import parse_quantity, unit


def test_the_closing_time_formula_keeps_the_energy_under_its_limit() -> None:
    """W22: T = D sqrt(W) / 133 s for a leaf of D inches and W pounds is 2.707 s for 36 in and
    100 lb, and a uniform leaf that swings 80 degrees in that time has 1.24 lbf-ft, under the
    1.25 lbf-ft that A156.19-1997, 4.5, sets (secondary). The formula is from memory and was not
    read: this holds it and the published limit together, and no requirement rests on it.
    """
    width, mass = parse_quantity("36 in"), parse_quantity("100 lb")
    limit = parse_quantity("1.25 lbf*ft")
    time = float(width.value) * sqrt(mass.value) / 133
    assert time == pytest.approx(2.707, abs=5e-4)
    turning = 80 / 180 * pi / time
    joules = float(mass.si) * float(width.si) ** 2 / 3 * turning**2 / 2
    energy = joules / float(unit("lbf*ft").factor)
    assert energy == pytest.approx(1.24, abs=5e-3)
    assert energy <= float(limit.value)
