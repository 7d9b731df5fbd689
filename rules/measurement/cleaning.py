"""Telling noise from a course, and samples that cannot belong to it."""

from __future__ import annotations

from math import fsum, hypot, sqrt

from rules.errors import InputError
from rules.measurement.samples import Samples

_MAD_TO_SIGMA = 1.4826  # of a normal distribution
_FAR = 6.0  # standard deviations of the noise: a spike
_UNUSABLE = 0.2  # of all samples
_SLOWER_RETURN = 1.0  # seconds after which a far-off level is believed sooner


def noise_of(times: list[float], values: list[float], floor: float) -> float:
    """The standard deviation of the noise: the scatter about the line between both neighbours.

    Robust: of a noisy trace half the samples may be anything. Where most of the scatter is
    nothing, as from a sensor with coarse steps, the rest of it decides, but for the largest tenth,
    which corners make. Not below `floor`.
    """
    scatter = []
    for i in range(1, len(times) - 1):
        share = (times[i] - times[i - 1]) / (times[i + 1] - times[i - 1])
        between = values[i - 1] + share * (values[i + 1] - values[i - 1])
        scatter.append(abs(values[i] - between) / hypot(1.0, share, 1.0 - share))
    if not scatter:
        return floor
    scatter.sort()
    middle = scatter[len(scatter) // 2] * _MAD_TO_SIGMA
    if middle > floor:
        return middle
    lower = scatter[: max(1, len(scatter) * 9 // 10)]
    return max(floor, sqrt(fsum(part * part for part in lower) / len(lower)))


def drop_spikes(samples: Samples, column: int, noise: float, least: float) -> None:
    """Leave out samples that stand alone: far from the line between their neighbours and from
    the lines on either side, all to the same side. Corners and turns of a course stay.
    """
    times, values = samples.times, samples.columns[column]
    far = max(_FAR * noise, least)
    spikes = []
    for i in range(2, len(times) - 2):
        apart = (
            values[i] - _on_line(times, values, i - 1, i + 1, i),
            values[i] - _on_line(times, values, i - 2, i - 1, i),
            values[i] - _on_line(times, values, i + 1, i + 2, i),
        )
        if min(apart) > far or max(apart) < -far:
            spikes.append(i)
    samples.drop("spike", spikes)


def _on_line(times: list[float], values: list[float], one: int, other: int, at: int) -> float:
    slope = (values[other] - values[one]) / (times[other] - times[one])
    return values[one] + slope * (times[at] - times[one])


def drop_jumps(samples: Samples, column: int, fastest: float, slack: float) -> None:
    """Leave out samples that could only be reached faster than `fastest` from the last good one.

    After a second the allowance grows at a third of that speed: a gap in the samples is bridged,
    a stuck sensor is not believed at once.
    """
    times, values = samples.times, samples.columns[column]
    gone: list[int] = []
    last = _first_good(times, values, fastest, slack)
    gone.extend(range(last))
    for i in range(last + 1, len(times)):
        since = times[i] - times[last]
        reach = fastest * min(since, _SLOWER_RETURN)
        reach = max(reach, fastest * since / 3) + slack
        if abs(values[i] - values[last]) > reach:
            gone.append(i)
        else:
            last = i
    samples.drop("jump", gone)


def _first_good(times: list[float], values: list[float], fastest: float, slack: float) -> int:
    """The first sample that agrees with the two after it."""

    def agrees(i: int, other: int) -> bool:
        return abs(values[other] - values[i]) <= fastest * (times[other] - times[i]) + slack

    starts = (i for i in range(len(times) - 2) if agrees(i, i + 1) and agrees(i, i + 2))
    return next(starts, 0)


def refuse_unusable(samples: Samples) -> None:
    """A trace of which more than a fifth had to be left out as impossible tells nothing."""
    impossible = sum(len(samples.discarded.get(reason, ())) for reason in ("jump", "spike"))
    if impossible > _UNUSABLE * samples.received:
        message = f"{impossible} of {samples.received} samples cannot be measurements"
        raise InputError.at("/samples", "unusable", message)
