"""A flight from a flight recorder's file: its fixes, its date, and where the points that it declared are.

IGC Technical Specification for GNSS Flight Recorders, Appendix A (text of 2008): 3.3 the date among the H records,
3.6 the declaration, 4.1 the fixes. Names, marks and numbers of gliders, recorders and people stand in other lines (A,
the rest of H, and texts of C); those lines are not looked at, and no text of the file leaves this module.
"""

from __future__ import annotations

from typing import BinaryIO

from taskdb.core.flights.airborne import Motion
from taskdb.core.flights.fixes import Log, Track, counting
from taskdb.core.model import Position
from taskdb.errors import InputError
from taskdb.formats.limits import LARGEST_TASK_BYTES, MOST_TASK_POINTS, require_size
from taskdb.formats.recorder.fixes import fixes_of
from taskdb.formats.recorder.lines import Lines, date_of
from taskdb.formats.recorder.records import moment_at
from taskdb.formats.tasks.igc import declared_positions


def read_igc_flight(stream: BinaryIO) -> Log:
    """Return the flight of a recorder's file, cut off or spoilt as it may be: what is wrong with it is told.

    Raises InputError where the file is too large to be one flight, or holds no fix record at all.
    """
    require_size(stream, LARGEST_TASK_BYTES, "Give the log of one flight.")
    lines = Lines.of(stream.read())
    fixes, unread = fixes_of(lines)
    if not len(fixes.clock_s):
        raise InputError(
            "no-fixes",
            "The file holds no fixes: no record that begins with B can be read.",
            hint="Give the log of a flight as its recorder wrote it (IGC flight-recorder specification).",
        )
    track, not_counted = counting(fixes)
    date = date_of(lines)
    undated = () if date is not None else ("It has no date that can be read (HFDTE): its times stand without one.",)
    return Log(date, track, _declared(lines, date, track), (*unread, *undated, *not_counted))


def _declared(lines: Lines, date: str | None, track: Track) -> tuple[Position, ...]:
    numbers = lines.beginning_with("C").tolist()
    if not 0 < len(numbers) <= MOST_TASK_POINTS:
        return ()
    span = Motion.of(track).flown
    take_off = None if date is None or span is None else moment_at(date, float(track.time_s[span[0]]))
    return declared_positions([(number + 1, lines.text(number).rstrip()) for number in numbers], take_off)
