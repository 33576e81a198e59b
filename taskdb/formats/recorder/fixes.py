"""The B records of a flight recorder's file as columns: by fixed places in the record, all at once.

IGC Technical Specification for GNSS Flight Recorders, Appendix A (text of 2008; what stands beside a rule here is from
memory unless the worked record of 4.2 shows it): 2.1 lines, 2.4 positions, 3.4 the I record, which says what follows
in a B record, 4.1 the B record. Nothing raises: a record that cannot be read is told, and the rest is read.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.flights.fixes import Fixes
from taskdb.formats.recorder.lines import Lines

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]
    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.intp]
    Bools = npt.NDArray[np.bool_]

_WHOLE, _NEEDED = 35, 25
"""Bytes of a B record without extensions (4.1), and those up to its validity: altitudes may be cut off."""
_LATITUDE, _LONGITUDE, _PRESSURE, _GNSS = 7, 15, 25, 30
_NORTH, _EAST, _VALID = 14, 23, 24
_MINUTE = 60_000
"""Thousandths in a minute's sixty (2.4): as many in a degree."""

_LOWER, _ZERO, _MINUS = 0x20, 48, 45
_EXTENSION = re.compile(r"(\d\d)(\d\d)(LAD|LOD|TDS)")
_MOST_DIGITS = 6


def fixes_of(lines: Lines) -> tuple[Fixes, tuple[str, ...]]:
    """Return the fixes of a file in its order, and sentences about the records that cannot be read.

    Taken are records whose time, position and validity are whole and within what there is; an altitude that is not
    is NaN, alone. Digits of time, latitude and longitude beyond the record's own are taken where the I record says
    that they follow (codes TDS, LAD, LOD).
    """
    numbers = lines.beginning_with("B")
    whole = _records(lines, numbers)
    long_enough = lines.length[numbers] >= _NEEDED
    is_read = long_enough & _is_fix(whole)
    columns = whole[is_read]
    length = lines.length[numbers[is_read]]
    start = lines.start[numbers[is_read]]
    extra = {code: _extension(lines, start, length, *span) for code, span in _extensions(lines).items()}
    fixes = Fixes(
        clock_s=_clock_s(columns) + extra.get("TDS", 0.0),
        latitude_deg=_degrees(columns, _LATITUDE, 2, extra.get("LAD", 0.0), columns[:, _NORTH], "s"),
        longitude_deg=_degrees(columns, _LONGITUDE, 3, extra.get("LOD", 0.0), columns[:, _EAST], "w"),
        is_valid=_lower(columns[:, _VALID]) == ord("a"),
        pressure_altitude_m=_altitude(columns, _PRESSURE, length),
        gnss_altitude_m=_altitude(columns, _GNSS, length),
    )
    return fixes, _told(lines, numbers, is_read)


def _records(lines: Lines, numbers: Ints) -> Bytes:
    """Return the first 35 bytes from where each record begins (records, 35); beyond the file's end zeros."""
    padded = np.concatenate([lines.content, np.zeros(_WHOLE, dtype=np.uint8)])
    rows: Bytes = np.lib.stride_tricks.sliding_window_view(padded, _WHOLE)[lines.start[numbers]]
    return rows


def _lower(letters: Bytes) -> Bytes:
    # 5: letters are taken in either case.
    lowered: Bytes = np.bitwise_or(letters, np.uint8(_LOWER))
    return lowered


def _number(columns: Bytes, first: int, count: int) -> Ints:
    """Return the whole number that digits make (records); of no meaning where they are none."""
    value = np.zeros(len(columns), dtype=np.intp)
    for at in range(first, first + count):
        value = value * 10 + (columns[:, at].astype(np.intp) - _ZERO)
    return value


def _are_digits(columns: Bytes, first: int, count: int) -> Bools:
    # Below the digit 0 the subtraction runs round to large numbers.
    return np.asarray(((columns[:, first : first + count] - np.uint8(_ZERO)) < 10).all(axis=1))


