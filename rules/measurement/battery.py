"""A battery trace: volts at the terminals, on the charger and after the line is lost.

* `battery_float_voltage`: the median before the line is lost, or of the whole trace.
* `standby_time`: from losing the line until the voltage stays at or below the threshold at which
  the door closes by itself; where no threshold is given, until the door was seen to close.
* `battery_low_voltage`, `battery_close_voltage`: what stood there just before the trouble signal
  and just before the door closed, where those moments are given.

The dip of a running motor is no crossing: five samples in a row decide. The uncertainty needs
that of the voltmeter; without it none is stated.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import hypot, inf, sqrt
from statistics import median

from rules.errors import InputError
from rules.measurement.answer import Reading, reading
from rules.measurement.cleaning import drop_spikes, noise_of, refuse_unusable
from rules.measurement.fields import Fields
from rules.measurement.line import Line, line_through
from rules.measurement.samples import Samples, read_samples
from rules.quantities import Dimension

FIELDS = frozenset(
    (
        *("units", "samples", "ordered", "line_lost_at", "close_threshold", "trouble_at"),
        *("closed_at", "uncertainty", "resolution"),
    )
)
_FLOOR = 0.001  # volts
_LEAST_SPIKE = 1.0  # volts
_ROW = 5  # samples
_BENT = 4.0  # variances of the noise by which samples miss their line that do not follow one
_HOUR = 3600.0
_SETTLED = 0.05  # volts that a float voltage may still drift
_NOTES = {
    "not_settled": "the float voltage still drifts by more than 0.05 V: it is not yet a float",
    "threshold_not_reached": "the voltage stays above the threshold to the end of the trace",
    "below_only_at_the_end": "the voltage is at or below the threshold in the last sample alone, "
    "which may be the dip of a motor",
    "below_from_the_start": "the voltage is at or below the threshold when the line is lost",
}


def measure_battery(trace: Mapping[str, object]) -> dict[str, object]:
    """What one battery trace tells, and what it does not."""
    fields = Fields(trace, FIELDS)
    samples = read_samples(fields, {"t": Dimension.TIME, "volts": Dimension.VOLTAGE})
    resolution = fields.measure("resolution", Dimension.VOLTAGE)
    floor = max(_FLOOR, float(resolution.si) / sqrt(12) if resolution else 0.0)
    _refuse_negative(samples)
    noise = noise_of(samples.times, samples.columns[0], floor)
    drop_spikes(samples, 0, noise, _LEAST_SPIKE)
    refuse_unusable(samples)
    discharge = _Discharge(samples, fields, noise)
    readings = [*discharge.float_voltage(), *discharge.seen(), *discharge.standby()]
    return {
        "readings": readings,
        "derived": discharge.derived,
        "samples": samples.report(),
        "notes": [{"code": code, "message": _NOTES[code]} for code in discharge.notes],
    }


def _refuse_negative(samples: Samples) -> None:
    for place, volts in zip(samples.places, samples.columns[0], strict=True):
        if volts < 0:
            message = "a voltage below zero: the leads are reversed"
            raise InputError.at(f"/samples/{place}/1", "negative", message)


class _Discharge:
    """The volts with the moments of the trace."""

    def __init__(self, samples: Samples, fields: Fields, noise: float) -> None:
        self._times, self._volts = samples.times, samples.columns[0]
        self._noise = noise
        factor = float(samples.units[0].factor)
        self._moments: dict[str, float] = {}
        for key in ("line_lost_at", "trouble_at", "closed_at"):
            given = fields.number(key)
            if given is None:
                continue
            self._moments[key] = float(given) * factor
            if not self._times[0] <= self._moments[key] <= self._times[-1]:
                raise InputError.at(f"/{key}", "out_of_range", "this lies outside the samples")
        if self._moments.get("closed_at", inf) < self._moments.get("line_lost_at", 0.0):
            message = "the door closed by itself before the line was lost"
            raise InputError.at("/closed_at", "out_of_range", message)
        threshold = fields.measure("close_threshold", Dimension.VOLTAGE, above=0)
        self._threshold = float(threshold.si) if threshold else None
        meter = fields.measure("uncertainty", Dimension.VOLTAGE)
        self._meter_error = float(meter.si) / 2 if meter else None
        self.notes: list[str] = []
        self.derived: list[Reading] = []

    def float_voltage(self) -> list[Reading]:
        """The median before the line is lost."""
        lost = self._moments.get("line_lost_at")
        charged = [
            (time, volts)
            for time, volts in zip(self._times, self._volts, strict=True)
            if lost is None or time < lost
        ]
        if not charged or (lost is None and self._threshold is not None):
            return []
        volts = [each for _, each in charged]
        third = max(1, len(volts) // 3)
        if abs(median(volts[-third:]) - median(volts[:third])) > max(_SETTLED, 3 * self._noise):
            self.notes.append("not_settled")
        return [self._volt("battery_float_voltage", median(volts), len(volts))]

    def seen(self) -> list[Reading]:
        """The voltage just before each moment that somebody saw."""
        found = []
        for key, name in (
            ("trouble_at", "battery_low_voltage"),
            ("closed_at", "battery_close_voltage"),
        ):
            if key in self._moments:
                before = self._last_before(self._moments[key])
                found.append(self._volt(name, median(before), len(before)))
        return found

    def _last_before(self, moment: float) -> list[float]:
        upto = [i for i, time in enumerate(self._times) if time <= moment]
        return [self._volts[i] for i in upto[-_ROW:]]

    def _volt(self, name: str, volts: float, count: int) -> Reading:
        error = None
        if self._meter_error is not None:
            error = hypot(self._meter_error, self._noise / sqrt(count))
        return reading(name, volts, "V", error)

    def standby(self) -> list[Reading]:
        """Hours from losing the line until the door closes by itself."""
        start = self._moments.get("line_lost_at", self._times[0])
        if self._threshold is None:
            closed = self._moments.get("closed_at")
            if closed is None or "line_lost_at" not in self._moments:
                return []
            return [reading("standby_time", (closed - start) / _HOUR, "h")]
        crossing = self._crossing(start, self._threshold)
        if crossing is None:
            below = self._volts[-1] <= self._threshold
            self.notes.append("below_only_at_the_end" if below else "threshold_not_reached")
            lasted = (self._times[-2 if below else -1] - start) / _HOUR
            self.derived.append(reading("standby_time_at_least", lasted, "h"))
            return []
        time, error = crossing
        if time <= start:
            self.notes.append("below_from_the_start")
        lasts = max(0.0, time - start) / _HOUR
        return [reading("standby_time", lasts, "h", None if error is None else error / _HOUR)]

    def _crossing(self, start: float, threshold: float) -> tuple[float, float | None] | None:
        """When the voltage comes down to the threshold for good, and the error of that moment."""
        first = next(i for i, time in enumerate(self._times) if time >= start)
        for i in range(first, len(self._times) - 1):
            row = self._volts[i : i + _ROW]
            if median(row) <= threshold and max(row) <= threshold + 3 * self._noise:
                return (start, None) if i == first else self._between(i, first, threshold)
        return None

    def _between(self, i: int, first: int, threshold: float) -> tuple[float, float | None]:
        """The moment of the crossing on the line through the samples about it, or, where they do
        not follow one, between the sample before and that one. It is no surer than their distance.
        """
        low, high = max(first, i - _ROW), min(len(self._times), i + _ROW)
        line = _straight(self._times[low:high], self._volts[low:high])
        if line.misfit > _BENT * self._noise**2 * (high - low):
            low, high = i - 1, i + 1
            line = _straight(self._times[low:high], self._volts[low:high])
        falls = -line.slope
        if falls <= 0:
            return self._times[i], None
        time = line.time + (line.value - threshold) / falls
        time = min(max(time, self._times[low]), self._times[high - 1])
        if self._meter_error is None:
            return time, None
        apart = max(after - before for before, after in pairwise(self._times[low:high]))
        doubt = hypot(self._meter_error, self._noise / sqrt(high - low)) / falls
        return time, hypot(doubt, apart / sqrt(12))


def _straight(times: Sequence[float], volts: Sequence[float]) -> Line:
    return line_through(Line(1.0, *sample) for sample in zip(times, volts, strict=True))
