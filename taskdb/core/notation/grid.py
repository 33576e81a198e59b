"""UTM and MGRS: metres on a grid to degrees on WGS84, and back. Polar areas (UPS) are not covered and are refused."""

from __future__ import annotations

from dataclasses import dataclass

from taskdb.core.geodesy import from_mercator, to_mercator, wrap_longitude
from taskdb.core.model import E7
from taskdb.core.notation.angles import Trouble

_SOUTH_M = 10_000_000.0
"""What is added to a northing on the southern half."""

BANDS = "CDEFGHJKLMNPQRSTUVWX"
"""Latitude bands of 8° from 80°S; the last, X, of 12° to 84°N."""
_COLUMNS = ("STUVWXYZ", "ABCDEFGH", "JKLMNPQR")
_ROWS = "ABCDEFGHJKLMNPQRSTUV"


@dataclass(frozen=True, slots=True)
class Grid:
    """A place in UTM: zone 1 to 60, on the northern half or not, easting and northing in metres."""

    zone: int
    is_north: bool
    easting_m: float
    northing_m: float


def to_degrees(grid: Grid) -> tuple[float, float]:
    """Return latitude and longitude (not wrapped), degrees, of a place on the grid."""
    latitude, from_middle = from_mercator(grid.easting_m, grid.northing_m - (0.0 if grid.is_north else _SOUTH_M))
    return latitude, from_middle + _middle_deg(grid.zone)


def _middle_deg(zone: int) -> int:
    return zone * 6 - 183


def zone_of(latitude_deg: float, longitude_deg: float) -> int:
    """Return the UTM zone of a place, with the wider zones of Norway and Svalbard."""
    longitude = (longitude_deg + 180.0) % 360.0 - 180.0
    if 56 <= latitude_deg < 64 and 3 <= longitude < 12:
        return 32
    if 72 <= latitude_deg <= 84 and 0 <= longitude < 42:
        return 31 if longitude < 9 else 33 if longitude < 21 else 35 if longitude < 33 else 37
    return int((longitude + 180.0) // 6) + 1


def to_grid(latitude_deg: float, longitude_deg: float, zone: int | None = None) -> Grid:
    """Return the place on the grid, in its own zone unless one is told. Latitudes from 80°S to 84°N."""
    zone = zone_of(latitude_deg, longitude_deg) if zone is None else zone
    easting, northing = to_mercator(latitude_deg, wrap_longitude(longitude_deg - _middle_deg(zone)))
    is_north = latitude_deg >= 0
    return Grid(zone, is_north, easting, northing + (0.0 if is_north else _SOUTH_M))


def band_of(latitude_deg: float) -> str | None:
    """Return the latitude band, None beyond 80°S and 84°N."""
    if not -80 <= latitude_deg <= 84:
        return None
    return BANDS[min(int((latitude_deg + 80) // 8), 19)]


def _limits(band: str) -> tuple[float, float]:
    low = BANDS.index(band) * 8 - 80
    return low, low + (12 if band == "X" else 8)


def read_utm(
    zone: int, letter: str, easting_m: float, northing_m: float, *, is_half: bool = False
) -> tuple[int, int] | Trouble:
    """Return latitude and longitude in 1e-7° of a UTM place; `letter` is a band, or N or S for the half of the Earth.

    S may be the band from 32 to 40 °N or the southern half: refused where the northing fits both, unless it was
    written out (`south`: `is_half`).
    """
    if not 1 <= zone <= 60:
        return Trouble("bad-grid", f"there is no UTM zone {zone}; zones go from 1 to 60")
    if not 100_000 <= easting_m < 1_000_000 or not 0 <= northing_m <= 10_000_000:
        return Trouble(
            "bad-grid", "an easting has six digits and lies from 100000 to 999999, a northing up to 10000000"
        )
    is_north = letter >= "N" and letter != "S"
    if letter == "S" and not is_half:
        north = to_degrees(Grid(zone, True, easting_m, northing_m))[0]
        if 31.9 <= north <= 40.1:
            return Trouble("ambiguous-band", "the S may be the band from 32 to 40 °N or the southern half of the Earth")
    latitude, longitude = to_degrees(Grid(zone, is_north, easting_m, northing_m))
    if letter not in "NS":
        low, high = _limits(letter)
        if not low - 0.1 <= latitude <= high + 0.1:
            return Trouble("bad-grid", f"its northing does not lie in the band {letter} ({low}° to {high}°)")
    if not -80.5 <= latitude <= 84.5:
        return Trouble("bad-grid", "UTM ends at 80°S and 84°N")
    return round(latitude * E7), round(longitude * E7)


def read_mgrs(zone: int, band: str, square: str, digits: str) -> tuple[int, int] | Trouble:
    """Return latitude and longitude in 1e-7° of the middle of the square that an MGRS text names, 100 m or finer."""
    half = len(digits) // 2
    if len(digits) % 2 or not 3 <= half <= 5:
        return Trouble("bad-grid", "MGRS needs 3, 4 or 5 digits for each of easting and northing")
    columns = _COLUMNS[zone % 3]
    if not 1 <= zone <= 60 or square[0] not in columns or square[1] not in _ROWS:
        return Trouble("bad-grid", f"there is no square {square} in zone {zone}")
    unit = 10 ** (5 - half)
    easting = (columns.index(square[0]) + 1) * 100_000 + (int(digits[:half]) + 0.5) * unit
    row = (_ROWS.index(square[1]) - (5 if zone % 2 == 0 else 0)) % 20
    low, high = _limits(band)
    for turn in range(5):
        northing = (turn * 20 + row) * 100_000 + (int(digits[half:]) + 0.5) * unit
        latitude, longitude = to_degrees(Grid(zone, band >= "N", easting, northing))
        # Squares reach over a band's edge, but never by more than one square.
        if low - 0.1 <= latitude <= high + 0.1:
            return round(latitude * E7), round(longitude * E7)
    return Trouble("bad-grid", f"the square {square} does not lie in the band {band} of zone {zone}")


def format_utm(latitude_deg: float, longitude_deg: float) -> str:
    """Return `32T 677007 5236726`, metres rounded; ValueError beyond 80°S and 84°N.

    In band S the half of the Earth is written instead, `31north`: an S alone could mean south.
    """
    band = band_of(latitude_deg)
    if band is None:
        raise ValueError("UTM ends at 80°S and 84°N")
    grid = to_grid(latitude_deg, longitude_deg)
    letter = "north" if band == "S" else band
    return f"{grid.zone:02d}{letter} {round(grid.easting_m):06d} {round(grid.northing_m):07d}"


def format_mgrs(latitude_deg: float, longitude_deg: float) -> str:
    """Return the 1 m square of a place, `32TPT7700736726`; ValueError beyond 80°S and 84°N."""
    band = band_of(latitude_deg)
    if band is None:
        raise ValueError("MGRS in this form ends at 80°S and 84°N")
    grid = to_grid(latitude_deg, longitude_deg)
    # Squares are cut off, not rounded.
    east, north = int(grid.easting_m), int(grid.northing_m)
    column = _COLUMNS[grid.zone % 3][east // 100_000 - 1]
    row = _ROWS[(north // 100_000 + (5 if grid.zone % 2 == 0 else 0)) % 20]
    return f"{grid.zone:02d}{band}{column}{row}{east % 100_000:05d}{north % 100_000:05d}"
