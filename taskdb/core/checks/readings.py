"""What digits give when they are read in another notation than the one in which a point was read, for many points.

Computes readings; whether a group of points was misread is judged in `misread`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any, NamedTuple

from taskdb.core.checks.digits import notation_of, write_all
from taskdb.core.model import E7
from taskdb.core.notation.angles import Notation
from taskdb.core.packed_waypoints import PackedWaypoints

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Integers = NDArray[np.integer[Any]]

BELOW_60 = 0.6
_FINE, _COARSE = 0.01, 0.1
"""What lies in one cell of so many degrees (or minutes) has the same first digits, and is one place."""
_MOST_CELLS = 1_000_000
_AT_ONCE = 50_000
"""So many coordinates are read together: on the way each takes a hundred bytes."""
_MOST_DECIMALS = {Notation.DECIMAL: 7, Notation.MINUTES: 4}


class Reading(StrEnum):
    """As what the digits may have been meant."""

    SECONDS_IN_DEGREES = "minutes and seconds written as decimals of a degree"
    MINUTES_IN_DEGREES = "minutes written as decimals of a degree"
    SECONDS_IN_MINUTES = "seconds written as decimals of a minute"


@dataclass(frozen=True, slots=True)
class Read:
    """All points under one reading; arrays with a value a point, pairs for latitude and longitude.

    `says`: the points that hold digits that say something, typed in the notation that would be wrong; `axis_says`:
    which of their coordinates do. `is_readable`: both coordinates read; `mended_e7` is where they then belong.
    `seconds` is in how many of them the digits after the first two are read as seconds. `place` is equal for points so
    near each other that their digits give one answer.
    """

    says: NDArray[np.bool_]
    axis_says: tuple[NDArray[np.bool_], NDArray[np.bool_]]
    is_readable: NDArray[np.bool_]
    mended_e7: tuple[Integers, Integers]
    seconds: NDArray[np.int8]
    place: Integers
    e7: tuple[Integers, Integers]
    scale: int

    def fine(self, rows: Integers) -> NDArray[np.float64]:
        """Return the probability that the digits after the first two would be seconds by chance."""
        import numpy as np

        return np.array([1.0, BELOW_60, BELOW_60 * BELOW_60])[self.seconds[rows]]

    def extent(self, axis: int, rows: Integers) -> NDArray[np.float64]:
        """Return the whole degrees, or minutes where decimals of a minute are read: their fraction is read first."""
        return _extent(self.e7[axis][rows], self.scale)


def read_all(waypoints: PackedWaypoints, reading: Reading) -> Read | None:
    """Return the points under a reading; None where none was typed in the notation that would be wrong."""
    import numpy as np

    stands_in = Notation.MINUTES if reading is Reading.SECONDS_IN_MINUTES else Notation.DECIMAL
    forms = waypoints.typed.forms
    known = [None if form is None else notation_of(form[0]) for form in forms.values]
    is_read = forms.where(one is stands_in or (one is None and stands_in is Notation.DECIMAL) for one in known)
    if not is_read.any():
        return None
    e7 = (waypoints.latitudes_e7, waypoints.longitudes_e7)
    blocks = [
        _read_block(tuple(values[begin : begin + _AT_ONCE] for values in e7), stands_in, reading)
        for begin in range(0, len(waypoints), _AT_ONCE)
    ]
    says, readable, seconds, place, *axes = (np.concatenate(parts) for parts in zip(*blocks, strict=True))
    return Read(is_read & says, (axes[0], axes[1]), readable, (axes[2], axes[3]), seconds, place, e7, _scale(stands_in))


def _read_block(e7: Sequence[Integers], stands_in: Notation, reading: Reading) -> tuple[NDArray[Any], ...]:
    """Return of some points which say something, which are readable, how many coordinates hold seconds, the places,
    which of both coordinates say something, and where they belong.
    """
    import numpy as np

    latitude, longitude = (_read_axis(values, stands_in, reading) for values in e7)
    seconds = latitude.has_seconds.astype(np.int8) + longitude.has_seconds
    # Seconds change from one hundredth to the next, minutes stay the same over several tenths.
    cell = np.where(seconds > 0, _FINE, _COARSE)
    north, east = (np.floor(_extent(values, _scale(stands_in)) / cell).astype(np.int64) for values in e7)
    mended = (one.mended_e7.astype(np.int32) for one in (latitude, longitude))
    is_readable = latitude.is_valid & longitude.is_valid
    place = north * _MOST_CELLS + east
    return (latitude.says | longitude.says, is_readable, seconds, place, latitude.says, longitude.says, *mended)


def _scale(stands_in: Notation) -> int:
    return 60 if stands_in is Notation.MINUTES else 1


def _extent(e7: Integers, scale: int) -> NDArray[np.float64]:
    return abs(e7) / E7 * scale


class _Axis(NamedTuple):
    """One coordinate of all points under a reading: whether its digits say something, whether two pairs of them are
    read, whether they can be read so, and the coordinate that they then are (1e-7 degree).
    """

    says: NDArray[np.bool_]
    has_seconds: NDArray[np.bool_]
    is_valid: NDArray[np.bool_]
    mended_e7: NDArray[np.int64]


def _read_axis(e7: Integers, stands_in: Notation, reading: Reading) -> _Axis:
    import numpy as np

    degrees, minutes, fraction, digits = write_all(e7, stands_in, _MOST_DECIMALS[stands_in])
    tens = 10 ** np.arange(9)
    # Of the digits 5034 the first two are 50; a single digit is a pair with a zero behind it.
    pair = np.where(digits >= 2, fraction // tens[np.maximum(digits - 2, 0)], fraction * 10)
    after = np.where(digits >= 2, fraction % tens[np.maximum(digits - 2, 0)], 0)
    first = np.where(digits >= 2, fraction / tens[np.maximum(digits - 2, 0)], fraction * 10.0)
    is_valid = pair < 60
    if reading is Reading.SECONDS_IN_MINUTES:
        value = (degrees + minutes / 60.0) + first / 3600.0
    elif reading is Reading.MINUTES_IN_DEGREES:
        value = degrees + first / 60.0
    else:
        left = np.maximum(digits - 4, 0)
        seconds = np.where(digits >= 4, after / tens[left], after * 10.0)
        value = degrees + pair / 60.0 + seconds / 3600.0
        is_valid &= seconds < 60.0
    signed = np.rint(np.copysign(value, np.where(e7 < 0, -1.0, 1.0)) * 1e7).astype(np.int64)
    says = digits > 0
    has_seconds = (digits > 2) & (reading is Reading.SECONDS_IN_DEGREES)
    return _Axis(says, has_seconds, is_valid | ~says, np.where(says, signed, e7))


def decimals_of(waypoints: PackedWaypoints) -> Integers:
    """Return the number of decimals without trailing zeros, as typed where that is known, the larger of both."""
    import numpy as np

    e7 = (waypoints.latitudes_e7, waypoints.longitudes_e7)
    blocks = [
        np.maximum(*(write_all(values[begin : begin + _AT_ONCE], Notation.DECIMAL, 7).decimals for values in e7))
        for begin in range(0, len(waypoints), _AT_ONCE)
    ]
    forms = waypoints.typed.forms
    typed = np.array([*(-1 if form is None or form[1] is None else form[1] for form in forms.values), -1])
    known = typed[forms.numbers]
    return np.where(known >= 0, known, np.concatenate(blocks)).astype(np.int32)
