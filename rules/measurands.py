"""What can be measured on a door: the one list of quantity names, each with its dimension.

"Measurand" is the metrologists' word for a quantity intended to be measured (JCGM 200:2012,
2.3). Data files, findings and traces may name only these; none of them can be negative. Forces
with different end points are different quantities: releasing the latch, setting the leaf in
motion and moving it on are never one number.
"""

from __future__ import annotations

from dataclasses import dataclass

from rules.quantities import UNITS, Dimension, Unit, comparable, unit


@dataclass(frozen=True, slots=True)
class Share:
    """A quantity divided by a fact of the opening: `of` is what is measured, `fact` what it is
    divided by, `words` what that is called. Where `expected` is False, no limit stands while the
    fact is unknown; else it is unknown what the limit is.
    """

    of: str
    fact: str
    words: str
    expected: bool = True


@dataclass(frozen=True, slots=True)
class Measurand:
    """A quantity by its name in the data, what it measures, and in words. A limit on one that is a
    `share` is judged as a limit on the whole.
    """

    name: str
    dimension: Dimension
    meaning: str
    share: Share | None = None

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


_SHARES = {
    "clear_width_per_person": Share("clear_width", "occupant_load", "occupants"),
    "stair_width_per_person": Share("stair_width", "occupant_load", "occupants"),
    "clear_width_ratio": Share(
        "clear_width", "required_clear_width", "the width required on record", expected=False
    ),
}


def _table(*rows: tuple[str, Dimension, str]) -> dict[str, Measurand]:
    return {
        name: Measurand(name, dimension, meaning, _SHARES.get(name))
        for name, dimension, meaning in rows
    }