def _is_fix(columns: Bytes) -> Bools:
    """Return which records hold a time, a position on the earth, and a validity A or V (4.1)."""
    letters = (
        np.isin(_lower(columns[:, _NORTH]), (ord("n"), ord("s")))
        & np.isin(_lower(columns[:, _EAST]), (ord("e"), ord("w")))
        & np.isin(_lower(columns[:, _VALID]), (ord("a"), ord("v")))
    )
    digits = _are_digits(columns, 1, 6) & _are_digits(columns, _LATITUDE, 7) & _are_digits(columns, _LONGITUDE, 8)
    clock = (_number(columns, 1, 2) < 24) & (_number(columns, 3, 2) < 60) & (_number(columns, 5, 2) < 60)
    return letters & digits & clock & _is_angle(columns, _LATITUDE, 2, 90) & _is_angle(columns, _LONGITUDE, 3, 180)


def _is_angle(columns: Bytes, first: int, degree_digits: int, limit: int) -> Bools:
    degrees, minutes = _number(columns, first, degree_digits), _number(columns, first + degree_digits, 5)
    within: Bools = (minutes < _MINUTE) & (degrees * _MINUTE + minutes <= limit * _MINUTE)
    return within


def _clock_s(columns: Bytes) -> Floats:
    hours, minutes, seconds = (_number(columns, first, 2) for first in (1, 3, 5))
    return np.asarray(hours * 3600.0 + minutes * 60.0 + seconds)


def _degrees(
    columns: Bytes, first: int, degree_digits: int, further: Floats | float, side: Bytes, negative: str
) -> Floats:
    """Return degrees of an angle in degrees and thousandths of minutes; `further` are parts of a thousandth."""
    thousandths = _number(columns, first, degree_digits) * _MINUTE + _number(columns, first + degree_digits, 5)
    size = (thousandths + further) / _MINUTE
    signed: Floats = np.where(_lower(side) == ord(negative), -size, size)
    return signed


def _altitude(columns: Bytes, first: int, length: Ints) -> Floats:
    """Return metres of five signs, the first of which may be a minus (4.1); NaN where they are no number."""
    is_minus = columns[:, first] == _MINUS
    is_number = _are_digits(columns, first + 1, 4) & (is_minus | _are_digits(columns, first, 1))
    size = _number(columns, first + 1, 4)
    metres = np.where(is_minus, -size, size + 10_000 * _number(columns, first, 1))
    return np.where(is_number & (length >= first + 5), metres, np.nan)


def _extensions(lines: Lines) -> dict[str, tuple[int, int]]:
    """Return where further digits stand in a B record, first byte and count, by their code (3.4: bytes from 1)."""
    numbers = lines.beginning_with("I")
    if not len(numbers):
        return {}
    said = lines.text(int(numbers[0]))[3:]
    found = {}
    for at in range(0, len(said) - 6, 7):
        match = _EXTENSION.fullmatch(said[at : at + 7])
        if match is None:
            continue
        first, count = int(match[1]) - 1, int(match[2]) - int(match[1]) + 1
        if first >= _WHOLE and 0 < count <= _MOST_DIGITS:
            found[match[3]] = (first, count)
    return found


def _extension(lines: Lines, start: Ints, length: Ints, first: int, count: int) -> Floats:
    """Return the digits at a place in each record as a fraction, 0 ≤ x < 1; 0 where a record has none."""
    value = np.zeros(len(start))
    there = np.flatnonzero(length >= first + count)
    if len(there):
        digits = lines.content[start[there][:, None] + np.arange(first, first + count)]
        value[there] = np.where(_are_digits(digits, 0, count), _number(digits, 0, count) / 10.0**count, 0.0)
    return value


def _told(lines: Lines, numbers: Ints, is_read: Bools) -> tuple[str, ...]:
    unread = numbers[~is_read]
    if not len(unread):
        return ()
    last = int(unread[-1])
    if len(unread) == 1 and last == len(lines.start) - 1:
        return ("The file breaks off in the middle of a fix; what stands before it is read.",)
    records = "1 fix record" if len(unread) == 1 else f"{len(unread):,} of {len(numbers):,} fix records"
    return (f"{records} cannot be read; the first is on line {int(unread[0]) + 1:,}.",)
