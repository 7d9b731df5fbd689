"""What can be known of an opening: the one list of facts, and the reading of them.

Facts come as JSON: words, `true`/`false`, whole numbers, civil dates as `YYYY-MM-DD`, and
measures as `{"value": "36", "unit": "in"}`. An unknown name or value is refused by its pointer; a
fact that is not given is unknown, never assumed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from fractions import Fraction

from rules.errors import InputError, Problem, escaped
from rules.quantities import Dimension, Quantity, parse_quantity, quantity
from rules.vocabulary import DoorType, Operation

MAX_COUNT = 1_000_000
MAX_TEXT = 40


class FactKind(StrEnum):
    """How a fact is written."""

    FLAG = "flag"
    WORD = "word"
    TEXT = "text"
    COUNT = "count"
    DAY = "day"
    MEASURE = "measure"


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact: how it is written, the words it may be, the dimension of a measure, its sense."""

    name: str
    kind: FactKind
    sense: str
    words: tuple[str, ...] = ()
    dimension: Dimension | None = None


def _flag(name: str, sense: str) -> Fact:
    return Fact(name, FactKind.FLAG, sense)


def _word(name: str, sense: str, *words: str) -> Fact:
    return Fact(name, FactKind.WORD, sense, words=words)


def _day(name: str, sense: str) -> Fact:
    return Fact(name, FactKind.DAY, sense)


def _measure(name: str, dimension: Dimension, sense: str) -> Fact:
    return Fact(name, FactKind.MEASURE, sense, dimension=dimension)


_ALL = (
    _word("door_type", "how the leaf moves", *DoorType),
    _word("operation", "what moves it in ordinary use", *Operation),
    _flag("fire_door", "it is a required fire door assembly"),
    _flag("smoke_rated", "it is rated against smoke leakage"),
    _flag("means_of_egress", "people leave the building through it"),
    _flag("accessible_route", "it stands on an accessible route"),
    _day("installed_on", "day of installation, of the permit where that is known"),
    _day("altered_on", "day of the last alteration that made it a new door to the code"),
    _day("removed_on", "day on which it was removed or replaced"),
    _flag("in_service", "false while it is out of service"),
    Fact("occupant_load", FactKind.COUNT, "people who rely on it to leave"),
    Fact("occupancy_group", FactKind.TEXT, "occupancy group as the place writes it: H, I-2, B"),
    _flag("health_care", "in a health care occupancy"),
    _flag("workplace", "people are employed there"),
    _flag("dwelling", "it serves a single dwelling or house"),
    _flag("flats", "in a building that holds two or more flats"),
    _flag("flat_entrance", "it is the entrance door of a flat"),
    _flag("communal", "it stands in the common parts"),
    _measure("building_height", Dimension.LENGTH, "height of the building's topmost storey"),
    _flag("interior", "both sides are inside"),
    _flag("closer", "a closing device shuts the leaf"),
    _flag("spring_hinge", "spring hinges shut the leaf"),
    _flag("pair", "two leaves close on each other"),
    _flag("hold_open", "a device holds it open in ordinary use"),
    _flag("sprinklered", "sprinklers throughout the building"),
    _flag("voice_alarm", "an emergency voice alarm communication system serves the building"),
    _flag("attended", "the premises are attended at all times"),
    _flag("powered_alternative", "a powered door beside it serves the same way"),
    _flag("sign_required", "a sign is required on or beside it"),
    _flag("detector_drift_compensation", "its smoke detectors compensate for drift"),
    _flag("tests_over_two_years_apart", "its tests lie more than two years apart"),
    _word("leaf_material", "what its leaf is made of", "steel", "wood", "other"),
    _word(
        "hold_open_check",
        "how often the approval document of its hold-open system has the operator check it",
        "monthly",
        "quarterly",
    ),
    _word(
        "release_control",
        "what lets it close in a fire",
        "none",
        "fire_alarm",
        "smoke_detector",
        "fusible_link",
    ),
    _word("egress_component", "which part of a way out it is", "door", "stair"),
    _word("battery_type", "its battery", "flooded", "agm", "gel", "sealed_lead_acid", "none"),
    _measure("battery_nominal_voltage", Dimension.VOLTAGE, "nominal voltage of the battery"),
    _measure("alarm_standby", Dimension.TIME, "standby time that its release control must give"),
    _measure("required_clear_width", Dimension.LENGTH, "clear width that must be had"),
    _measure("opening_width", Dimension.LENGTH, "width of the opening"),
    _measure("opening_height", Dimension.LENGTH, "height of the opening"),
    _measure("leaf_weight", Dimension.MASS, "weight of the heaviest leaf"),
)
FACTS: dict[str, Fact] = {fact.name: fact for fact in _ALL}


