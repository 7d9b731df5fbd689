"""Reads the part of a requirement that belongs to its kind: `[requirement.limit]` and so on."""

from __future__ import annotations

from collections.abc import Callable

from rules.errors import InputError
from rules.intervals import check_interval
from rules.loading.predicates import read_predicate
from rules.loading.table import Table
from rules.measurands import MEASURANDS
from rules.model import (
    CheckSpec,
    FilingSpec,
    ImpairmentSpec,
    IntervalSpec,
    LimitSpec,
    PermissionSpec,
    QualificationSpec,
    RecordSpec,
    RetentionSpec,
    SequenceSpec,
    Spec,
    Step,
)
from rules.quantities import Dimension, Quantity
from rules.vocabulary import Activity, Comparator, Governs, Kind, Meaning

_LOADS = {Dimension.FORCE, Dimension.MASS}


def read_spec(kind: Kind, table: Table) -> Spec | None:
    """What a requirement of that kind says; None where it cannot be read."""
    spec = _READERS[kind](table)
    table.close()
    return spec


def read_limit(table: Table) -> LimitSpec | None:
    """Bounds in the published unit, or `supplied_per_door` with the comparator alone."""
    name = table.text("quantity", required=True)
    if name and name not in MEASURANDS:
        table.refuse("quantity", "unknown_quantity", f"nothing measurable is named {name!r}")
    low, high = read_bounds(table, name)
    nominal = _bound(table, "nominal", name)
    supplied = table.flag("supplied_per_door")
    comparator = _comparator(table, low, high, supplied=supplied)
    test_load = table.measure("test_load")
    if test_load is not None and test_load.unit.dimension not in _LOADS:
        message = f"a load is a force or a mass, not in {test_load.unit.symbol}"
        table.refuse("test_load", "wrong_dimension", message)
    spec_parts = {
        "printed_si": table.text("printed_si"),
        "measurement_point": table.text("measurement_point"),
        "method": table.text("method"),
        "test_load": test_load,
        "repeats": table.count("repeats", 1),
        "governs": table.word("governs", Governs, Governs.EACH) or Governs.EACH,
        "supplied_per_door": supplied,
        "nominal": nominal,
    }
    if comparator is None or name not in MEASURANDS:
        return None
    return LimitSpec(name, comparator, low, high, **spec_parts)  # type: ignore[arg-type]


def read_bounds(table: Table, name: str) -> tuple[Quantity | None, Quantity | None]:
    """`low` and `high` of a table, in a unit that the quantity takes."""
    return _bound(table, "low", name), _bound(table, "high", name)


def _bound(table: Table, key: str, name: str) -> Quantity | None:
    value = table.measure(key)
    if value is not None and name in MEASURANDS and not MEASURANDS[name].takes(value.unit):
        dimension = MEASURANDS[name].dimension
        table.refuse(key, "wrong_dimension", f"{name} is a {dimension}, not in {value.unit.symbol}")
        return None
    if value is not None and value.value < 0:
        table.refuse(key, "out_of_range", "no limit of a door is negative")
        return None
    return value


def _comparator(
    table: Table, low: Quantity | None, high: Quantity | None, *, supplied: bool
) -> Comparator | None:
    if supplied:
        if low or high:
            table.refuse("supplied_per_door", "contradiction", "a number is given here as well")
        return table.word("comparator", Comparator)
    if low and high:
        if low.unit.dimension is high.unit.dimension and low.si > high.si:
            table.refuse("low", "out_of_order", "the lower bound lies above the upper one")
        return Comparator.BETWEEN
    if low or high:
        return Comparator.AT_LEAST if low else Comparator.AT_MOST
    if not (table.has("low") or table.has("high")):
        table.refuse("", "missing", "a limit gives low, high, both, or supplied_per_door = true")
    return None


def _read_check(table: Table) -> CheckSpec:
    return CheckSpec(table.slug("check"), table.text("asks", required=True), table.text("group"))


def _read_sequence(table: Table) -> SequenceSpec:
    steps = tuple(_read_step(step) for step in table.tables("steps"))
    if not steps:
        table.refuse("steps", "missing", "a sequence has at least one step")
    if len({step.step for step in steps}) < len(steps):
        table.refuse("steps", "duplicate", "two steps have the same name")
    times = [read_spec(Kind.LIMIT, time) for time in table.tables("times")]
    return SequenceSpec(
        sequence=table.slug("sequence"),
        do=table.text("do", required=True),
        steps=steps,
        times=tuple(time for time in times if isinstance(time, LimitSpec)),
        caution=table.text("caution"),
        after_parts=table.texts("after_parts"),
    )


