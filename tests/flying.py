"""Flight logs made with a known truth: a way through given places at given speeds, recorded at an interval.

    way = Way((48.87, 11.81), at_s=36_000).stand(300).to((49.11, 12.70), 30.0).to((48.87, 11.81), 30.0)
    way.log(interval_s=4.0)

Between two places the way is the WGS84 geodesic at even speed. Nothing is random unless a source of numbers is given.
"""

from __future__ import annotations

import bisect
import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

from pyproj import Geod

from taskdb.core.flights.fixes import Fixes, Track, counting

GEOD = Geod(ellps="WGS84")
Spot = tuple[float, float]


@dataclass(frozen=True)
class Fix:
    """A fix as recorded: UTC seconds from the midnight of the log's date, degrees, validity, metres."""

    time_s: float
    latitude_deg: float
    longitude_deg: float
    validity: str = "A"
    pressure_m: int = 1000
    gnss_m: int = 1050


@dataclass
class Way:
    """A way as it grows: where and when it turns, and at which heights."""

    start: Spot
    at_s: float = 36_000.0
    times: list[float] = field(default_factory=list)
    spots: list[Spot] = field(default_factory=list)
    heights: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.times, self.spots, self.heights = [self.at_s], [self.start], [500.0]

    def to(self, spot: Spot, speed_m_s: float, height_m: float | None = None) -> Way:
        """Fly straight to a place."""
        lat, lon = self.spots[-1]
        _, _, length = GEOD.inv(lon, lat, spot[1], spot[0])
        return self._reach(spot, length / speed_m_s, height_m)

    def along(self, bearing_deg: float, length_m: float, speed_m_s: float) -> Way:
        """Fly so far on a true bearing."""
        return self.to(away(self.spots[-1], bearing_deg, length_m), speed_m_s)

    def stand(self, seconds: float) -> Way:
        return self._reach(self.spots[-1], seconds, None)

    def circle(self, turns: int, radius_m: float = 150.0, speed_m_s: float = 25.0, drift: Spot = (0.0, 0.0)) -> Way:
        """Circle to the right, 24 corners a turn, drifting by metres north and east each turn."""
        lat, lon = away(self.spots[-1], 90.0, radius_m)
        for n in range(1, 24 * turns + 1):
            angle = 270.0 + 15.0 * n
            north = radius_m * math.cos(math.radians(angle)) + drift[0] * n / 24
            east = radius_m * math.sin(math.radians(angle)) + drift[1] * n / 24
            spot = away((lat, lon), math.degrees(math.atan2(east, north)), math.hypot(north, east))
            self.to(spot, speed_m_s)
        return self

    def _reach(self, spot: Spot, seconds: float, height_m: float | None) -> Way:
        self.times.append(self.times[-1] + seconds)
        self.spots.append(spot)
        self.heights.append(self.heights[-1] if height_m is None else height_m)
        return self

    def where(self, time_s: float) -> tuple[Spot, float]:
        """Return where the way is at a time, and how high."""
        after = max(1, min(bisect.bisect_right(self.times, time_s), len(self.times) - 1))
        t0, t1 = self.times[after - 1], self.times[after]
        share = min(1.0, (time_s - t0) / (t1 - t0)) if t1 > t0 else 0.0
        (lat0, lon0), (lat1, lon1) = self.spots[after - 1], self.spots[after]
        azimuth, _, length = GEOD.inv(lon0, lat0, lon1, lat1)
        lon, lat, _ = GEOD.fwd(lon0, lat0, azimuth, share * length)
        return (lat, lon), self.heights[after - 1] + share * (self.heights[after] - self.heights[after - 1])

    def fixes(self, interval_s: float, offset_s: float = 0.0) -> list[Fix]:
        """Return the fixes at an interval, times in whole seconds."""
        found, time_s = [], self.times[0] + offset_s
        while time_s <= self.times[-1]:
            (lat, lon), height = self.where(round(time_s))
            found.append(Fix(float(round(time_s)), lat, lon, "A", round(height), round(height) + 48))
            time_s += interval_s
        return found


def away(spot: Spot, bearing_deg: float, length_m: float) -> Spot:
    """Return the place so far from another."""
    lon, lat, _ = GEOD.fwd(spot[1], spot[0], bearing_deg, length_m)
    return lat, lon


def b_record(fix: Fix) -> str:
    """Return the record of a fix (IGC Technical Specification for GNSS Flight Recorders, Appendix A, 4.1)."""
    clock = int(fix.time_s) % 86_400
    latitude, longitude = (round(abs(angle) * 60_000) for angle in (fix.latitude_deg, fix.longitude_deg))
    north, east = "NS"[fix.latitude_deg < 0], "EW"[fix.longitude_deg < 0]
    return (
        f"B{clock // 3600:02d}{clock // 60 % 60:02d}{clock % 60:02d}"
        f"{latitude // 60_000:02d}{latitude % 60_000:05d}{north}{longitude // 60_000:03d}{longitude % 60_000:05d}{east}"
        f"{fix.validity}{fix.pressure_m:05d}{fix.gnss_m:05d}"
    )


HEAD = ("AXXX001 invented", "HFDTE140627", "HFDTM100GPSDATUM:WGS84")
"""A recorder that is none, and the date 2027-06-14."""


def log(fixes: Iterable[Fix], head: Sequence[str] = HEAD, tail: Sequence[str] = ()) -> bytes:
    """Return a recorder's file of fixes."""
    return "".join(f"{line}\r\n" for line in (*head, *map(b_record, fixes), *tail)).encode("ascii")


def track(fixes: Sequence[Fix]) -> Track:
    """Return the fixes that count, at their full digits: as a log would give them that has more of them."""
    import numpy as np

    columns = Fixes(
        np.array([fix.time_s % 86_400 for fix in fixes]),
        np.array([fix.latitude_deg for fix in fixes]),
        np.array([fix.longitude_deg for fix in fixes]),
        np.array([fix.validity == "A" for fix in fixes], dtype=bool),
        np.array([float(fix.pressure_m) for fix in fixes]),
        np.array([float(fix.gnss_m) for fix in fixes]),
    )
    return counting(columns)[0]


def spoil(fixes: Sequence[Fix], which: Callable[[Fix], bool], **values: object) -> list[Fix]:
    """Return fixes of which some have other values."""
    return [replace(fix, **values) if which(fix) else fix for fix in fixes]  # type: ignore[arg-type]


def wander(
    source: random.Random, spots: Sequence[Spot], interval_s: float, at_s: float = 36_000.0, off_m: float = 300.0
) -> list[Fix]:
    """Return the fixes of a flight round some places, near them and with circles on the way, then to the last and down.

    The first two places are flown to exactly: before and behind a start.
    """
    way = Way(away(spots[0], 200.0, 2_500.0), at_s).stand(120).to(spots[0], 25.0).to(spots[1], 30.0)
    for spot in spots[2:]:
        before = way.spots[-1]
        azimuth, _, length = GEOD.inv(before[1], before[0], spot[1], spot[0])
        for share in sorted(source.random() for _ in range(2)):
            middle = away(before, azimuth, share * length)
            way.to(away(middle, azimuth + 90, source.uniform(-1500, 1500)), source.uniform(22, 50))
            way.circle(source.randrange(1, 4), source.uniform(80, 250), 25.0, (source.uniform(-60, 60), 30.0))
        way.to(away(spot, source.uniform(0, 360), source.uniform(0, off_m)), source.uniform(22, 50))
    return way.to(away(spots[-1], 30.0, 2_000.0), 30.0).stand(120).fixes(interval_s)
