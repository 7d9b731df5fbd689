"""A force trace: the push on a leaf, sample by sample, while it is opened by hand.

* `latch_release_force`: where the trace says there is a latch, the first peak that falls off by a
  fifth before the leaf moves.
* `set_in_motion_force`: the highest force after that, until the leaf has moved 10 mm.
* `opening_force`: the highest force from where the push has stopped falling off from that peak
  until the required width is reached: what it takes to keep the leaf moving.

A force counts as its mean over 50 ms, so that the scatter of single samples raises no peak; where
a peak is sharper than that, and higher by more than scatter makes it, its highest sample counts, as
on a gauge that holds its peak. When the leaf moves and when the width is reached is told by the
positions, or by `moved_at` and `opened_at`; where neither is given, the whole trace is the push
that sets the leaf in motion.
The uncertainty needs that of the gauge: without it none is stated.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import hypot, sqrt
from statistics import median

from rules.errors import InputError
from rules.measurement.answer import Reading, reading
from rules.measurement.cleaning import drop_spikes, noise_of, refuse_unusable
from rules.measurement.fields import Fields
from rules.measurement.samples import Samples, read_samples
from rules.quantities import Dimension

FIELDS = frozenset(
    (
        *("units", "samples", "ordered", "latch", "required_width", "moved_at", "opened_at"),
        *("uncertainty", "resolution"),
    )
)
_MOVED = 0.010  # metres
_UNDER_WAY = 0.4  # of the way after half the time, between a quarter and a half
_IN_A_ROW = 3  # samples that must agree that the leaf has come so far
_FIRST = 5  # samples that tell where it rested
_HELD = 0.05  # seconds over which a force is averaged
_FALLS_WITHIN = 0.2  # seconds
_LEVEL = 0.01  # of the highest force; a smaller fall is none
_FALL = 0.8  # of a peak, below which a latch has let go
_SURE = 6.0  # standard deviations of the noise
_SHARP = 4.0  # of them, by which a sample stands out of its mean where the push itself was sharp
_FLOOR = 0.01  # newtons
_LEAST_SPIKE = 5.0  # newtons
_DENSE = 50.0  # samples a second from which one alone can be told from a peak
_BACKWARDS = 0.1  # of the highest force; more of it below zero is a pull with its sign turned
_NOTES = {
    "no_positions": "neither positions nor times tell when the leaf moved: the whole trace is "
    "taken as the push that sets it in motion",
    "not_moved": "the leaf did not move: its force is the highest push that did not set it in "
    "motion, and no reading",
    "no_push": "the gauge shows no force: nothing was measured",
    "begins_moving": "the leaf moves from the first samples on: what set it in motion is not in "
    "the trace",
    "begins_pushed": "the highest force stands at the beginning of the trace: before it, the push "
    "may have been harder",
    "width_not_reached": "the required width is not reached in this trace",
    "no_latch_peak": "no peak of the latch stands apart from the push that moves the leaf",
}


def measure_force(trace: Mapping[str, object]) -> dict[str, object]:
    """The peaks of one push, with what could not be told."""
    fields = Fields(trace, FIELDS)
    samples = read_samples(fields, _columns(fields))
    push = _Push(samples, fields)
    readings, notes = push.readings()
    return {
        "readings": readings,
        "derived": push.derived(),
        "samples": samples.report(),
        "notes": [{"code": code, "message": _NOTES[code]} for code in notes],
    }


def _columns(fields: Fields) -> dict[str, Dimension]:
    columns = {"t": Dimension.TIME, "force": Dimension.FORCE}
    units = fields.raw("units")
    if isinstance(units, Mapping) and "position" in units:
        columns["position"] = Dimension.LENGTH
    return columns


class _Push:
    """One push with its moments: when the leaf has moved, and when the width is reached."""

    def __init__(self, samples: Samples, fields: Fields) -> None:
        self._dense = len(samples.times) >= _DENSE * samples.duration
        self._noise = _cleaned(samples, fields, dense=self._dense)
        self._samples, self._fields = samples, fields
        self._forces, self._averaged = _averaged(samples)
        gauge = fields.measure("uncertainty", Dimension.FORCE)
        self._gauge_error = float(gauge.si) / 2 if gauge else None
        self._latch = fields.flag("latch")
        self._told = len(samples.columns) > 1 or fields.has("moved_at")
        self._moved = self._index("moved_at", _MOVED)
        width = fields.measure("required_width", Dimension.LENGTH, above=0)
        self._opened = self._index("opened_at", float(width.si) if width else None)
        self._asked_width = width is not None or fields.has("opened_at")
        if self._opened is not None and self._moved is not None and self._opened < self._moved:
            message = "the leaf stands open to the width before it has moved"
            raise InputError.at("/opened_at", "out_of_range", message)

    def readings(self) -> tuple[list[Reading], list[str]]:
        """What the trace tells, and the codes of what it does not."""
        if max(self._forces) <= _SURE * self._noise:
            return [], ["no_push"]
        if self._told and self._moved is None:
            return [], ["not_moved"]
        found, notes = self._first_push()
        if self._moved is not None and self._asked_width:
            if self._opened is None:
                notes.append("width_not_reached")
            else:
                found.append(self._peak("opening_force", self._settled(), self._opened + 1))
        return found, notes

    def _first_push(self) -> tuple[list[Reading], list[str]]:
        """What the push until the leaf has moved tells of the latch and of setting it in motion."""
        notes = [] if self._told else ["no_positions"]
        if self._begins_moving():
            return [], [*notes, "begins_moving"]
        end = len(self._forces) if self._moved is None else self._moved + 1
        found: list[Reading] = []
        start = 0
        if self._latch:
            released = _latch_released(self._forces[:end], self._noise)
            if released is None:
                notes.append("no_latch_peak")
            else:
                start = released
                found.append(self._peak("latch_release_force", 0, start))
        if self._dense and max(self._forces[: self._averaged]) >= max(self._forces[:end]):
            notes.append("begins_pushed")
        return [*found, self._peak("set_in_motion_force", start, end)], notes

    def _begins_moving(self) -> bool:
        """Whether the leaf was under way at once: after half the time until it has moved, it has
        come more than two fifths of the way, where a leaf set in motion comes a quarter.
        """
        if self._moved is None or not self._dense or not self._samples.columns[1:]:
            return False
        positions = self._samples.columns[1]
        rest, half = positions[0], self._moved // 2
        came = abs(median(positions[half : half + 2]) - rest)
        return came > abs(positions[self._moved] - rest) * _UNDER_WAY

    def _settled(self) -> int:
        """The first sample of the moving leaf from which the push falls no further."""
        forces, first = self._forces, self._moved or 0
        last = len(forces) - 1 if self._opened is None else self._opened
        rate = len(forces) / self._samples.duration
        ahead = max(1, int(rate * _FALLS_WITHIN))
        steady = max(_SURE * self._noise / sqrt(self._averaged), _LEVEL * max(forces))
        for i in range(first, last - ahead + 1):
            if forces[i] - forces[i + ahead] <= steady:
                return i
        return last

    def derived(self) -> list[Reading]:
        """The steady force while the leaf is kept moving: the median after it has moved."""
        if self._moved is None:
            return []
        end = len(self._forces) if self._opened is None else self._opened + 1
        return [self._reading("steady_opening_force", median(self._forces[self._settled() : end]))]

    def _peak(self, name: str, start: int, end: int) -> Reading:
        """The highest force between two samples; what averaging may have taken off it is doubt."""
        mean, held = max(self._forces[start:end]), max(self._samples.columns[0][start:end])
        if held - mean > _SHARP * self._noise:
            return self._reading(name, held)
        return self._reading(name, mean, off=(held - mean) / 4)

    def _reading(self, name: str, newtons: float, off: float = 0.0) -> Reading:
        unit = self._samples.units[1]
        scale = float(unit.factor)
        error = None
        if self._gauge_error is not None:
            error = hypot(self._gauge_error, self._noise / sqrt(self._averaged), off) / scale
        return reading(name, newtons / scale, unit.symbol, error)

    def _index(self, key: str, distance: float | None) -> int | None:
        """The first sample at or after a time given, or the first that has moved so far."""
        samples = self._samples
        given = self._fields.number(key)
        if given is not None:
            at = float(given * samples.units[0].factor)
            if not samples.times[0] <= at <= samples.times[-1]:
                raise InputError.at(f"/{key}", "out_of_range", "this lies outside the samples")
            return next(i for i, time in enumerate(samples.times) if time >= at)
        if distance is None or not samples.columns[1:]:
            return None
        positions = samples.columns[1]
        noise = noise_of(samples.times, positions, 0.0) if self._dense else 0.0
        rest = median(positions[:_FIRST])
        far = max(distance, _SURE * noise)
        gone = [abs(position - rest) >= far for position in positions]
        return next((i for i in range(len(gone)) if all(gone[i : i + _IN_A_ROW])), None)


def _cleaned(samples: Samples, fields: Fields, *, dense: bool) -> float:
    """Refuse forces with their sign turned, leave out spikes; the noise of the rest in newtons.

    Where samples are few, their scatter is the push itself, and nothing tells the noise.
    """
    resolution = fields.measure("resolution", Dimension.FORCE)
    floor = max(_FLOOR, float(resolution.si) / sqrt(12) if resolution else 0.0)
    forces = samples.columns[0]
    noise = noise_of(samples.times, forces, floor) if dense else floor
    lowest = min(range(len(forces)), key=forces.__getitem__)
    if forces[lowest] < -max(_BACKWARDS * max(forces), _SURE * noise):
        message = "a force is written as its size, however it is applied; this one is negative"
        raise InputError.at(f"/samples/{samples.places[lowest]}/1", "negative", message)
    if not dense:
        return floor
    drop_spikes(samples, 0, noise, _LEAST_SPIKE)
    refuse_unusable(samples)
    return noise_of(samples.times, samples.columns[0], floor)


def _averaged(samples: Samples) -> tuple[list[float], int]:
    """The forces as means over 50 ms about each sample, and of how many samples."""
    forces = samples.columns[0]
    rate = (len(forces) - 1) / samples.duration
    aside = int(rate * _HELD / 2)
    if aside == 0:
        return list(forces), 1
    sums = [0.0]
    for force in forces:
        sums.append(sums[-1] + force)
    last = len(forces)
    means = []
    for i in range(last):
        low, high = max(0, i - aside), min(last, i + aside + 1)
        means.append((sums[high] - sums[low]) / (high - low))
    return means, 2 * aside + 1


def _latch_released(forces: Sequence[float], noise: float) -> int | None:
    """The first sample after a peak that has fallen off; None where no peak stands apart."""
    highest = 0.0
    for index, force in enumerate(forces):
        highest = max(highest, force)
        if highest > _SURE * noise and force < _FALL * highest and highest - force > _SURE * noise:
            rises_again = any(later > force + _SURE * noise for later in forces[index:])
            return index if rises_again else None
    return None