MEASURANDS: dict[str, Measurand] = _table(
    # moved by hand
    ("latch_release_force", Dimension.FORCE, "force that releases the latch"),
    ("latch_release_torque", Dimension.TORQUE, "torque that releases the latch by rotation"),
    ("set_in_motion_force", Dimension.FORCE, "force that sets the leaf in motion"),
    ("opening_force", Dimension.FORCE, "force that opens the leaf to the stated end point"),
    ("opening_force_0_to_30_deg", Dimension.FORCE, "opening force from closed to 30 degrees"),
    ("opening_force_30_to_60_deg", Dimension.FORCE, "opening force from 30 to 60 degrees"),
    ("closing_force", Dimension.FORCE, "force that closes the leaf by hand"),
    ("egress_panel_force", Dimension.FORCE, "push on the egress panel that opens the door"),
    ("lateral_load_opening_force", Dimension.FORCE, "opening force under a load across the leaf"),
    # moved by power
    ("stop_force", Dimension.FORCE, "force that stops the moving leaf"),
    ("stopped_door_force", Dimension.FORCE, "force that keeps a stopped leaf from moving on"),
    ("static_closing_force", Dimension.FORCE, "force of a closing leaf held still"),
    ("obstruction_force", Dimension.FORCE, "force of the leading edge on an obstruction"),
    ("kinetic_energy", Dimension.ENERGY, "kinetic energy of the moving leaf"),
    ("closing_speed", Dimension.SPEED, "mean speed of the leading edge while closing"),
    ("peak_closing_speed", Dimension.SPEED, "greatest speed of the leading edge while closing"),
    ("opening_speed", Dimension.SPEED, "mean speed of the leading edge while opening"),
    # times
    ("start_delay", Dimension.TIME, "from the release until closing starts"),
    ("closing_time", Dimension.TIME, "from leaving full open until closed"),
    ("closing_time_90_to_12_deg", Dimension.TIME, "closer: from 90 to 12 degrees from the latch"),
    ("closing_time_70_deg_to_3_in", Dimension.TIME, "closer: from 70 degrees to 3 in from latch"),
    ("closing_time_70_deg_to_0", Dimension.TIME, "spring hinge: from 70 degrees to closed"),
    ("closing_time_90_to_10_deg", Dimension.TIME, "driven leaf: from 90 to 10 degrees"),
    ("latch_closing_time", Dimension.TIME, "the last 10 degrees of closing, down to the latch"),
    ("opening_time", Dimension.TIME, "from the start of opening until open"),
    ("opening_time_to_backcheck", Dimension.TIME, "from closed to backcheck or 80 degrees"),
    ("opening_time_to_width", Dimension.TIME, "from the operating device to the required width"),
    ("hold_open_time", Dimension.TIME, "how long the leaf stays open before closing"),
    ("pause_time", Dimension.TIME, "pause at an obstruction, or before closing again"),
    ("obstruction_attempts", Dimension.COUNT, "how often closing is tried again"),
    ("trouble_signal_delay", Dimension.TIME, "from a fault until its trouble signal"),
    ("supervision_rate", Dimension.COUNT, "times a second that the control checks itself"),
    # lengths and angles
    ("clear_width", Dimension.LENGTH, "clear width of the opening, at its narrowest"),
    ("clear_width_power_off", Dimension.LENGTH, "clear width obtained with the power off"),
    ("clear_width_one_leaf", Dimension.LENGTH, "clear width that one leaf gives at 90 degrees"),
    ("clear_width_per_person", Dimension.LENGTH, "clear width divided by the people it serves"),
    ("clear_width_ratio", Dimension.COUNT, "clear width over the width required on record"),
    ("stair_width", Dimension.LENGTH, "width of the stair, at its narrowest"),
    ("stair_width_per_person", Dimension.LENGTH, "stair width divided by the people it serves"),
    ("exit_access_width", Dimension.LENGTH, "width of the way to the exit, at its narrowest"),
    ("leaf_width", Dimension.LENGTH, "width of one leaf"),
    ("gap", Dimension.LENGTH, "gap between the leaf and what surrounds it"),
    ("bottom_gap", Dimension.LENGTH, "gap under the leaf"),
    ("retraction_distance", Dimension.LENGTH, "how far one push makes the door retract"),
    ("reversal_distance", Dimension.LENGTH, "how far the door backs off from an obstruction"),
    ("track_height", Dimension.LENGTH, "height of the tracks above the ceiling line"),
    ("sign_letter_height", Dimension.LENGTH, "height of the letters of a sign"),
    ("release_angle", Dimension.ANGLE, "angle from which the leaf is let go to close"),
    # secondary power
    ("battery_float_voltage", Dimension.VOLTAGE, "battery voltage on the charger"),
    ("battery_charge_end_voltage", Dimension.VOLTAGE, "battery voltage at the end of a charge"),
    ("battery_low_voltage", Dimension.VOLTAGE, "battery voltage at the low-battery signal"),
    ("battery_close_voltage", Dimension.VOLTAGE, "battery voltage at which the door closes"),
    ("battery_cutoff_voltage", Dimension.VOLTAGE, "battery voltage at which discharge must end"),
    ("battery_load_voltage", Dimension.VOLTAGE, "battery voltage under load"),
    ("battery_capacity", Dimension.CHARGE, "charge the battery can give"),
    ("battery_capacity_ratio", Dimension.COUNT, "installed capacity over the calculated need"),
    ("battery_discharge_ratio", Dimension.COUNT, "discharge factor in the capacity calculation"),
    ("peukert_exponent", Dimension.COUNT, "exponent of capacity against discharge current"),
    ("operating_supply_ratio", Dimension.COUNT, "supply voltage over the nameplate voltage"),
    ("standby_cycles", Dimension.COUNT, "closing cycles on standby power"),
    ("standby_time", Dimension.TIME, "time on standby power"),
    ("alarm_time", Dimension.TIME, "time in alarm after standby"),
)


def units_of(name: str) -> list[str]:
    """The symbols of the units in which a value of the quantity of that name can be written."""
    return [symbol for symbol, each in UNITS.items() if MEASURANDS[name].takes(each)]
