"""The fixes of a flight log as columns, and which of them count.

IGC Technical Specification for GNSS Flight Recorders, Appendix A (text of 2008): 4.1 the B record and its validity.
A fix counts where it is valid (A), its time grows and it is not at 0/0; between two such fixes at most 60 s apart the
flight is the geodesic at even speed, a longer gap proves nothing. Nothing here says who flew.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.model import Position

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.intp]
    Bools = npt.NDArray[np.bool_]

LONGEST_PIECE_S = 60.0
"""Between two fixes further apart nothing is proven."""

DAY_S = 86_400.0


@dataclass(frozen=True, slots=True, eq=False)
class Fixes:
    """All fix records of a log that can be read, in the file's order; arrays of one length.

    `clock_s` is the UTC time of day, `is_valid` the validity A. Degrees on WGS84, east and north positive; altitudes in
    metres, NaN where the record has none: pressure altitude above 1013.25 hPa, GNSS altitude as the receiver gives it.
    """

    clock_s: Floats
    latitude_deg: Floats
    longitude_deg: Floats
    is_valid: Bools
    pressure_altitude_m: Floats
    gnss_altitude_m: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """The fixes that count, in order of time; arrays of one length, which may be 0.

    `time_s` grows from fix to fix: UTC seconds from the midnight with which the log's date begins, beyond 86,400 on the
    next day. Degrees on WGS84, altitudes as in `Fixes`.
    """

    time_s: Floats
    latitude_deg: Floats
    longitude_deg: Floats
    pressure_altitude_m: Floats
    gnss_altitude_m: Floats

    def __len__(self) -> int:
        return len(self.time_s)

    @property
    def is_joined(self) -> Bools:
        """Return for each fix but the last whether the flight from it to the next one is proven."""
        joined: Bools = np.diff(self.time_s) <= LONGEST_PIECE_S
        return joined

    def position(self, number: int) -> Position:
        """Return where a fix is, rounded to 1e-7° as every position that is told."""
        return Position.at(float(self.latitude_deg[number]), float(self.longitude_deg[number]))


@dataclass(frozen=True, slots=True, eq=False)
class Log:
    """What a flight log tells, without names, marks and numbers.

    `date` is ISO and that of the first fix (UTC), None where the log has none. `declared` are start, turns and finish
    of the declaration that counts: a hint, seldom the task of the day. `problems` are sentences.
    """

    date: str | None
    track: Track
    declared: tuple[Position, ...] = ()
    problems: tuple[str, ...] = ()


def counting(fixes: Fixes) -> tuple[Track, tuple[str, ...]]:
    """Return the fixes that count, and in sentences why others do not."""
    problems = []
    nowhere = (fixes.latitude_deg == 0) & (fixes.longitude_deg == 0)
    total, invalid = len(fixes.clock_s), int(np.count_nonzero(~fixes.is_valid))
    if invalid:
        problems.append(f"Not valid by their mark, and not counted: {invalid:,} of {total:,} fixes.")
    if lost := int(np.count_nonzero(nowhere & fixes.is_valid)):
        problems.append(f"At 0/0, and not counted: {lost:,} of {total:,} fixes.")
    used = np.flatnonzero(fixes.is_valid & ~nowhere)
    time_s = _running_on(fixes.clock_s[used])
    if len(time_s) and (np.diff(time_s) <= 0).any():
        problems += _told_steps(time_s)
        grows = _growing(time_s)
        used, time_s = used[grows], time_s[grows]
    return (
        Track(
            time_s,
            fixes.latitude_deg[used],
            fixes.longitude_deg[used],
            fixes.pressure_altitude_m[used],
            fixes.gnss_altitude_m[used],
        ),
        tuple(problems),
    )


def _running_on(clock_s: Floats) -> Floats:
    """Return times that run on over midnight: a clock that falls by more than half a day has passed it.

    One that rises by so much goes back behind it again, so that one wild fix does not move all that follow. The day
    that the header dates is that of the first fix, unless most fixes would then lie before it: it is wild itself.
    """
    steps = np.diff(clock_s)
    turns = np.flatnonzero(np.abs(steps) > DAY_S / 2)
    if not len(turns):
        return clock_s
    days = np.zeros(len(clock_s))
    day = 0
    for at in turns:
        day += 1 if steps[at] < 0 else -1
        days[at + 1 :] = day
    days -= min(0.0, float(np.median(days)))
    running: Floats = clock_s + days * DAY_S
    return running


def _told_steps(time_s: Floats) -> list[str]:
    steps = np.diff(time_s)
    back = steps[steps < 0]
    told = []
    if len(back):
        times = "once" if len(back) == 1 else f"{len(back):,} times"
        told.append(f"The clock steps back {times}, by up to {-float(back.min()):,.0f} s.")
    if same := int(np.count_nonzero(steps == 0)):
        told.append(f"At the time of the fix before, and not counted: {same:,} of {len(time_s):,} fixes.")
    return told


def _growing(time_s: Floats) -> Ints:
    """Return the numbers of the fixes whose time grows: later than all before it.

    One wild clock far ahead would end the flight so. Where that costs more than twice what has to go, the longest
    growing run of times is kept instead.
    """
    highest = np.maximum.accumulate(time_s)
    later = np.concatenate([[True], time_s[1:] > highest[:-1]])
    plain: Ints = np.flatnonzero(later)
    longest = _longest_growing(time_s)
    lost, least = len(time_s) - len(plain), len(time_s) - len(longest)
    return longest if lost > 2 * least else plain


def _longest_growing(time_s: Floats) -> Ints:
    """Return the numbers of a longest strictly growing run of times (patience sorting)."""
    ends: list[float] = []
    numbers: list[int] = []
    before = [-1] * len(time_s)
    for number, time in enumerate(time_s.tolist()):
        at = bisect_left(ends, time)
        if at == len(ends):
            ends.append(time)
            numbers.append(number)
        elif time < ends[at]:
            ends[at], numbers[at] = time, number
        else:
            continue
        before[number] = numbers[at - 1] if at else -1
    run, number = [], numbers[-1]
    while number >= 0:
        run.append(number)
        number = before[number]
    return np.array(run[::-1], dtype=np.intp)
