"""What the course of a door tells: speeds, times, stops and re-closures, with their doubts."""

from __future__ import annotations

from itertools import pairwise
from math import hypot, sqrt

from rules.measurement.answer import Reading, number, reading
from rules.measurement.motion import Motion, Stretch, doubt
from rules.measurement.opening import time_to_width
from rules.measurement.runs import Doing
from rules.measurement.setting import Setting
from rules.measurement.stopwatch import SPEED_UNITS
from rules.quantities import unit

STOP = 0.5  # seconds of standstill
_HELD = 0.5  # seconds for which a peak speed is held
_CLOSED = 0.020  # metres from closed that still are closed
_PROMISED_RATE = 10.0  # samples a second from which counts are exact
_PROMISED_NOISE = 0.005  # metres up to which they are
_NOTES = {
    "few_samples": "fewer than 10 samples a second: the counts are not promised",
    "noisy": "noise above 5 mm: the counts are not promised",
    "begins_moving": "the trace begins with the door moving; times count from its first sample",
    "ends_moving": "the trace ends with the door moving; times count to its last sample",
    "no_closing": "the door does not close in this trace",
    "moved_before_signal": "the door moves before the signal: no start delay can be told",
    "doubtful_stop": "a standstill is within its uncertainty of half a second long",
    "stops_left_out": "closing_speed is the mean while the door closes: its stops and retractions "
    "are left out; closing_speed_overall, distance over the whole time, takes them in",
    "width_not_reached": "the required width is not reached in this trace",
}


