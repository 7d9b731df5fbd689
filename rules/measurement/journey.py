"""What the course of a door tells: speeds, times, stops and re-closures, with their doubts."""

from __future__ import annotations

from itertools import pairwise
from math import hypot

from rules.measurement.answer import Reading, number, reading
from rules.measurement.motion import Motion, Stretch, doubt
from rules.measurement.opening import time_to_width
from rules.measurement.pace import STOP, is_doubtful, pace_of
from rules.measurement.runs import Doing
from rules.measurement.setting import Setting
from rules.measurement.stopwatch import SPEED_UNITS
from rules.quantities import unit

_HELD = 0.5  # seconds for which a peak speed is held
_CLOSED = 0.020  # metres from closed that still are closed
_PROMISED_RATE = 10.0  # samples a second from which counts are exact
_PROMISED_NOISE = 0.005  # metres up to which they are
_NOTES = {
    "few_samples": "fewer than 10 samples a second: the counts are not promised",
    "gap": "no samples for half a second or more while the door was under way: what it did "
    "meanwhile is not told, and the counts are not promised",
    "noisy": "noise above 5 mm: the counts are not promised",
    "coarse": "positions come in steps of 5 mm or more: a motion that begins or ends more slowly "
    "than they show is not told",
    "begins_moving": "the trace begins with the door moving: it tells no closing time",
    "ends_moving": "the trace ends with the door moving: it tells no closing time",
    "no_closing": "the door does not close in this trace",
    "not_closed": "the door has not come the whole travel when it stands still for good: the trace "
    "tells no closing time, and its speeds are of the part it came",
    "closing_untold": "nothing in the trace tells where the door is closed: its times and speeds "
    "are of the motion seen; state the travel",
    "moved_before_signal": "the door moves before the signal: no start delay can be told",
    "doubtful_stop": "a standstill is within its uncertainty of half a second long",
    "stops_left_out": "closing_speed is the mean while the door closes: its stops and retractions "
    "are left out; closing_speed_overall, distance over the whole time, takes them in",
    "width_not_reached": "the required width is not reached in this trace",
}


class Journey:
    """The part of a course from its first motion to its last, and what it tells."""

    def __init__(self, motion: Motion, setting: Setting) -> None:
        self._setting, self._noise, self._gaps = setting, motion.noise, motion.gaps
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
        pace = pace_of(self._course, self._setting.sensor_error)
        if pace:
            mean = self._speed("closing_speed", pace.speed, pace.error)
            found += [mean, *self._peak_speed(), *self._closing_time()]
        found += [*self._start_delay(), *self._time_to_width()]
        return found + [
            reading("pause_time", stop.lasts, "s", doubt([stop]), repeat=number)
            for number, (stop, _) in enumerate(self._stops, 1)
        ]

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
        """Only of one closing, seen from its beginning to its end, that is not known to stop
        short of closed.
        """
        seen = not (self._begins_moving or self._ends_moving) and self._closed() is not False
        if not self._is_one_closing() or not seen:
            return []
        whole = self._whole()
        return [reading("closing_time", whole.lasts, "s", doubt([whole]))]

    def _is_one_closing(self) -> bool:
        """Whether the course begins and ends with closing."""
        return Doing.OPENING not in (self._course[0].doing, self._course[-1].doing)

    def _whole(self) -> Stretch:
        return Stretch(Doing.CLOSING, (), self._course[0].begins, self._course[-1].ends)

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
                self._length("retraction", -stretch.distance, stretch.off, repeat=number)
                for number, stretch in enumerate(self._retractions(), 1)
            ),
        ]

    def _overall_speed(self, distance: float, error: float) -> list[Reading]:
        """Distance over the whole time of a closing, its stops and retractions taken in."""
        if not self._is_one_closing() or not self._closings or distance <= 0:
            return []
        whole = self._whole()
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

    def _has_gap(self) -> bool:
        """Whether a time without samples reaches into the course."""
        if not self._course:
            return False
        first, last = self._course[0].begins.time, self._course[-1].ends.time
        return any(since < last and until > first for since, until in self._gaps)

    def _notes(self) -> list[str]:
        doubtful = any(is_doubtful(stretch) for stretch, _ in self._standstills)
        said = {
            "few_samples": self._setting.rate < _PROMISED_RATE * 0.99,
            "gap": self._has_gap(),
            "noisy": self._noise > _PROMISED_NOISE * 1.2,
            "coarse": self._setting.coarse,
            "begins_moving": self._begins_moving,
            "ends_moving": self._ends_moving,
            "no_closing": not self._closings,
            "not_closed": bool(self._closings) and self._closed() is False,
            "closing_untold": bool(self._closings)
            and not self._ends_moving
            and self._closed() is None,
            "moved_before_signal": self._moved_before_signal(),
            "doubtful_stop": doubtful,
            "stops_left_out": bool(self._closings and (self._stops or self._retractions())),
            "width_not_reached": self._setting.required_width is not None
            and not self._time_to_width(),
        }
        return [code for code, holds in said.items() if holds]
