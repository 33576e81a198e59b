"""Notations against published examples and other libraries; the source stands beside each check."""

from __future__ import annotations

import math
import random

import mgrs
import pytest

from taskdb.core.model import Position
from taskdb.core.notation import Notation, format_position, parse_position
from taskdb.core.notation.grid import to_degrees, to_grid

# IGC flight-recorder specification, Appendix A (text of 2008), section 9, the example declaration: digits, and the
# degrees and minutes that they stand for (DDMMmmm, clause 2.4).
RECORDER_EXAMPLE = [
    ("5111359N00101899W", 51 + 11.359 / 60, -(1 + 1.899 / 60)),
    ("5110179N00102644W", 51 + 10.179 / 60, -(1 + 2.644 / 60)),
    ("5209092N00255227W", 52 + 9.092 / 60, -(2 + 55.227 / 60)),
    ("5230147N00017612W", 52 + 30.147 / 60, -(0 + 17.612 / 60)),
]


@pytest.mark.parametrize(("digits", "latitude", "longitude"), RECORDER_EXAMPLE)
def test_the_recorder_specifications_digits_are_minutes(digits: str, latitude: float, longitude: float) -> None:
    spread = f"{digits[:4]}.{digits[4:7]}N{digits[8:13]}.{digits[13:]}"
    position = parse_position(spread)
    assert position.latitude_deg == pytest.approx(latitude, abs=1e-7)
    assert position.longitude_deg == pytest.approx(longitude, abs=1e-7)


def test_geo_uris_have_the_latitude_first() -> None:
    # RFC 5870 (2010) 3.3: latitude, then longitude; the altitude is left out where it is not known.
    assert parse_position("geo:48.2010,16.3695,183") == Position.at(48.2010, 16.3695)


def test_iso_6709_strings() -> None:
    # ISO 6709:2008 Annex H, as restated by the documentation of several libraries.
    assert parse_position("+27.5916+086.5640+8850CRSWGS_84/") == Position.at(27.5916, 86.5640)
    assert parse_position("+4012.22-07500.25/") == Position.at(40 + 12.22 / 60, -(75 + 0.25 / 60))
    # The human-readable form with leading zeros (Annex D; from memory).
    assert parse_position("50°40′46″N 95°48′26″W") == Position.at(50 + 40 / 60 + 46 / 3600, -(95 + 48 / 60 + 26 / 3600))


def test_minus_zero_degrees_keeps_its_side() -> None:
    # Vincenty 1975, table II line d: latitude −0°59′53.83076″, a trap for readers of signed degrees.
    assert parse_position("-0 59 53.83076, 0").latitude_deg == pytest.approx(-0.99828632, abs=1e-7)


def test_utm_and_mgrs_of_the_example_start_point() -> None:
    # 51°10.179′N 1°02.644′W: computed with pyproj (EPSG:32630); `utm` 0.9.0 agrees to 0.4 mm, `mgrs` on the square.
    grid = to_grid(51 + 10.179 / 60, -(1 + 2.644 / 60))
    assert (grid.zone, grid.is_north) == (30, True)
    assert grid.easting_m == pytest.approx(636_740.2933, abs=0.0005)
    assert grid.northing_m == pytest.approx(5_670_509.3888, abs=0.0005)
    assert format_position(Position.at(51 + 10.179 / 60, -(1 + 2.644 / 60)), Notation.MGRS) == "30UXB3674070509"


# Krüger's series to the sixth order in the flattening n (C. F. F. Karney, "Transverse Mercator with an accuracy of
# a few nanometers", 2011, equations 7 to 12 and 35): the published formula, without a projection library.
_F = 1 / 298.257223563
_N = _F / (2 - _F)
_E = math.sqrt(_F * (2 - _F))
_ALPHA = (
    (1 / 2, -2 / 3, 5 / 16, 41 / 180, -127 / 288, 7891 / 37800),
    (13 / 48, -3 / 5, 557 / 1440, 281 / 630, -1983433 / 1935360),
    (61 / 240, -103 / 140, 15061 / 26880, 167603 / 181440),
    (49561 / 161280, -179 / 168, 6601661 / 7257600),
    (34729 / 80640, -3418889 / 1995840),
    (212378941 / 319334400,),
)


def kruger(latitude_deg: float, from_middle_deg: float) -> tuple[float, float]:
    tau, turn = math.tan(math.radians(latitude_deg)), math.radians(from_middle_deg)
    sigma = math.sinh(_E * math.atanh(_E * tau / math.hypot(1, tau)))
    tau = tau * math.hypot(1, sigma) - sigma * math.hypot(1, tau)
    xi = x = math.atan2(tau, math.cos(turn))
    eta = y = math.asinh(math.sin(turn) / math.hypot(tau, math.cos(turn)))
    for j, terms in enumerate(_ALPHA, start=1):
        alpha = math.fsum(term * _N ** (j + i) for i, term in enumerate(terms))
        x += alpha * math.sin(2 * j * xi) * math.cosh(2 * j * eta)
        y += alpha * math.cos(2 * j * xi) * math.sinh(2 * j * eta)
    radius = 0.9996 * 6_378_137.0 / (1 + _N) * (1 + _N**2 / 4 + _N**4 / 64 + _N**6 / 256)
    return radius * y + 500_000, radius * x


def test_utm_agrees_with_the_published_series_over_the_whole_earth() -> None:
    chance = random.Random(20270514)
    for _ in range(400):
        latitude, longitude = chance.uniform(-80, 84), chance.uniform(-180, 179.999)
        grid = to_grid(latitude, longitude)
        easting, northing = kruger(latitude, (longitude - (grid.zone * 6 - 183) + 180) % 360 - 180)
        assert grid.is_north is (latitude >= 0)
        northing += 0 if grid.is_north else 10_000_000
        assert (grid.easting_m, grid.northing_m) == pytest.approx((easting, northing), rel=0, abs=1e-6)
        back = to_degrees(grid)
        assert back[0] == pytest.approx(latitude, rel=0, abs=1e-10)
        assert (back[1] - longitude + 180) % 360 - 180 == pytest.approx(0, abs=1e-10)


def test_mgrs_agrees_with_another_library_over_the_whole_earth() -> None:
    other, chance, unequal = mgrs.MGRS(), random.Random(7), 0
    for _ in range(400):
        position = Position.at(chance.uniform(-79.9, 83.9), chance.uniform(-180, 179.999))
        ours = format_position(position, Notation.MGRS)
        theirs = other.toMGRS(position.latitude_deg, position.longitude_deg)
        # A place within a micrometre of a square's edge may fall on either side.
        unequal += ours != theirs
        back = parse_position(ours)
        if ours == theirs:
            assert other.toLatLon(ours) == pytest.approx((back.latitude_deg, back.longitude_deg), abs=2e-7)
        assert format_position(back, Notation.MGRS) == ours
    assert unequal <= 1
