"""SRTM tiles: files of a degree square named after their south-west corner, big-endian 16-bit heights.

Source: SRTM documentation (NASA/USGS): rows from north to south, 3601 or 1201 a side that share their edges with the
neighbours, void −32768, metres above EGM96.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from taskdb.errors import InputError
from taskdb.reference.terrain.sheet import Sheet, damaged

if TYPE_CHECKING:
    from numpy.typing import NDArray

SIDES = (3601, 1201)
VOID = -32768.0
_NAME = re.compile(r"([NS])(\d{2})([EW])(\d{3})(?!\d)", re.ASCII | re.IGNORECASE)


def read_hgt_name(name: str) -> tuple[int, int] | None:
    """Return the south-west corner (latitude, longitude in degrees) that a tile's name says; None where it says none.

    `N47E011.hgt`, also with more behind the corner as in `N47E011.SRTMGL1.hgt`.
    """
    match = _NAME.match(name)
    if match is None:
        return None
    latitude = int(match[2]) * (1 if match[1].upper() == "N" else -1)
    longitude = int(match[4]) * (1 if match[3].upper() == "E" else -1)
    return (latitude, longitude) if -90 <= latitude <= 89 and -180 <= longitude <= 179 else None


def hgt_sheet(path: str, name: str, size_bytes: int) -> Sheet:
    """Return a tile; InputError where its name or its size is none of a tile."""
    corner = read_hgt_name(name)
    if corner is None:
        raise damaged(path, "its name does not say its south-west corner.", hint="Name it as N47E011.hgt.")
    side = next((side for side in SIDES if side * side * 2 == size_bytes), None)
    if side is None:
        sizes = " or ".join(f"{side * side * 2:,}" for side in SIDES)
        raise damaged(path, f"it has {size_bytes:,} bytes; a tile of 1 or 3 arc seconds has {sizes}.")
    step = 1.0 / (side - 1)

    def load(first_row: int, end_row: int, first_column: int, end_column: int) -> NDArray[Any]:
        import numpy as np

        # Mapped: the few heights of a task take a few pages of it, and not 25 MB.
        try:
            held = np.memmap(path, dtype=">i2", mode="r", shape=(side, side))
        except (OSError, ValueError) as error:
            raise InputError("terrain-damaged", f"{path} cannot be read: {error}.", details={"path": path}) from None
        return held[first_row:end_row, first_column:end_column]

    south, west = corner
    return Sheet(path, south + 1.0, float(west), side, side, step, step, False, VOID, load)
