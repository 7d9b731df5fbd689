"""Courses given by their speed alone, summed up millisecond by millisecond, with their truth
counted by the definitions: a second way to make traces, that shares nothing with the first.
"""

from __future__ import annotations

from itertools import groupby, pairwise

import numpy as np
from numpy.typing import NDArray

Speeds = NDArray[np.float64]
TICK = 0.001  # seconds
STILL, STOP = 0.05, 0.5  # of the median speed; seconds


def even(speed: float, seconds: float) -> Speeds:
    """One speed in mm/s, 0 for a standstill, below 0 to open."""
    return np.full(round(seconds / TICK), float(speed))


def change(before: float, after: float, seconds: float, *, soft: bool = False) -> Speeds:
    """From one speed to another, in a straight line or as half a cosine."""
    share = (np.arange(round(seconds / TICK)) + 0.5) * TICK / seconds
    if soft:
        share = np.asarray((1 - np.cos(np.pi * share)) / 2)
    return np.asarray(before + (after - before) * share, dtype=np.float64)


def fade(speed: float, constant: float) -> Speeds:
    """A speed that falls to a third every so many seconds, eight times."""
    return speed * np.exp(-np.arange(round(8 * constant / TICK)) * TICK / constant)


def waves(speed: float, share: float, period: float, seconds: float) -> Speeds:
    """A speed that swings about its mean by that share."""
    times = np.arange(round(seconds / TICK)) * TICK
    return speed * (1 + share * np.sin(2 * np.pi * times / period))


class Truth:
    """Stops, re-closures and the mean closing speed of a course, by the definitions. Whether what
    is slower than a standstill at the ends of a motion belongs to it is open: `lowest` to
    `highest` are the mean speed with and without it.
    """

    def __init__(self, speeds: Speeds) -> None:
        moving = speeds[speeds > 0]
        for _ in range(20):  # the median of what is motion, which the median itself decides
            moving = speeds[speeds >= STILL * np.median(moving)]
        still = STILL * float(np.median(moving))
        doing = np.where(np.abs(speeds) < still, 0, np.sign(speeds)).astype(int)
        runs = [(key, len(list(same))) for key, same in groupby(doing.tolist())]
        moves = [n for n, (key, _) in enumerate(runs) if key]
        course = runs[moves[0] : moves[-1] + 1]
        self.stops = sum(not key and ticks * TICK >= STOP - TICK / 2 for key, ticks in course)
        senses = [key for key, _ in course if key]
        self.reclosures = sum(one < 0 < other for one, other in pairwise(senses))
        short = sum(
            here[1]
            for before, here, after in zip(course, course[1:], course[2:], strict=False)
            if not here[0] and before[0] > 0 < after[0] and here[1] * TICK < STOP - TICK / 2
        )
        within = speeds[doing > 0]
        self.highest = float(within.sum() / (len(within) + short))
        whole = speeds[speeds > 0]
        self.lowest = float(whole.sum() / (len(whole) + short))


def looked_at(
    speeds: Speeds,
    draw: np.random.Generator,
    *,
    rate: float = 20,
    noise: float = 1.0,
    steps: float = 0.0,
    gap: tuple[float, float] | None = None,
    wild: float = 0.0,
    disorder: bool = False,
) -> list[list[float]]:
    """Samples of a course from its beginning to its end: normal noise in mm, a display's steps, a
    time without samples, a share of wild values, and every sixth sample doubled, all of them in
    any order.
    """
    covered = np.concatenate(([0.0], np.cumsum(speeds) * TICK))
    times = np.arange(int(len(speeds) * TICK * rate) + 1) / rate
    if gap:
        times = times[(times < gap[0]) | (times > gap[1])]
    shown = np.interp(times, np.arange(len(covered)) * TICK, covered)
    shown = shown + draw.normal(0, noise, len(times)) if noise else shown
    far = draw.random(len(times)) < wild
    shown = shown + far * draw.choice((-1, 1), len(times)) * draw.uniform(300, 4000, len(times))
    shown = np.round(shown / steps) * steps if steps else shown
    rows: list[list[float]] = np.column_stack([times, shown]).tolist()
    if disorder:
        rows += rows[::6]
        rows = [rows[place] for place in draw.permutation(len(rows))]
    return rows
