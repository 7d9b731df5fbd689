"""A travel trace: where the leading edge was, sample by sample, while the door moved.

Readings, each with its uncertainty (k = 2) from the scatter of the samples and, where the trace
states it, of the sensor:

* `closing_speed` is the mean speed while closing; stops and retractions are left out. What they
  make of it, distance over the whole time, stands beside it as derived `closing_speed_overall`.
* `peak_closing_speed` is the highest speed held for half a second.
* `closing_time` runs from leaving full open until closed, everything between included, where the
  trace holds both.
* `start_delay` runs from the signal to the first motion.
* `pause_time` is the length of each stop.
* `opening_time_to_width`, where the trace states the required width, runs from the signal, or the
  first motion where none is stated, until the door is open to it.

A stop is a speed below 5 % of the median of the moving door for at least half a second, between
two motions; a re-closure is a closing after an opening. Both counts are exact at 10 samples a
second or more and noise of 5 mm or less, for standstills whose length the noise leaves no doubt
about; doubtful ones are named in the notes.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby, pairwise
from math import sqrt
from statistics import fmean, median

from rules.errors import InputError
from rules.measurement.answer import significant
from rules.measurement.cleaning import drop_jumps, drop_spikes, noise_of, refuse_unusable
from rules.measurement.fields import Fields
from rules.measurement.journey import Journey
from rules.measurement.line import Line
from rules.measurement.motion import Motion, course_of
from rules.measurement.samples import Samples, read_samples
from rules.measurement.setting import Setting
from rules.quantities import Dimension

FIELDS = frozenset(
    (
        *("units", "samples", "ordered", "measures", "signal_at", "travel", "required_width"),
        *("uncertainty", "resolution"),
    )
)
_FEWEST = 4  # samples; fewer cannot tell noise from motion
_FASTEST = 3.0  # m/s; no leading edge moves so fast
_DIFFERENT = 0.100  # metres
_LEAST_SPIKE = 0.010  # metres
_FLOOR = 0.0002  # metres; less noise than this no sensor on a door has
_BIN = 0.02  # seconds; faster samples are averaged over this
_MOST_BINS = 40_000
_COARSE = 0.005  # metres; a display that shows such steps again and again errs alike meanwhile
_COARSE_BIN = 0.1  # seconds over which it is averaged
_FEW_STEPS = 5
_WHOLE = 0.01  # of a step, by which a number of them may miss a whole one


def measure_travel(trace: Mapping[str, object]) -> dict[str, object]:
    """Readings, stops, pauses and re-closures of one travel trace."""
    fields = Fields(trace, FIELDS)
    samples = read_samples(fields, {"t": Dimension.TIME, "position": Dimension.LENGTH})
    if len(samples.times) < _FEWEST:
        message = f"{_FEWEST} samples are the fewest that tell noise from motion"
        raise InputError.at("/samples", "too_few", message)
    setting = _setting(fields, samples)
    if setting.measures_opening:
        samples.columns[0] = [-position for position in samples.columns[0]]
    noise = _cleaned(samples, fields)
    motion = course_of(_points(samples), noise)
    _refuse_untold(motion, samples)
    scale = float(setting.unit.factor)
    return {
        **Journey(motion, setting).answer(),
        "rate": significant(setting.rate, 3),
        "noise": {"value": significant(motion.noise / scale, 2), "unit": setting.unit.symbol},
        "samples": samples.report(),
    }


def _refuse_untold(motion: Motion, samples: Samples) -> None:
    """Positions that differ by more than any sensor's noise, in which no motion can be told."""
    positions = samples.columns[0]
    if not motion.speed and max(positions) - min(positions) > _DIFFERENT:
        message = "too few samples, or too much noise, to tell what the door did"
        raise InputError.at("/samples", "unusable", message)


def _setting(fields: Fields, samples: Samples) -> Setting:
    time, position = samples.units
    signal_at = fields.number("signal_at")
    travel = fields.measure("travel", Dimension.LENGTH, above=0)
    sensor = fields.measure("uncertainty", Dimension.LENGTH)
    width = fields.measure("required_width", Dimension.LENGTH, above=0)
    return Setting(
        unit=position,
        signal_at=None if signal_at is None else float(signal_at * time.factor),
        travel=float(travel.si) if travel else None,
        sensor_error=float(sensor.si) / 2 if sensor else 0.0,
        rate=(len(samples.times) - 1) / samples.duration,
        coarse=_steps_of(samples.columns[0]) >= _COARSE,
        required_width=float(width.si) if width else None,
        measures_opening=fields.word("measures", ("travel", "opening")) == "opening",
    )


def _cleaned(samples: Samples, fields: Fields) -> float:
    """Leave out what cannot be a position; the noise of the rest, in metres."""
    resolution = fields.measure("resolution", Dimension.LENGTH)
    steps = max(_steps_of(samples.columns[0]), float(resolution.si) if resolution else 0.0)
    floor = max(_FLOOR, steps / sqrt(12))
    rough = noise_of(samples.times, samples.columns[0], floor)
    drop_jumps(samples, 0, _FASTEST, max(6 * rough, _LEAST_SPIKE))
    rough = noise_of(samples.times, samples.columns[0], floor)
    drop_spikes(samples, 0, rough, _LEAST_SPIKE)
    refuse_unusable(samples)
    return noise_of(samples.times, samples.columns[0], floor)


def _steps_of(positions: list[float]) -> float:
    """The height of the steps in which a display shows a motion, 0 where it shows none: all that
    it moves by are whole numbers of them, and not always the same.
    """
    moves = {abs(after - before) for before, after in pairwise(positions) if after != before}
    if not moves:
        return 0.0
    step = min(moves)
    whole = [round(move / step) for move in moves]
    off = max(abs(move / step - count) for move, count in zip(moves, whole, strict=True))
    return step if off < _WHOLE and (max(whole) > 1 or _lingers(positions)) else 0.0


def _lingers(positions: list[float]) -> bool:
    """Whether a display stays at most of its steps for two samples or more."""
    held = [len(list(same)) for _, same in groupby(positions)]
    return len(held) >= _FEW_STEPS and median(held[1:-1]) > 1


def _points(samples: Samples) -> list[Line]:
    """The samples, averaged where they come faster than the course can change, or than a coarse
    display: its samples count as one.
    """
    times, positions = samples.times, samples.columns[0]
    coarse = _steps_of(positions) >= _COARSE and _lingers(positions)
    width = max(_COARSE_BIN if coarse else _BIN, samples.duration / _MOST_BINS)
    if samples.duration >= width * len(times) / 2:
        return [Line(1.0, time, position) for time, position in zip(times, positions, strict=True)]
    start = times[0]
    points = []
    for _, group in groupby(range(len(times)), key=lambda i: (times[i] - start) // width):
        indexes = list(group)
        points.append(
            Line(
                1.0 if coarse else float(len(indexes)),
                fmean(times[i] for i in indexes),
                fmean(positions[i] for i in indexes),
            )
        )
    return points