class Journey:
    """The part of a course from its first motion to its last, and what it tells."""

    def __init__(self, motion: Motion, setting: Setting) -> None:
        self._setting, self._noise = setting, motion.noise
        stretches = motion.stretches
        moves = [n for n, stretch in enumerate(stretches) if stretch.doing is not Doing.STANDING]
        self._course = stretches[moves[0] : moves[-1] + 1] if moves else ()
        self._begins_moving = bool(moves) and moves[0] == 0
        self._ends_moving = bool(moves) and moves[-1] == len(stretches) - 1
        self._closings = [s for s in self._course if s.doing is Doing.CLOSING]
        standing = [(s, then) for s, then in pairwise(self._course) if s.doing is Doing.STANDING]
        self._standstills = [(s, then) for s, then in standing if not self._stands_closed(s)]
        self._stops = [(s, then) for s, then in self._standstills if s.lasts >= STOP]

    def answer(self) -> dict[str, object]:
        """Readings, counts and notes."""
        return {
            "readings": self._readings(),
            "derived": self._derived(),
            "stops": len(self._stops),
            "reclosures": self._reclosures(),
            "pauses": [self._pause(stop, follows) for stop, follows in self._stops],
            "closed": self._closed(),
            "notes": [{"code": code, "message": _NOTES[code]} for code in self._notes()],
        }

    def _readings(self) -> list[Reading]:
        found: list[Reading] = []
        if self._closings:
            found += [self._mean_speed(), *self._peak_speed(), *self._closing_time()]
        found += [*self._start_delay(), *self._time_to_width()]
        return found + [
            reading("pause_time", stop.lasts, "s", doubt([stop]), repeat=number)
            for number, (stop, _) in enumerate(self._stops, 1)
        ]

    def _mean_speed(self) -> Reading:
        distance = sum(closing.distance for closing in self._closings)
        lasts = sum(closing.lasts for closing in self._closings) + self._hesitated()
        sensor = self._setting.sensor_error * sqrt(len(self._closings))
        off = hypot(*(_off(closing) for closing in self._closings), sensor)
        speed = distance / lasts
        error = speed * hypot(off / distance, doubt(self._closings) / lasts)
        return self._speed("closing_speed", speed, error)

    def _hesitated(self) -> float:
        """Seconds of standstills between two closings that are too short to be stops."""
        return sum(
            here.ends.time - here.begins.time
            for before, here, after in zip(
                self._course, self._course[1:], self._course[2:], strict=False
            )
            if here.doing is Doing.STANDING
            and before.doing is after.doing is Doing.CLOSING
            and here.lasts < STOP
        )

    def _peak_speed(self) -> list[Reading]:
        held = [
            piece.line
            for closing in self._closings
            for piece in closing.pieces
            if piece.lasts >= _HELD
        ]
        if not held:
            return []
        fastest = max(held, key=lambda line: line.slope)
        error = hypot(fastest.slope_error(self._noise), self._setting.sensor_error / _HELD)
        return [self._speed("peak_closing_speed", fastest.slope, error)]

    def _speed(self, name: str, speed: float, error: float) -> Reading:
        symbol = SPEED_UNITS[self._setting.unit.symbol]
        factor = float(unit(symbol).factor)
        return reading(name, speed / factor, symbol, error / factor)

    def _closing_time(self) -> list[Reading]:
        """Only of a course that begins and ends with closing: any other is not one closing."""
        first, last = self._course[0], self._course[-1]
        if Doing.OPENING in (first.doing, last.doing):
            return []
        whole = Stretch(Doing.CLOSING, (), first.begins, last.ends)
        return [reading("closing_time", whole.lasts, "s", doubt([whole]))]

    def _start_delay(self) -> list[Reading]:
        signal = self._setting.signal_at
        if signal is None or not self._course or self._moved_before_signal():
            return []
        starts = self._course[0].begins
        return [
            reading(
                "start_delay",
                max(0.0, starts.time - signal),
                "s",
                hypot(starts.time_error, starts.hidden),
            )
        ]

    def _time_to_width(self) -> list[Reading]:
        """From the signal, or else the first motion, until the door is open to the width."""
        width, course = self._setting.required_width, self._course
        opens = [stretch for stretch in course if stretch.doing is Doing.OPENING]
        if width is None or not opens or self._moved_before_signal():
            return []
        closed = 0.0 if self._setting.measures_opening else opens[0].begins.level
        found = time_to_width(course, closed - width, self._setting.signal_at, self._noise)
        return [found] if found else []

    def _moved_before_signal(self) -> bool:
        signal = self._setting.signal_at
        if signal is None or not self._course:
            return False
        starts = self._course[0].begins
        return (
            self._begins_moving
            or starts.time + 3 * hypot(starts.time_error, starts.hidden) < signal
        )

    def _derived(self) -> list[Reading]:
        """What no requirement limits, in the form of readings."""
        if not self._course:
            return []
        first, last = self._course[0].begins, self._course[-1].ends
        error = hypot(first.level_error, last.level_error, self._setting.sensor_error)
        return [
            self._length("travel", last.level - first.level, error),
            *self._overall_speed(last.level - first.level, error),
            *(
                self._length("retraction", -stretch.distance, _off(stretch), repeat=number)
                for number, stretch in enumerate(self._retractions(), 1)
            ),
        ]

    def _overall_speed(self, distance: float, error: float) -> list[Reading]:
        """Distance over the whole time of a closing, its stops and retractions taken in."""
        closing = self._closing_time()
        if not closing or not self._closings or distance <= 0:
            return []
        whole = Stretch(Doing.CLOSING, (), self._course[0].begins, self._course[-1].ends)
        speed = distance / whole.lasts
        off = speed * hypot(error / distance, doubt([whole]) / whole.lasts)
        return [self._speed("closing_speed_overall", speed, off)]

    def _length(self, name: str, metres: float, error: float, **more: object) -> Reading:
        factor = float(self._setting.unit.factor)
        return reading(name, metres / factor, self._setting.unit.symbol, error / factor, **more)

    def _retractions(self) -> list[Stretch]:
        return [stretch for stretch in self._course if stretch.doing is Doing.OPENING]

    def _reclosures(self) -> int:
        """Closings after an opening, whether or not the door stood still between them."""
        moves = [s.doing for s in self._course if s.doing is not Doing.STANDING]
        return sum(pair == (Doing.OPENING, Doing.CLOSING) for pair in pairwise(moves))

    def _pause(self, stop: Stretch, follows: Stretch) -> Reading:
        """One stop: when, how long, where, and what the door did next."""
        level = (stop.begins.level + stop.ends.level) / 2
        shown = -level if self._setting.measures_opening else level
        pause = reading("pause_time", stop.lasts, "s", doubt([stop]))
        del pause["quantity"]
        where = self._length("position", shown, stop.begins.level_error)
        del where["quantity"]
        at = number(stop.begins.time, stop.begins.time_error)
        return {"at": at, **pause, "position": where, "then": follows.doing.value}

    def _closed_level(self) -> float | None:
        """The position at which the door is closed, where the trace tells."""
        if self._setting.measures_opening:
            return 0.0
        if not self._course:
            return None
        first, last = self._course[0], self._course[-1]
        if self._setting.travel is not None and first.doing is Doing.CLOSING:
            return first.begins.level + self._setting.travel
        return last.ends.level if last.doing is Doing.CLOSING else None

    def _stands_closed(self, stretch: Stretch) -> bool:
        """A door that stands closed has not stopped on its way."""
        closed = self._closed_level()
        return closed is not None and abs(stretch.begins.level - closed) <= _CLOSED

    def _closed(self) -> bool | None:
        """Whether the door ends closed; None where neither the tape nor the positions tell."""
        told = self._setting.measures_opening or self._setting.travel is not None
        closed = self._closed_level()
        if not told or not self._course or closed is None:
            return None
        last = self._course[-1].ends
        return abs(last.level - closed) <= _CLOSED + 2 * last.level_error

    def _notes(self) -> list[str]:
        doubtful = any(
            abs(stretch.lasts - STOP) <= 2 * doubt([stretch]) for stretch, _ in self._standstills
        )
        said = {
            "few_samples": self._setting.rate < _PROMISED_RATE * 0.99,
            "noisy": self._noise > _PROMISED_NOISE * 1.2,
            "begins_moving": self._begins_moving,
            "ends_moving": self._ends_moving,
            "no_closing": not self._closings,
            "moved_before_signal": self._moved_before_signal(),
            "doubtful_stop": doubtful,
            "stops_left_out": bool(self._closings and (self._stops or self._retractions())),
            "width_not_reached": self._setting.required_width is not None
            and not self._time_to_width(),
        }
        return [code for code, holds in said.items() if holds]


def _off(stretch: Stretch) -> float:
    """The standard error of how far it leads."""
    return hypot(stretch.begins.level_error, stretch.ends.level_error)
