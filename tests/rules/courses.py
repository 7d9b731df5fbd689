"""Courses of a leading edge with known truth, in closed form, and sensors that look at them."""

from __future__ import annotations

import random
from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True)
class Leg:
    """One part of a course: a speed in mm/s (0 stands still, below 0 opens) held for a time, with
    an even change of speed lasting `ramp` seconds at each end. `lasts` counts everything.
    """

    speed: float
    lasts: float
    ramp: float = 0.0

    def position(self, since: float) -> float:
        """Millimetres covered that long after its beginning."""
        ramp, left = self.ramp, self.lasts - since
        if since <= 0:
            return 0.0
        if left <= 0:
            return self.distance
        if since < ramp:
            return self.speed * since**2 / (2 * ramp)
        if left < ramp:
            return self.distance - self.speed * left**2 / (2 * ramp)
        return self.speed * (since - ramp / 2)

    @property
    def distance(self) -> float:
        """Millimetres covered in all."""
        return self.speed * (self.lasts - self.ramp)

    def slow(self, threshold: float) -> float:
        """Seconds at each end in which it is slower than a threshold."""
        return self.ramp * threshold / abs(self.speed) if self.speed else 0.0


@dataclass(frozen=True)
class Course:
    """Legs one after another from `starts` on; before and after them the door stands."""

    legs: tuple[Leg, ...]
    starts: float = 1.5
    stands: float = 2.0  # seconds after the last leg

    def position(self, time: float) -> float:
        """Millimetres from full open."""
        since, covered = time - self.starts, 0.0
        for leg in self.legs:
            covered += leg.position(since)
            since -= leg.lasts
        return covered

    @property
    def lasts(self) -> float:
        """Seconds from the beginning of the first leg to the end of the last."""
        return sum(leg.lasts for leg in self.legs)

    @property
    def closings(self) -> list[Leg]:
        """The legs that close."""
        return [leg for leg in self.legs if leg.speed > 0]

    @property
    def closing_speed(self) -> float:
        """Mean speed while closing, mm/s; standstills too short to be stops belong to it."""
        hesitated = sum(leg.lasts for leg in self.legs if not leg.speed and leg.lasts < 0.5)
        lasts = sum(leg.lasts for leg in self.closings) + hesitated
        return sum(leg.distance for leg in self.closings) / lasts

    @property
    def reclosures(self) -> int:
        """Closings after an opening."""
        moves = [leg.speed for leg in self.legs if leg.speed]
        return sum(a < 0 < b for a, b in pairwise(moves))

    @property
    def stops(self) -> int:
        """Standstills on the way of at least half a second."""
        return sum(leg.speed == 0 and leg.lasts >= 0.5 for leg in self.legs)


@dataclass(frozen=True)
class Sensor:
    """Samples a second and what is wrong with them: `noise` in mm (a normal distribution's sigma,
    or the half-width of an even one), the share of samples lost, doubled and out of place, the
    share far off, and the steps of its display in mm.
    """

    rate: float = 20.0
    noise: float = 0.0
    even: bool = False
    lost: float = 0.0
    doubled: float = 0.0
    displaced: float = 0.0
    wild: float = 0.0
    steps: float = 0.0
    jitter: float = 0.0
    seed: int = 0

    def look(self, course: Course) -> list[list[float]]:
        """Samples of a course, from time 0 to the end of its last standstill."""
        draw = random.Random(self.seed)
        end = course.starts + course.lasts + course.stands
        rows = []
        for number in range(int(end * self.rate) + 1):
            time = (number + draw.uniform(-self.jitter, self.jitter)) / self.rate
            if draw.random() < self.lost:
                continue
            row = [time, self._shown(course.position(time), draw)]
            if draw.random() < self.wild:
                row[1] += draw.choice((-1, 1)) * draw.uniform(300, 5000)
            rows.append(row)
            if draw.random() < self.doubled:
                rows.append(list(row))
        for place in range(1, len(rows)):
            if draw.random() < self.displaced:
                rows[place - 1], rows[place] = rows[place], rows[place - 1]
        return rows

    def _shown(self, position: float, draw: random.Random) -> float:
        blur = draw.uniform(-self.noise, self.noise) if self.even else draw.gauss(0, self.noise)
        shown = position + blur
        return round(shown / self.steps) * self.steps if self.steps else shown


def trace(rows: list[list[float]], **more: object) -> dict[str, object]:
    """A travel trace in seconds and millimetres."""
    return {"kind": "travel", "units": {"t": "s", "position": "mm"}, "samples": rows, **more}
