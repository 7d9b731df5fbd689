"""What can be measured on a door: the one list of quantity names, each with its dimension.

"Measurand" is the metrologists' word for a quantity intended to be measured (JCGM 200:2012,
2.3). Data files, findings and traces may name only these; none of them can be negative.
"""

from __future__ import annotations

from dataclasses import dataclass

from rules.quantities import Dimension, Unit, comparable, unit


@dataclass(frozen=True, slots=True)
class Measurand:
    """A quantity by its name in the data, what it measures, and in words."""

    name: str
    dimension: Dimension
    meaning: str

    def takes(self, other: Unit) -> bool:
        """Whether a value in that unit can be a value of this quantity."""
        return comparable(_COHERENT[self.dimension], other)


_COHERENT = {
    Dimension.FORCE: unit("N"),
    Dimension.SPEED: unit("m/s"),
    Dimension.LENGTH: unit("m"),
    Dimension.TIME: unit("s"),
    Dimension.VOLTAGE: unit("V"),
    Dimension.TORQUE: unit("N*m"),
    Dimension.ENERGY: unit("J"),
    Dimension.CHARGE: unit("Ah"),
    Dimension.CURRENT: unit("A"),
    Dimension.ANGLE: unit("deg"),
    Dimension.MASS: unit("kg"),
    Dimension.COUNT: unit("1"),
}


def _table(*rows: tuple[str, Dimension, str]) -> dict[str, Measurand]:
    return {name: Measurand(name, dimension, meaning) for name, dimension, meaning in rows}


MEASURANDS: dict[str, Measurand] = _table(
    ("latch_release_force", Dimension.FORCE, "force that releases the latch"),
    ("latch_release_torque", Dimension.TORQUE, "torque that releases the latch by rotation"),
    ("set_in_motion_force", Dimension.FORCE, "force that sets the leaf in motion"),
    ("opening_force", Dimension.FORCE, "force that opens the leaf to the required width"),
    ("closing_force", Dimension.FORCE, "force that closes the leaf by hand"),
    ("egress_panel_force", Dimension.FORCE, "push on the egress panel that opens the door"),
    ("lateral_load_opening_force", Dimension.FORCE, "opening force under a load across the leaf"),
    ("stop_force", Dimension.FORCE, "force that stops the moving leaf, or holds a stopped one"),
    ("static_closing_force", Dimension.FORCE, "force of a closing leaf held still"),
    ("obstruction_force", Dimension.FORCE, "force of the leading edge on an obstruction"),
    ("kinetic_energy", Dimension.ENERGY, "kinetic energy of the moving leaf"),
    ("closing_speed", Dimension.SPEED, "mean speed of the leading edge while closing"),
    ("opening_speed", Dimension.SPEED, "mean speed of the leading edge while opening"),
    ("start_delay", Dimension.TIME, "from the release until closing starts"),
    ("closing_time", Dimension.TIME, "from leaving full open until closed"),
    ("latch_closing_time", Dimension.TIME, "the last part of the closing, down to the latch"),
    ("opening_time", Dimension.TIME, "from the start of opening until open"),
    ("opening_time_to_width", Dimension.TIME, "from the operating device to the required width"),
    ("hold_open_time", Dimension.TIME, "how long the leaf stays open before closing"),
    ("pause_time", Dimension.TIME, "pause at an obstruction, or before closing again"),
    ("obstruction_attempts", Dimension.COUNT, "how often closing is tried again"),
    ("trouble_signal_delay", Dimension.TIME, "from a fault until its trouble signal"),
    ("clear_width", Dimension.LENGTH, "clear width of the opening, at its narrowest"),
    ("leaf_width", Dimension.LENGTH, "width of one leaf"),
    ("gap", Dimension.LENGTH, "gap between the leaf and what surrounds it"),
    ("bottom_gap", Dimension.LENGTH, "gap under the leaf"),
    ("retraction_distance", Dimension.LENGTH, "how far one push makes the door retract"),
    ("sign_letter_height", Dimension.LENGTH, "height of the letters of a sign"),
    ("battery_float_voltage", Dimension.VOLTAGE, "battery voltage on the charger"),
    ("battery_low_voltage", Dimension.VOLTAGE, "battery voltage at the low-battery signal"),
    ("battery_close_voltage", Dimension.VOLTAGE, "battery voltage at which the door closes"),
    ("battery_capacity", Dimension.CHARGE, "charge the battery can give"),
    ("standby_cycles", Dimension.COUNT, "closing cycles on standby power"),
    ("standby_time", Dimension.TIME, "time on standby power"),
    ("alarm_time", Dimension.TIME, "time in alarm after standby"),
)
