"""Do a position and an elevation say what was typed for them? Reads what is kept of a person's typing once more."""

from __future__ import annotations

import re

from taskdb.core.model import E7, Position, Typed
from taskdb.core.notation.angles import Axis, Notation, Trouble, read_angle
from taskdb.core.notation.pairs import WHOLE, read_whole
from taskdb.core.numbers import plain_number
from taskdb.core.quantities import FOOT_M

_HALF_TURN_E7 = 1_800_000_000
_NUMBER = re.compile(r"[+-]?[0-9][0-9.,  ']*")


def is_position_as_typed(position: Position, typed: Typed) -> bool:
    """Return whether one of the readings of the typed coordinates is the position; True where none were typed."""
    if typed.latitude is None:
        return True
    if typed.longitude is None:
        if typed.notation not in {notation.value for notation in WHOLE}:
            return True  # a place in words of its own: nothing to read
        pair = read_whole(typed.latitude, Notation(typed.notation))
        # A grid's zone reaches past the antimeridian.
        return not isinstance(pair, Trouble) and Position.at(pair.latitude_e7 / E7, pair.longitude_e7 / E7) == position
    return _is_angle(typed.latitude, Axis.LATITUDE, position.latitude_e7) and _is_angle(
        typed.longitude, Axis.LONGITUDE, position.longitude_e7
    )


def _is_angle(text: str, axis: Axis, kept_e7: int) -> bool:
    wanted = {kept_e7, _HALF_TURN_E7} if kept_e7 == -_HALF_TURN_E7 else {kept_e7}
    # An O is Ost or Ouest: the file decided, and what it decided is not kept.
    for letter_o in ("E", "W") if axis is Axis.LONGITUDE else (None,):
        angles = read_angle(text, axis, letter_o=letter_o, bare_packed=True)
        if not isinstance(angles, Trouble) and any(angle.e7 in wanted for angle in angles):
            return True
    return False


def is_elevation_as_typed(elevation_m: float | None, typed: Typed) -> bool:
    """Return whether the typed elevation, in its unit, is the elevation to 0.1 m; True where none or no unit is kept.

    A comma may part decimals or thousands: either reading will do.
    """
    found = _NUMBER.search(plain_number(typed.elevation or ""))
    if elevation_m is None or typed.elevation_unit not in ("m", "ft") or found is None:
        return True
    return elevation_number(elevation_m, typed) is not None


def elevation_number(elevation_m: float, typed: Typed) -> str | None:
    """Return the typed number, with a point for its decimals, in the reading that gives the elevation to 0.1 m.

    None where none does, or nothing or no unit was typed.
    """
    found = _NUMBER.search(plain_number(typed.elevation or ""))
    if found is None or typed.elevation_unit not in ("m", "ft"):
        return None
    digits = re.sub(r"[  ']", "", found[0])
    for reading in (digits.replace(",", "."), digits.replace(",", ""), digits.replace(".", "").replace(",", ".")):
        try:
            metres = float(reading) * (FOOT_M if typed.elevation_unit == "ft" else 1.0)
        except ValueError:
            continue
        if abs(metres - elevation_m) <= 0.0501:
            return reading
    return None
