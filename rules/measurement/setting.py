"""What was said about a travel trace besides its samples."""

from __future__ import annotations

from dataclasses import dataclass

from rules.quantities import Unit


@dataclass(frozen=True, slots=True)
class Setting:
    """What was said about a trace: the unit of its positions, its samples a second, the moment of
    the signal, the taped travel and the sensor's standard error in seconds and metres, whether
    positions shrink while the door closes because they measure the opening that is left, whether
    they come in coarse steps, and the width in metres that an opening must reach.
    """

    unit: Unit
    rate: float
    signal_at: float | None
    travel: float | None
    sensor_error: float
    measures_opening: bool
    coarse: bool = False
    required_width: float | None = None
