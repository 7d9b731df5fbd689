"""The one list of what can be measured or read at a door: name, dimension, plain words.

A reading or a limit that names anything else is refused. Forces with different end points are
different quantities: latch release, setting in motion and moving on are never one number.
"""

from __future__ import annotations

from dataclasses import dataclass

from rules.quantities import Dimension, Unit, comparable, unit


@dataclass(frozen=True, slots=True)
class Measurand:
    """What readings of one name are: their dimension, and in plain words what is read."""

    dimension: Dimension
    words: str


_FORCE, _SPEED, _TIME = Dimension.FORCE, Dimension.SPEED, Dimension.TIME
_LENGTH, _VOLTAGE, _COUNT = Dimension.LENGTH, Dimension.VOLTAGE, Dimension.COUNT

QUANTITIES: dict[str, Measurand] = {
    # forces by hand
    "latch_release_force": Measurand(_FORCE, "force that releases the latch"),
    "latch_release_torque": Measurand(
        Dimension.TORQUE, "torque that releases the latch by turning"
    ),
    "set_in_motion_force": Measurand(_FORCE, "peak force that sets the resting leaf in motion"),
    "opening_force": Measurand(_FORCE, "force that keeps the leaf opening to the stated end point"),
    "opening_force_0_to_30_deg": Measurand(_FORCE, "opening force from closed to 30 degrees"),
    "opening_force_30_to_60_deg": Measurand(_FORCE, "opening force from 30 to 60 degrees"),
    "closing_force": Measurand(_FORCE, "force that closes the leaf by hand"),
    "egress_panel_force": Measurand(_FORCE, "push on the egress panel that makes the door retract"),
    "operating_device_force": Measurand(
        _FORCE, "push on the operating device in the direction of egress"
    ),
    "lateral_load_opening_force": Measurand(
        _FORCE, "opening force while the stated test load pushes square to the leaf"
    ),
    # forces of a driven leaf
    "stopped_door_hold_force": Measurand(_FORCE, "force that prevents a stopped leaf from moving"),
    "stop_closing_force": Measurand(_FORCE, "force that stops the closing leaf"),
    "static_closing_force": Measurand(_FORCE, "force of the closing leaf on a fixed body in a gap"),
    "obstruction_contact_force": Measurand(_FORCE, "force at contact with an obstruction"),
    "kinetic_energy": Measurand(Dimension.ENERGY, "kinetic energy of the moving leaf"),
    # motion and time
    "closing_speed": Measurand(_SPEED, "average speed from leaving open to the strike"),
    "peak_closing_speed": Measurand(_SPEED, "greatest speed while closing"),
    "opening_speed": Measurand(_SPEED, "average speed while opening"),
    "start_delay": Measurand(_TIME, "from the release or signal to the leaf's first movement"),
    "closing_time": Measurand(_TIME, "from the leaf's first movement to the strike"),
    "closing_time_90_to_12_deg": Measurand(_TIME, "closer: from 90 degrees to 12 from the latch"),
    "closing_time_70_deg_to_3_in": Measurand(
        _TIME, "closer: from 70 degrees to 3 in from the latch"
    ),
    "closing_time_70_deg_to_closed": Measurand(_TIME, "spring hinge: from 70 degrees to closed"),
    "closing_time_90_to_10_deg": Measurand(_TIME, "driven swing leaf: from 90 to 10 degrees"),
    "closing_time_10_to_0_deg": Measurand(_TIME, "driven swing leaf: from 10 degrees to closed"),
    "opening_time": Measurand(_TIME, "driven leaf: from closed to fully open"),
    "opening_time_to_backcheck": Measurand(
        _TIME, "driven swing leaf: from closed to backcheck or 80 degrees"
    ),
    "opening_time_to_width": Measurand(
        _TIME, "from use of the operating device to the required clear width"
    ),
    "hold_open_time": Measurand(_TIME, "how long a driven leaf stays open before it closes"),
    "obstruction_pause": Measurand(_TIME, "pause at an obstruction before closing resumes"),
    "obstruction_attempts": Measurand(_COUNT, "attempts to close against an obstruction"),
    "reopening_pause": Measurand(_TIME, "pause after retraction before the door closes again"),
    "trouble_signal_delay": Measurand(_TIME, "from the fault to its trouble signal"),
    "supervision_rate": Measurand(_COUNT, "self-supervision cycles in one second"),
    # lengths
    "clear_width": Measurand(_LENGTH, "clear opening width of all leaves together"),
    "clear_width_power_off": Measurand(_LENGTH, "clear opening width with the power off"),
    "clear_width_one_leaf": Measurand(_LENGTH, "clear opening width of one leaf at 90 degrees"),
    "clear_width_per_person": Measurand(_LENGTH, "clear width divided by the people it serves"),
    "stair_width_per_person": Measurand(_LENGTH, "stair width divided by the people it serves"),
    "exit_access_width": Measurand(_LENGTH, "narrowest width of the way to the exit"),
    "leaf_width": Measurand(_LENGTH, "width of one leaf"),
    "gap": Measurand(_LENGTH, "clearance at head, jamb, strike or meeting edge; the worst"),
    "gap_bottom": Measurand(_LENGTH, "clearance under the door; the worst"),
    "retraction_distance": Measurand(_LENGTH, "how far one push makes the door retract"),
    "reversal_distance": Measurand(_LENGTH, "how far the door backs off from an obstruction"),
    "track_height": Measurand(_LENGTH, "height of the tracks above the ceiling line"),
    "sign_letter_height": Measurand(_LENGTH, "height of the letters of a required sign"),
    "barrier_height": Measurand(_LENGTH, "height of a barrier that keeps piled goods off"),
    # power
    "standby_cycles": Measurand(_COUNT, "closing cycles on the secondary supply alone"),
    "standby_time": Measurand(_TIME, "time the secondary supply carries the quiescent load"),
    "standby_alarm_time": Measurand(_TIME, "time the secondary supply then carries the alarm load"),
    "battery_float_voltage": Measurand(_VOLTAGE, "at the terminals, charger on, door at rest"),
    "battery_charge_end_voltage": Measurand(_VOLTAGE, "at the terminals at the end of a charge"),
    "battery_close_voltage": Measurand(_VOLTAGE, "at which the door closes by itself"),
    "battery_trouble_voltage": Measurand(_VOLTAGE, "at which the low-battery trouble is signalled"),
    "battery_cutoff_voltage": Measurand(_VOLTAGE, "at which discharge must end"),
    "battery_load_voltage": Measurand(_VOLTAGE, "at the terminals under load"),
    "battery_capacity": Measurand(Dimension.CHARGE, "installed or measured capacity"),
    "battery_capacity_ratio": Measurand(_COUNT, "installed capacity over the calculated need"),
    "battery_discharge_ratio": Measurand(_COUNT, "discharge factor in the capacity calculation"),
    "operating_supply_ratio": Measurand(_COUNT, "supply voltage over the nameplate voltage"),
    "peukert_exponent": Measurand(_COUNT, "exponent of the battery's capacity against current"),
    # what a check of a self-closing leaf starts from
    "release_angle": Measurand(Dimension.ANGLE, "angle from which the leaf is let go to close"),
}


def measurand(name: str) -> Measurand | None:
    """What that quantity is, or None where the library knows no such name."""
    return QUANTITIES.get(name)


def measures(name: str, of: Unit) -> bool:
    """Whether readings of that quantity may be given in that unit."""
    return comparable(of, _PROBES[QUANTITIES[name].dimension])


_PROBES: dict[Dimension, Unit] = {
    Dimension.FORCE: unit("N"),
    Dimension.SPEED: unit("m/s"),
    Dimension.LENGTH: unit("m"),
    Dimension.TIME: unit("s"),
    Dimension.VOLTAGE: unit("V"),
    Dimension.TORQUE: unit("N*m"),
    Dimension.ENERGY: unit("J"),
    Dimension.CHARGE: unit("Ah"),
    Dimension.COUNT: unit("1"),
    Dimension.ANGLE: unit("deg"),
}
