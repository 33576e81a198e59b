"""A judge of flights that shares nothing with the package but the task: 400 steps of each piece, by geodesics.

pyproj (the geodesics of C. F. F. Karney, Algorithms for geodesics, 2013) lays every piece between two fixes into 400
steps and measures distance and bearing of each step from each zone's point. No root is computed, no chord, no hull:
what lies between two steps is not seen. Credited fixes are sought among all pairs of fixes.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from pyproj import Geod

from taskdb.core.model import Position, Role, Shape, Task, TaskPoint, Zone

GEOD = Geod(ellps="WGS84")
STEPS = 400
FAR_M = 1e8
MARGIN_M = 100.0
"""More than a step is long."""
LINE = re.compile(r"B(\d\d)(\d\d)(\d\d)(\d\d)(\d{5})([NS])(\d{3})(\d{5})([EW])([AV])")


def fixes_in(content: bytes) -> np.ndarray:
    """Return time, latitude and longitude of the fixes that count (3, n), line by line."""
    found: list[tuple[float, float, float]] = []
    days, last, latest = 0, None, -math.inf
    for line in content.decode("ascii").splitlines():
        match = LINE.match(line)
        if match is None or match[10] != "A":
            continue
        latitude = (int(match[4]) + int(match[5]) / 1000 / 60) * (1 if match[6] == "N" else -1)
        longitude = (int(match[7]) + int(match[8]) / 1000 / 60) * (1 if match[9] == "E" else -1)
        if (latitude, longitude) == (0, 0):
            continue
        clock = int(match[1]) * 3600 + int(match[2]) * 60 + int(match[3])
        if last is not None and abs(clock - last) > 12 * 3600:
            days += 1 if clock < last else -1
        last = clock
        time = clock + days * 86400
        if time > latest:
            latest = time
            found.append((float(time), latitude, longitude))
    return np.array(found).T


@dataclass
class Steps:
    """All steps of a flight: when, where, and after which a gap follows."""

    time: np.ndarray
    lat: np.ndarray
    lon: np.ndarray
    breaks: np.ndarray
    is_fix: np.ndarray
    lengths: np.ndarray
    """Of the piece behind each fix; 0 before a gap and behind the last."""

    @staticmethod
    def of(fixes: np.ndarray) -> Steps:
        time, lat, lon = fixes
        azimuth, _, length = GEOD.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
        joined = np.diff(time) <= 60
        share = np.arange(STEPS) / STEPS
        ones = np.ones(STEPS)
        parts: list[list[np.ndarray]] = [[], [], [], [], []]
        for n in range(len(time)):
            if n < len(joined) and joined[n]:
                lons, lats, _ = GEOD.fwd(ones * lon[n], ones * lat[n], ones * azimuth[n], share * length[n])
                row = [time[n] + share * (time[n + 1] - time[n]), lats, lons, ones < 0, share == 0]
            else:
                row = [time[n : n + 1], lat[n : n + 1], lon[n : n + 1], np.array([True]), np.array([True])]
            for part, values in zip(parts, row, strict=True):
                part.append(values)
        return Steps(*(np.concatenate(part) for part in parts), np.append(length * joined, 0.0))

    def seen_from(self, at: Position, reach_m: float) -> tuple[np.ndarray, np.ndarray]:
        """Return bearing and distance of the steps; those of pieces that stay out of reach are at 0° and `FAR_M`.

        On a piece whose ends are a and b away no step is nearer than (a + b − its length) / 2.
        """

        def measured(these: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            ones = np.ones(int(these.sum()))
            found = GEOD.inv(ones * at.longitude_deg, ones * at.latitude_deg, self.lon[these], self.lat[these])
            return found[0], found[2]

        _, ends = measured(self.is_fix)
        nearest = np.where(self.lengths > 0, (ends + np.append(ends[1:], 0.0) - self.lengths) / 2, ends)
        within = (nearest <= reach_m + MARGIN_M)[np.cumsum(self.is_fix) - 1]
        bearing, away = np.zeros(len(self.lat)), np.full(len(self.lat), FAR_M)
        bearing[within], away[within] = measured(within)
        return bearing, away


def between(bearing: np.ndarray, first: float, last: float) -> np.ndarray:
    """Return which bearings lie clockwise from the first to the last."""
    return (bearing - first) % 360 <= (last - first) % 360


def inside(zone: Zone, bearing: np.ndarray, away: np.ndarray) -> np.ndarray:
    axis, half = zone.axis_deg or 0.0, (zone.opening_deg or 0.0) / 2
    if zone.shape is Shape.CYLINDER:
        return away <= zone.radius_m
    if zone.shape is Shape.SECTOR:
        far = away <= (math.inf if zone.radius_m is None else zone.radius_m)
        return far & between(bearing, axis - half, axis + half)
    if zone.shape is Shape.KEYHOLE:
        return (away <= zone.core_radius_m) | ((away <= zone.radius_m) & between(bearing, axis - half, axis + half))
    assert zone.shape is Shape.AREA
    ring = (away <= zone.radius_m) & (away >= (zone.inner_radius_m or 0))
    if zone.from_radial_deg is None or zone.from_radial_deg == zone.to_radial_deg:
        return ring
    return ring & between(bearing, zone.from_radial_deg, zone.to_radial_deg)


def reach_m(zone: Zone) -> float:
    """Return how far from its point a zone goes; infinite for a sector without a radius."""
    if zone.shape is Shape.LINE:
        return (zone.length_m or 0.0) / 2
    return math.inf if zone.radius_m is None else max(zone.radius_m, zone.core_radius_m or 0.0)


def passed(zone: Zone, bearing: np.ndarray, away: np.ndarray, both_ways: bool) -> np.ndarray:
    """Return the steps behind which a line is crossed, in its direction or in both."""
    along = away * np.cos(np.radians(bearing - zone.axis_deg))
    there = (along[:-1] < 0) & (along[1:] >= 0)
    if both_ways:
        there |= (along[:-1] > 0) & (along[1:] <= 0)
    return there & (np.minimum(away[:-1], away[1:]) <= zone.length_m / 2)


class Judged:
    """What a flight did at a task, found out by looking."""

    def __init__(self, task: Task, content: bytes) -> None:
        self.task = task
        self.steps = Steps.of(fixes_in(content))
        self.seen = [self.steps.seen_from(point.place.position, reach_m(point.zone)) for point in task.points]
        self.starts = self._edges(task.points[0], 0, leaving=True)
        self.finishes = self._edges(task.points[-1], -1, leaving=False)
        self.inside = [self._inside(n) for n in range(1, len(task.points) - 1)]

    def _inside(self, number: int) -> np.ndarray:
        zone = self.task.points[number].zone
        if zone.shape is not Shape.LINE:
            return inside(zone, *self.seen[number])
        crossed = passed(zone, *self.seen[number], both_ways=True) & ~self.steps.breaks[:-1]
        return np.concatenate([[False], crossed])

    def _edges(self, point: TaskPoint, number: int, *, leaving: bool) -> list[int]:
        """Return the steps right behind a start or a finish."""
        whole = ~self.steps.breaks[:-1]
        if point.zone.shape is Shape.LINE:
            return (np.flatnonzero(passed(point.zone, *self.seen[number], both_ways=False) & whole) + 1).tolist()
        within = inside(point.zone, *self.seen[number])
        edge = within[:-1] & ~within[1:] if leaving else ~within[:-1] & within[1:]
        return (np.flatnonzero(edge & whole) + 1).tolist()

    def touches(self, start: int) -> list[int]:
        """Return the step at which each point is first touched, in order, from a start on."""
        at, found = start, []
        for within in self.inside:
            later = np.flatnonzero(within[at:])
            if not len(later):
                break
            at += int(later[0])
            found.append(at)
        return found

    def attempts(self) -> list[tuple[int, list[int], int | None]]:
        found = []
        for start in self.starts:
            touches = self.touches(start)
            finish = None
            if len(touches) == len(self.inside):
                after = touches[-1] if touches else start + 1
                finish = next((step for step in self.finishes if step >= after), None)
            found.append((start, touches, finish))
        return found

    def counted(self, number: int) -> Position:
        zone, at = self.task.points[number].zone, self.task.points[number].place.position
        if zone.shape is not Shape.AREA or not zone.inner_radius_m or zone.from_radial_deg is None:
            return at
        width = (zone.to_radial_deg - zone.from_radial_deg) % 360
        if width == 0:
            return at
        middle = (zone.radius_m + zone.inner_radius_m) / 2
        lon, lat, _ = GEOD.fwd(at.longitude_deg, at.latitude_deg, zone.from_radial_deg + width / 2, middle)
        return Position(lat, lon)

    def edge(self, number: int, step: int) -> Position:
        """Return where between the step before and this one the flight came to or left a zone's edge: by halving."""
        zone, at = self.task.points[number].zone, self.task.points[number].place.position
        here = Position(float(self.steps.lat[step]), float(self.steps.lon[step]))
        if step == 0 or self.steps.breaks[step - 1] or zone.shape is Shape.LINE:
            return here
        lon, lat = float(self.steps.lon[step - 1]), float(self.steps.lat[step - 1])
        azimuth, _, length = GEOD.inv(lon, lat, here.longitude_deg, here.latitude_deg)

        def is_inside(along: float) -> bool:
            x, y, _ = GEOD.fwd(lon, lat, azimuth, along)
            bearing, _, away = GEOD.inv(at.longitude_deg, at.latitude_deg, x, y)
            return bool(inside(zone, np.array([bearing]), np.array([away]))[0])

        low, high, before = 0.0, length, is_inside(0.0)
        if is_inside(length) == before:
            return here
        for _ in range(40):
            middle = (low + high) / 2
            low, high = (middle, high) if is_inside(middle) == before else (low, middle)
        x, y, _ = GEOD.fwd(lon, lat, azimuth, high)
        return Position(y, x)

    def taken_off(self) -> tuple[float, float]:
        """Return what comes off the first and the last leg: the radius of a cylinder."""
        return tuple(  # type: ignore[return-value]
            point.zone.radius_m if point.zone.shape is Shape.CYLINDER else 0.0
            for point in (self.task.points[0], self.task.points[-1])
        )

    def through_points_m(self, touched: int, start: int | None, last_touch: int | None) -> float:
        """Return the length through the points reached, and beyond them as far as the flight came; all where None."""
        first, last = self.taken_off()
        path = [self.counted(n) for n in range(len(self.task.points))]
        legs = [between_m(a, b) for a, b in pairwise(path)]
        if start is None:
            return sum(legs) - first - last
        done = legs[:touched]
        target = path[touched + 1]
        from_ = start if last_touch is None else last_touch
        ones = np.ones(len(self.steps.lat) - from_)
        _, _, near = GEOD.inv(
            ones * target.longitude_deg, ones * target.latitude_deg, self.steps.lon[from_:], self.steps.lat[from_:]
        )
        nearest = min(float(near.min()), between_m(target, self.edge(touched, from_)))
        done.append(max(0.0, legs[touched] - nearest))
        done[0] = max(0.0, done[0] - first)
        return sum(done)

    def candidates(self, start: int, touched: int, finish: int | None) -> list[np.ndarray]:
        """Return what may be credited in each area, fixes or the ends of a stay without one: step and place (3, n)."""
        found = []
        for number, within in enumerate(self.inside[:touched], start=1):
            part = within.copy()
            part[:start] = False
            if finish is not None:
                part[finish:] = False
            steps = np.flatnonzero(part)
            runs = np.split(steps, np.flatnonzero((np.diff(steps) > 1) | self.steps.breaks[steps[:-1]]) + 1)
            chosen: list[tuple[int, float, float]] = []
            for run in runs:
                fixes = run[self.steps.is_fix[run]]
                chosen += [(int(step), float(self.steps.lat[step]), float(self.steps.lon[step])) for step in fixes]
                for step in () if len(fixes) else (int(run[0]), int(run[-1]) + 1):
                    edge = self.edge(number, step)
                    chosen.append((step, edge.latitude_deg, edge.longitude_deg))
            found.append(np.array(sorted(chosen)).T)
        return found

    def credited(self, start: int, touched: int, finish: int | None) -> float:
        """Return the length of the longest way from the start point through one candidate of each area, in order.

        It ends at the finish; without one, with what the flight came nearer to the next point behind the last
        candidate than that one is.
        """
        layers = self.candidates(start, touched, finish)
        places = [self.counted(n) for n in range(len(self.task.points))]
        roles = [point.role for point in self.task.points]

        def where(layer: int) -> tuple[np.ndarray, np.ndarray]:
            if roles[layer + 1] is Role.AREA:
                return layers[layer][1], layers[layer][2]
            ones = np.ones(layers[layer].shape[1])
            return ones * places[layer + 1].latitude_deg, ones * places[layer + 1].longitude_deg

        def lengths(lat: np.ndarray, lon: np.ndarray, to: Position) -> np.ndarray:
            ones = np.ones(len(lat))
            return GEOD.inv(lon, lat, ones * to.longitude_deg, ones * to.latitude_deg)[2]

        total = lengths(*where(0), places[0])
        for n in range(1, len(layers)):
            (lat_a, lon_a), (lat_b, lon_b) = where(n - 1), where(n)
            best = np.full(layers[n].shape[1], -math.inf)
            for k, step in enumerate(layers[n][0].tolist()):
                ones = np.ones(len(lat_a))
                way = total + GEOD.inv(lon_a, lat_a, ones * lon_b[k], ones * lat_b[k])[2]
                way[layers[n - 1][0] > step] = -math.inf
                best[k] = float(way.max())
            total = best
        away = lengths(*where(len(layers) - 1), places[touched + 1])
        first, last = self.taken_off()
        if finish is not None:
            return float((total + away).max()) - first - last
        near = lengths(self.steps.lat, self.steps.lon, places[touched + 1])
        nearest_from = np.minimum.accumulate(near[::-1])[::-1]
        return (
            float(
                (
                    total + np.maximum(away - nearest_from[np.minimum(layers[-1][0].astype(int), len(near) - 1)], 0.0)
                ).max()
            )
            - first
        )

    def result(self) -> dict[str, Any]:
        """Return the start that counts and what follows: times in seconds, metres, km/h."""
        has_areas = any(point.role is Role.AREA for point in self.task.points)
        tried = self.attempts()
        if not tried:
            return {"starts": 0, "distance_m": 0.0}
        ways: list[dict[str, Any]] = []
        most = max((finish is not None, len(touches)) for _, touches, finish in tried)
        for start, touches, finish in tried:
            if (finish is not None, len(touches)) != most:
                continue
            way: dict[str, Any] = {
                "starts": sum(one <= (finish or math.inf) for one in self.starts),
                "start_s": float(self.steps.time[start]),
                "zones": [float(self.steps.time[step]) for step in touches],
                "finish_s": None if finish is None else float(self.steps.time[finish]),
            }
            if finish is None:
                last = touches[-1] if touches else None
                way["distance_m"] = (
                    self.credited(start, len(touches), None)
                    if has_areas and touches
                    else self.through_points_m(len(touches), start, last)
                )
                way["rank"] = way["distance_m"]
            else:
                time = way["finish_s"] - way["start_s"]
                if has_areas:
                    way["distance_m"] = self.credited(start, len(touches), finish)
                    time = max(time, self.task.time_s or 0)
                else:
                    way["distance_m"] = self.through_points_m(len(touches), None, None)
                way["speed_kmh"] = way["distance_m"] * 3.6 / time
                way["rank"] = way["speed_kmh"]
            ways.append(way)
        return max(ways, key=lambda way: (round(way["rank"], 6), way["start_s"]))


def between_m(a: Position, b: Position) -> float:
    return float(GEOD.inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)[2])
