"""The clear width that an occupant load needs, and how many pushes of the egress panel give it.

Exact arithmetic. The width is the load times the width per person, not less than the minimum;
pushes are the width divided by the distance one push retracts the door, rounded up. A load may
also be counted from a floor area, rounded up to whole people.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil, floor

from rules.errors import InputError
from rules.measurement.answer import fraction_text
from rules.measurement.fields import Fields
from rules.quantities import Dimension

FIELDS = frozenset(
    (
        *("occupant_load", "floor_area", "area_per_person", "width_per_person", "minimum"),
        *("increment", "clear_width"),
    )
)
MAX_LOAD = 1_000_000


def measure_egress_width(trace: Mapping[str, object]) -> dict[str, object]:
    """What is needed, which of load and minimum governs, and, where given, pushes and capacity."""
    fields = Fields(trace, FIELDS)
    load = _load(fields)
    each = fields.needed_measure("width_per_person", Dimension.LENGTH, above=0)
    minimum = fields.measure("minimum", Dimension.LENGTH)
    needed = load * each.value
    least = minimum.in_unit(each.unit) if minimum else needed
    governs = "minimum" if least > needed else "occupant_load"
    width = max(needed, least)
    answer: dict[str, object] = {
        "readings": [],
        "occupant_load": load,
        "required_clear_width": {"value": fraction_text(width), "unit": each.unit.symbol},
        "width_for_load": {"value": fraction_text(needed), "unit": each.unit.symbol},
        "governed_by": governs,
    }
    increment = fields.measure("increment", Dimension.LENGTH, above=0)
    if increment:
        answer["pushes"] = ceil(width / increment.in_unit(each.unit))
    clear = fields.measure("clear_width", Dimension.LENGTH)
    if clear:
        answer["capacity"] = floor(clear.in_unit(each.unit) / each.value)
    return answer


def _load(fields: Fields) -> int:
    if fields.has("occupant_load"):
        if fields.has("floor_area"):
            message = "a load is given; a floor area beside it would not count"
            raise InputError.at("/floor_area", "not_both", message)
        load = fields.needed_number("occupant_load")
        if load.denominator != 1 or load > MAX_LOAD:
            message = f"a whole number of people, at most {MAX_LOAD}"
            raise InputError.at("/occupant_load", "out_of_range", message)
        return int(load)
    area = fields.needed_number("floor_area")
    load = area / fields.needed_number("area_per_person", above=0)
    if load > MAX_LOAD:
        raise InputError.at("/floor_area", "out_of_range", f"more than {MAX_LOAD} people")
    return ceil(load)
