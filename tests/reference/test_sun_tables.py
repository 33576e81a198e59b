"""Sun times, and where the sun stands, against published and independently computed ones."""

from __future__ import annotations

import datetime
import math
from zoneinfo import ZoneInfo

import pytest

from taskdb.core.model import Position
from taskdb.reference.sun import find_timezone, sun_position, sun_times

UTC = datetime.UTC
LASHAM = Position.at(51.18932, -1.03165)

# skyfield 1.55 with JPL's ephemeris DE421, and ephem 4.2.1: sea level, 50' below the horizon, dusk at 6 degrees. UTC.
COMPUTED = [
    (LASHAM, "2025-06-21", "03:48:31", "20:23:26", "21:10:30"),
    (LASHAM, "2025-03-20", "06:06:30", "18:17:28", "18:50:36"),
    (Position.at(50, 10), "2025-06-21", "03:10:42", "19:32:59", "20:17:39"),
    (Position.at(50, 10), "2025-12-21", "07:15:59", "15:20:20", "15:58:52"),
]


def off_s(found: datetime.datetime | None, clock: str) -> float:
    assert found is not None
    expected = datetime.datetime.combine(found.date(), datetime.time.fromisoformat(clock), found.tzinfo)
    return abs((found - expected).total_seconds())


@pytest.mark.parametrize(("place", "date", "rise", "fall", "dusk"), COMPUTED)
def test_the_tables_are_met_to_a_minute(place: Position, date: str, rise: str, fall: str, dusk: str) -> None:
    sun = sun_times(place, date, UTC)
    assert off_s(sun.sunrise, rise) < 60
    assert off_s(sun.sunset, fall) < 60
    assert off_s(sun.civil_dusk, dusk) < 60


def test_the_almanacs_worked_example_is_met() -> None:
    # USNO, Almanac for Computers, 1990: Wayne NJ, 25 June 1990, official zenith: sunrise 05:26 EDT (final time from
    # memory; the algorithm run by hand gives 09.4414 UT).
    sun = sun_times(Position.at(40.9, -74.3), "1990-06-25", ZoneInfo("America/New_York"))
    assert off_s(sun.sunrise, "05:26:29") < 60


def test_the_date_is_the_local_one() -> None:
    # NREL/TP-560-34302 (Reda and Andreas), table A5.1: 39.742476 N 105.1786 W, 17 October 2003: sunrise 06:12:43 local
    # (from memory; skyfield 13:12:45 UT), sunset of the 17th 17:18:51 local, not 17:20:19, which is on the 17th UT.
    mountain = datetime.timezone(datetime.timedelta(hours=-7))
    sun = sun_times(Position.at(39.742476, -105.1786), "2003-10-17", mountain)
    assert off_s(sun.sunrise, "06:12:43") < 60
    assert off_s(sun.sunset, "17:18:51") < 60
    assert sun.sunset is not None and sun.sunset.date() == datetime.date(2003, 10, 17)


def test_a_time_zone_east_of_greenwich_keeps_its_own_day() -> None:
    sun = sun_times(Position.at(-35, 149), "2027-01-10", ZoneInfo("Australia/Sydney"))
    assert {moment.date() for moment in (sun.sunrise, sun.sunset, sun.civil_dusk) if moment} == {
        datetime.date(2027, 1, 10)
    }


def test_where_the_sun_does_not_set_there_is_no_time() -> None:
    sun = sun_times(Position.at(69, 20), "2027-06-21", UTC)
    assert (sun.sunset, sun.civil_dusk) == (None, None)


def test_white_nights_have_a_sunset_and_no_dusk() -> None:
    sun = sun_times(Position.at(64, 20), "2027-06-21", UTC)
    assert sun.sunset is not None
    assert sun.civil_dusk is None


@pytest.mark.parametrize("name", ["Europe/Nowhere", "", "../etc/passwd", "CEST summer"])
def test_an_unknown_time_zone_is_none(name: str) -> None:
    assert find_timezone(name) is None


# -- where the sun stands ---------------------------------------------------------------------------------------------

# ephem 4.2.1 without an atmosphere (pressure 0): place, UTC, azimuth, elevation of the centre, degrees.
STANDS = [
    (Position.at(50, 10), "2025-06-21T18:00", 292.3445, 11.9516),
    (Position.at(50, 10), "2025-09-22T16:30", 261.8272, 6.8382),
    (Position.at(-35, 149), "2027-01-10T08:30", 249.2794, 8.7909),
    (LASHAM, "2025-03-20T17:30", 261.9839, 6.5751),
    (Position.at(64, 20), "2027-06-21T20:30", 330.0477, 1.1447),
    (Position.at(10, -179.9), "2026-08-01T04:00", 285.0727, 32.8837),
]


@pytest.mark.parametrize(("place", "moment", "azimuth_deg", "elevation_deg"), STANDS)
def test_the_sun_stands_where_another_library_has_it(
    place: Position, moment: str, azimuth_deg: float, elevation_deg: float
) -> None:
    sun = sun_position(place, datetime.datetime.fromisoformat(moment).replace(tzinfo=UTC))
    # Refraction by Saemundsson's formula (Sky and Telescope 72, 1986, page 70; from memory), minutes of arc.
    bent_deg = 1.02 / math.tan(math.radians(elevation_deg + 10.3 / (elevation_deg + 5.11))) / 60
    assert sun.azimuth_deg == pytest.approx(azimuth_deg, abs=0.005)
    assert sun.elevation_deg == pytest.approx(elevation_deg + bent_deg, abs=0.01)


def test_the_sun_stands_where_the_published_example_has_it() -> None:
    # NREL/TP-560-34302 (Reda and Andreas), table A5.1: 17 October 2003, 12:30:30 UTC-7: zenith 50.11162 degrees with
    # refraction at 1,830 m, azimuth 194.34024.
    mountain = datetime.timezone(datetime.timedelta(hours=-7))
    moment = datetime.datetime(2003, 10, 17, 12, 30, 30, tzinfo=mountain)
    sun = sun_position(Position.at(39.742476, -105.1786), moment)
    assert sun.azimuth_deg == pytest.approx(194.34024, abs=0.005)
    assert sun.elevation_deg == pytest.approx(90 - 50.11162, abs=0.005)
