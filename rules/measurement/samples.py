"""The samples of a trace: read, put in order, and cleared of what cannot be a measurement.

Whatever is left out is reported with its place and reason; nothing is filled in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import pairwise
from math import inf
from statistics import fmean

from rules.errors import InputError, escaped
from rules.measurement.fields import Fields, unit_of
from rules.quantities import Dimension, Unit, decimal_text

MAX_SAMPLES = 200_000
_FEWEST = 2
_TOO_LARGE = 13  # power of ten
_LARGEST = 1e12  # no clock, tape or gauge shows more
_SHOWN = 10  # places of discarded samples that are named one by one
_BACKWARDS = 0.75  # of all steps: this is no disorder, the clock runs the wrong way
_WHY = {
    "no_value": "the sample has no value",
    "duplicate_time": "another sample has the same time; their mean is used",
    "jump": "no door moves that fast from the sample before it and back",
    "spike": "it stands alone, far from the course of its neighbours",
}


@dataclass(slots=True)
class Samples:
    """Samples in order of time, in seconds and in the coherent unit of each column.

    `places` are their indexes as sent; `units` are those they were sent in.
    """

    times: list[float]
    columns: list[list[float]]
    places: list[int]
    units: list[Unit]
    received: int
    reordered: int = 0
    discarded: dict[str, list[int]] = field(default_factory=dict)

    @property
    def duration(self) -> float:
        """Seconds from the first sample to the last."""
        return self.times[-1] - self.times[0]

    def drop(self, reason: str, indexes: Sequence[int]) -> None:
        """Leave those samples out, and remember why."""
        if not indexes:
            return
        gone = set(indexes)
        self.discarded.setdefault(reason, []).extend(self.places[i] for i in indexes)
        kept = [i for i in range(len(self.times)) if i not in gone]
        self.times = [self.times[i] for i in kept]
        self.places = [self.places[i] for i in kept]
        self.columns = [[column[i] for i in kept] for column in self.columns]

    def report(self) -> dict[str, object]:
        """What was received, used, put in order and left out."""
        return {
            "received": self.received,
            "used": len(self.times),
            "reordered": self.reordered,
            "discarded": [
                {
                    "reason": reason,
                    "count": len(places),
                    "first": sorted(places)[:_SHOWN],
                    "why": _WHY[reason],
                }
                for reason, places in self.discarded.items()
            ],
        }


def read_samples(fields: Fields, columns: Mapping[str, Dimension]) -> Samples:
    """The samples, rows of a time and one value a column, sorted by time.

    A `null` value is a dropped sample. Rows out of order are sorted and counted, unless the trace
    says `"ordered": true` or its clock runs backwards throughout: then it is refused.
    """
    units = _read_units(fields.raw("units"), columns)
    rows = fields.items("samples", MAX_SAMPLES)
    if len(rows) < _FEWEST:
        raise InputError.at("/samples", "too_few", "one sample tells nothing; two are needed")
    numbers = [_read_row(row, index, len(units)) for index, row in enumerate(rows)]
    factors = [float(unit.factor) for unit in units]
    times = [_time(row[0], index) * factors[0] for index, row in enumerate(numbers)]
    reordered = _disorder(times, claimed=fields.flag("ordered"))
    order = sorted(range(len(rows)), key=times.__getitem__)
    full = [i for i in order if None not in numbers[i]]
    values = [[(numbers[i][n] or 0.0) * factors[n] for i in full] for n in range(1, len(units))]
    samples = Samples([times[i] for i in full], values, full, units, len(rows), reordered)
    if len(full) < len(order):
        samples.discarded["no_value"] = [i for i in order if None in numbers[i]]
    _join_duplicates(samples)
    if len(samples.times) < _FEWEST:
        message = "two samples at different times are needed"
        raise InputError.at("/samples", "too_few", message)
    return samples


def _read_units(raw: object, columns: Mapping[str, Dimension]) -> list[Unit]:
    if not isinstance(raw, Mapping):
        names = ", ".join(columns)
        raise InputError.at("/units", "required", f"the unit of each column is needed: {names}")
    for key in raw:
        if key not in columns:
            message = f"no such column; known here: {', '.join(columns)}"
            raise InputError.at(f"/units/{escaped(key)}", "unknown_field", message)
    return [unit_of(raw.get(name), f"/units/{name}", kind) for name, kind in columns.items()]


def _read_row(row: object, index: int, width: int) -> list[float | None]:
    if not isinstance(row, list | tuple) or len(row) != width:
        message = f"a sample is a list of {width} numbers: its time, then each value"
        raise InputError.at(f"/samples/{index}", "not_a_sample", message)
    return [_read_number(value, index, column) for column, value in enumerate(row)]


def _read_number(value: object, index: int, column: int) -> float | None:
    """A sample's number; a sensor's own binary floats are taken as they are."""
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, float | int | Decimal | str):
        raise InputError.at(f"/samples/{index}/{column}", "not_a_number", "a number is needed here")
    if isinstance(value, str):
        value = Decimal(decimal_text(value, f"/samples/{index}/{column}"))
    if isinstance(value, Decimal):
        number = float(value) if value.is_finite() and value.adjusted() < _TOO_LARGE else inf
    else:
        number = float(value) if abs(value) <= _LARGEST else inf
    if not abs(number) <= _LARGEST:
        message = "not a finite number of a size that can be measured"
        raise InputError.at(f"/samples/{index}/{column}", "out_of_range", message)
    return number


def _time(value: float | None, index: int) -> float:
    if value is None:
        raise InputError.at(f"/samples/{index}/0", "required", "every sample has its time")
    return value


def _disorder(times: list[float], *, claimed: bool) -> int:
    """How many samples come with a time before that of the one sent before them."""
    backwards = [n + 1 for n, (one, other) in enumerate(pairwise(times)) if other < one]
    if backwards and (claimed or len(backwards) >= _BACKWARDS * (len(times) - 1)):
        message = "the trace says it is in order, and here time runs backwards"
        if not claimed:
            message = "time runs backwards from sample to sample"
        raise InputError.at(f"/samples/{backwards[0]}/0", "time_backwards", message)
    return len(backwards)


def _join_duplicates(samples: Samples) -> None:
    """One sample a time: the mean of all that share it."""
    gone: list[int] = []
    first = 0
    for index in range(1, len(samples.times) + 1):
        if index < len(samples.times) and samples.times[index] == samples.times[first]:
            gone.append(index)
            continue
        if index - first > 1:
            for column in samples.columns:
                column[first] = fmean(column[first:index])
        first = index
    samples.drop("duplicate_time", gone)
