"""UTM and MGRS: metres on a grid to degrees on WGS84, and back. Polar areas (UPS) are not covered and are refused.

Krüger's series to the sixth order (C. F. F. Karney, "Transverse Mercator with an accuracy of a few nanometers",
2011, equations 12, 35 and 36), below a micrometre within a zone; needs no projection library.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from taskdb.core.model import E7
from taskdb.core.notation.angles import Trouble

_A = 6_378_137.0
_F = 1 / 298.257223563
_N = _F / (2 - _F)
_E = math.sqrt(_F * (2 - _F))
_SCALE = 0.9996
_RADIUS = _A / (1 + _N) * (1 + _N**2 / 4 + _N**4 / 64 + _N**6 / 256)


def _powers(*rows: tuple[int, tuple[float, ...]]) -> tuple[float, ...]:
    return tuple(math.fsum(c * _N ** (first + i) for i, c in enumerate(terms)) for first, terms in rows)


_ALPHA = _powers(
    (1, (1 / 2, -2 / 3, 5 / 16, 41 / 180, -127 / 288, 7891 / 37800)),
    (2, (13 / 48, -3 / 5, 557 / 1440, 281 / 630, -1983433 / 1935360)),
    (3, (61 / 240, -103 / 140, 15061 / 26880, 167603 / 181440)),
    (4, (49561 / 161280, -179 / 168, 6601661 / 7257600)),
    (5, (34729 / 80640, -3418889 / 1995840)),
    (6, (212378941 / 319334400,)),
)
_BETA = _powers(
    (1, (1 / 2, -2 / 3, 37 / 96, -1 / 360, -81 / 512, 96199 / 604800)),
    (2, (1 / 48, 1 / 15, -437 / 1440, 46 / 105, -1118711 / 3870720)),
    (3, (17 / 480, -37 / 840, -209 / 4480, 5569 / 90720)),
    (4, (4397 / 161280, -11 / 504, -830251 / 7257600)),
    (5, (4583 / 161280, -108847 / 3991680)),
    (6, (20648693 / 638668800,)),
)

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


def _series(coefficients: tuple[float, ...], xi: float, eta: float, sign: int) -> tuple[float, float]:
    x, y = xi, eta
    for j, c in enumerate(coefficients, start=1):
        x += sign * c * math.sin(2 * j * xi) * math.cosh(2 * j * eta)
        y += sign * c * math.cos(2 * j * xi) * math.sinh(2 * j * eta)
    return x, y


def _conformal(tau: float) -> float:
    sigma = math.sinh(_E * math.atanh(_E * tau / math.hypot(1, tau)))
    return tau * math.hypot(1, sigma) - sigma * math.hypot(1, tau)


def to_degrees(grid: Grid) -> tuple[float, float]:
    """Return latitude and longitude, degrees, of a place on the grid."""
    northing = grid.northing_m - (0.0 if grid.is_north else 10_000_000.0)
    xi, eta = northing / (_SCALE * _RADIUS), (grid.easting_m - 500_000.0) / (_SCALE * _RADIUS)
    xi, eta = _series(_BETA, xi, eta, -1)
    wanted = math.sin(xi) / math.hypot(math.sinh(eta), math.cos(xi))
    tau = wanted / (1 - _E**2)
    for _ in range(5):
        got = _conformal(tau)
        step = (wanted - got) / math.hypot(1, got) * (1 + (1 - _E**2) * tau**2) / ((1 - _E**2) * math.hypot(1, tau))
        tau += step
        if abs(step) < 1e-14 * max(1.0, abs(tau)):
            break
    longitude = math.degrees(math.atan2(math.sinh(eta), math.cos(xi))) + grid.zone * 6 - 183
    return math.degrees(math.atan(tau)), longitude


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
    from_middle = math.radians((longitude_deg - (zone * 6 - 183) + 180.0) % 360.0 - 180.0)
    tau = _conformal(math.tan(math.radians(latitude_deg)))
    xi = math.atan2(tau, math.cos(from_middle))
    eta = math.asinh(math.sin(from_middle) / math.hypot(tau, math.cos(from_middle)))
    xi, eta = _series(_ALPHA, xi, eta, 1)
    north = latitude_deg >= 0
    northing = _SCALE * _RADIUS * xi + (0.0 if north else 10_000_000.0)
    return Grid(zone, north, _SCALE * _RADIUS * eta + 500_000.0, northing)


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