def check_facts(facts: object, pointer: str = "/facts") -> dict[str, object]:
    """The facts as the rules compare them: measures as exact SI fractions, dates as dates.

    Raises InputError with every wrong fact. `null` counts as not given.
    """
    if not isinstance(facts, Mapping):
        raise InputError.at(pointer, "wrong_type", "facts are an object of names and values")
    problems: list[Problem] = []
    checked: dict[str, object] = {}
    for name, value in facts.items():
        _check_one(str(name), value, pointer, checked, problems)
    problems.extend(_contradictions(checked, pointer))
    if problems:
        raise InputError(problems)
    if "door_type" in checked:
        checked.setdefault("egress_component", "door")
    return checked


def _check_one(
    name: str, value: object, pointer: str, checked: dict[str, object], problems: list[Problem]
) -> None:
    where = f"{pointer}/{escaped(name)}"
    fact = FACTS.get(name)
    if fact is None:
        problems.append(Problem(where, "unknown_fact", "no such fact; see the facts schema"))
        return
    if value is None:
        return
    try:
        checked[name] = read_fact(fact, value, where)
    except InputError as refused:
        problems.extend(refused.problems)


def read_fact(fact: Fact, value: object, pointer: str) -> object:
    """One value of that fact as the rules compare it; raises InputError at the pointer."""
    match fact.kind:
        case FactKind.FLAG if isinstance(value, bool):
            return value
        case FactKind.WORD if value in fact.words:
            return value
        case FactKind.TEXT if isinstance(value, str) and 0 < len(value) <= MAX_TEXT:
            return value
        case FactKind.COUNT if _is_count(value):
            return value
        case FactKind.DAY:
            return read_day(value, pointer)
        case FactKind.MEASURE:
            return _measured(fact, value, pointer).si
    raise InputError.at(pointer, "wrong_value", f"{fact.name} is {_wanted(fact)}")


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= MAX_COUNT


def _wanted(fact: Fact) -> str:
    return {
        FactKind.FLAG: "true or false",
        FactKind.WORD: "one of " + ", ".join(fact.words),
        FactKind.TEXT: f"a text of 1 to {MAX_TEXT} characters",
        FactKind.COUNT: f"a whole number from 0 to {MAX_COUNT}",
    }[fact.kind]


def _measured(fact: Fact, value: object, pointer: str) -> Quantity:
    if not isinstance(value, Mapping) or set(value) != {"value", "unit"}:
        raise InputError.at(pointer, "wrong_type", "a measure is an object of value and unit")
    measure = quantity(value["value"], value["unit"], pointer)
    _of_dimension(fact, measure, f"{pointer}/unit")
    if measure.value <= 0:
        raise InputError.at(f"{pointer}/value", "out_of_range", f"{fact.name} is above zero")
    return measure


def _of_dimension(fact: Fact, measure: Quantity, pointer: str) -> None:
    if measure.unit.dimension is not fact.dimension:
        raise InputError.at(pointer, "wrong_dimension", f"{fact.name} is a {fact.dimension}")


def read_day(value: object, pointer: str) -> date:
    """A civil date, given as one or as `YYYY-MM-DD`; a moment with a time is refused."""
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    if isinstance(value, str):
        try:
            day = date.fromisoformat(value)
        except ValueError:
            day = None
        if day is not None and day.isoformat() == value:  # week dates and the like are not meant
            return day
    raise InputError.at(pointer, "not_a_date", "a civil date is written YYYY-MM-DD")


def _contradictions(checked: Mapping[str, object], pointer: str) -> list[Problem]:
    first = checked.get("installed_on")
    if not isinstance(first, date):
        return []
    return [
        Problem(f"{pointer}/{later}", "out_of_order", f"{later} lies before installed_on")
        for later in ("altered_on", "removed_on")
        if isinstance(day := checked.get(later), date) and day < first
    ]


def bound(fact: Fact, value: object, pointer: str) -> Fraction | date:
    """A bound of a predicate on that fact, comparable with what `check_facts` answers."""
    if fact.kind is FactKind.DAY:
        return read_day(value, pointer)
    if fact.kind is FactKind.COUNT and _is_count(value):
        return Fraction(int(str(value)))
    if fact.kind is FactKind.MEASURE and isinstance(value, str):
        measure = parse_quantity(value, pointer)
        _of_dimension(fact, measure, pointer)
        return measure.si
    raise InputError.at(pointer, "wrong_value", f"{fact.name} takes no such bound")