def _read_step(table: Table) -> Step:
    step = Step(
        table.slug("step"),
        table.text("expect", required=True),
        table.text("do"),
        _only(table, "order", "any"),
        _only(table, "may_be", "not_provided"),
    )
    table.close()
    return step


def _only(table: Table, key: str, word: str) -> str:
    """The one word that may stand there, or nothing."""
    found = table.text(key)
    if found not in {"", word}:
        table.refuse(key, "unknown_word", f"only {word} may stand here")
        return ""
    return found


def _read_interval(table: Table) -> IntervalSpec | None:
    activity = table.word("activity", Activity)
    after = table.text("after")
    if after not in {"", "repair", "installation"}:
        table.refuse("after", "unknown_word", "one of repair, installation")
    every = table.period("every", required=not after)
    meaning = table.word("meaning", Meaning, Meaning.NOT_LATER_THAN) or Meaning.NOT_LATER_THAN
    next_from = table.text("next_from") or "visit"
    if next_from not in {"visit", "due_date"}:
        table.refuse("next_from", "unknown_word", "one of visit, due_date")
    edges = {key: table.period(key) for key in ("early", "late", "least", "greatest")}
    met_by = tuple(sorted(table.words("met_by", Activity)))
    subject = table.text("subject")
    spec = IntervalSpec(
        activity or Activity.PERIODIC_INSPECTION,
        every,
        meaning,
        next_from=next_from,
        met_by=met_by,
        after=after,
        subject=subject,
        **edges,
    )
    if _has_its_edges(table, spec):
        _check_windows(table, spec)
    return spec if activity is not None else None


# What says how early or late; another meaning of the interval would pass it over in silence.
_EDGES = {Meaning.BETWEEN: {"least", "greatest"}, Meaning.CALENDAR_PERIOD: {"late"}}


def _has_its_edges(table: Table, spec: IntervalSpec) -> bool:
    """Whether the interval has what its meaning counts by, and nothing else."""
    before = len(table.problems)
    its_own = {"late"} if spec.after else _EDGES.get(spec.meaning, {"early", "late"})
    for key in ("early", "late", "least", "greatest"):
        if table.has(key) and key not in its_own:
            word = f"after {spec.after}" if spec.after else spec.meaning
            table.refuse(key, "not_allowed", f"{key} has no sense in an interval {word}")
    if spec.meaning is Meaning.BETWEEN and not (table.has("least") and table.has("greatest")):
        table.refuse("meaning", "missing", "between needs least and greatest")
    written = [key for key in ("every", *its_own) if table.has(key) or key == "every"]
    readable = all(getattr(spec, key) for key in written) or (spec.after and not spec.every)
    return bool(readable) and len(table.problems) == before


def _check_windows(table: Table, spec: IntervalSpec) -> None:
    """Refuse an interval of which no window could be made later."""
    try:
        check_interval(spec)
    except InputError as refused:
        for problem in refused.problems:
            table.refuse(problem.pointer[1:] or "every", problem.code, problem.message)


def _read_record(table: Table) -> RecordSpec:
    return RecordSpec(table.texts("contents", required=True))


def _read_retention(table: Table) -> RetentionSpec:
    counted_from = table.text("counted_from") or "record"
    if counted_from not in {"record", "next_record", "removal"}:
        table.refuse("counted_from", "unknown_word", "one of record, next_record, removal")
    keep = table.duration("keep", required=True)
    return RetentionSpec(keep, counted_from, table.text("medium"))


def _read_qualification(table: Table) -> QualificationSpec:
    activities = tuple(sorted(table.words("activities", Activity)))
    return QualificationSpec(
        activities, table.text("asks", required=True), table.targets("not_read")
    )


def _read_permission(table: Table) -> PermissionSpec:
    permitted = read_predicate(table.table("permitted_when", required=True))
    return PermissionSpec(permitted, table.text("says", required=True))


def _read_filing(table: Table) -> FilingSpec:
    return FilingSpec(
        table.text("event", required=True),
        table.duration("within"),
        table.flag("business_days"),
        table.text("says"),
    )


def _read_impairment(table: Table) -> ImpairmentSpec:
    return ImpairmentSpec(
        table.text("system", required=True),
        table.text("response", required=True),
        table.duration("over"),
        table.duration("within"),
    )


_READERS: dict[Kind, Callable[[Table], Spec | None]] = {
    Kind.LIMIT: read_limit,
    Kind.CHECK: _read_check,
    Kind.SEQUENCE: _read_sequence,
    Kind.INTERVAL: _read_interval,
    Kind.RECORD: _read_record,
    Kind.RETENTION: _read_retention,
    Kind.QUALIFICATION: _read_qualification,
    Kind.PERMISSION: _read_permission,
    Kind.FILING: _read_filing,
    Kind.IMPAIRMENT: _read_impairment,
}
