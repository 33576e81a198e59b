"""An independent search for extremes of area tasks: no theory of edges, no basins, no code of the package.

Random tasks as plain numbers; each area as a map from the unit square (all of it, inside too) to positions; dense
two-dimensional sampling, scipy's differential evolution, then L-BFGS-B and Nelder-Mead from the best found. All
lengths are exact geodesics (pyproj; the tests measure the found points again with geographiclib).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from pyproj import Geod, Transformer
from scipy import optimize

GEOD = Geod(ellps="WGS84")
TO_SPACE = Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True)
EARTH_M = 6_371_009.0
SAMPLES = 18
DONE_M = 1e-3


def _arrays(lines: Callable[..., tuple[np.ndarray, ...]], *values: np.ndarray) -> tuple[np.ndarray, ...]:
    """Return what pyproj gives for arrays, as arrays: it may take one of a single value for a number."""
    if values[0].size > 1:
        return lines(*values)
    return tuple(np.reshape(found[:1], values[0].shape) for found in lines(*(np.repeat(v, 2) for v in values)))


@dataclass(frozen=True)
class Area:
    """Where and what an area is: radii in metres, bearings in degrees, as seen from its point."""

    latitude: float
    longitude: float
    text: str
    outer: float
    inner: float = 0.0
    start: float = 0.0
    width: float = 360.0
    core: float = 0.0

    def places(self, u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return longitudes and latitudes for coordinates of the unit square."""
        turn = 360.0 if self.core else self.width
        bearing = self.start + turn * v
        # A keyhole reaches out to its sector within the opening, and to its disc elsewhere.
        reach = np.where(turn * v <= self.width, self.outer, self.core) if self.core else self.outer
        away = self.inner + (reach - self.inner) * u
        longitudes, latitudes, _ = _arrays(
            GEOD.fwd, np.full(u.shape, self.longitude), np.full(u.shape, self.latitude), bearing, away
        )
        return longitudes, latitudes


@dataclass(frozen=True)
class Course:
    """A random task: start, areas, finish (latitude, longitude)."""

    start: tuple[float, float]
    areas: tuple[Area, ...]
    finish: tuple[float, float]


def random_course(dice: np.random.Generator) -> Course:
    """Return a task of one to six areas of every shape, often overlapping or nested, anywhere on the earth."""
    latitude = float(dice.choice([51.0, -29.0, 62.0, 0.1, 38.0])) + dice.uniform(-3, 3)
    longitude = float(dice.choice([9.0, 179.9, -105.0, -179.9])) + dice.uniform(-1, 1)
    spacing = float(dice.choice([15e3, 40e3, 90e3]))
    start = (round(latitude, 7), round(_wrap(longitude), 7))
    at, course, areas = start, dice.uniform(0, 360), []
    for _ in range(dice.integers(1, 7)):
        course += dice.uniform(-150, 150)
        if not (areas and dice.random() < 0.12):  # now and then twice the same point: nested
            at = _go(at, course, spacing * dice.uniform(0.3, 1.7))
        areas.append(_random_area(dice, at))
    finish = start if dice.random() < 0.7 else _go(at, dice.uniform(0, 360), spacing)
    return Course(start, tuple(areas), finish)


def _wrap(longitude: float) -> float:
    return (longitude + 180) % 360 - 180


def _go(at: tuple[float, float], bearing: float, metres: float) -> tuple[float, float]:
    longitude, latitude, _ = GEOD.fwd(at[1], at[0], bearing, metres)
    return round(latitude, 7), round(_wrap(longitude), 7)


def _random_area(dice: np.random.Generator, at: tuple[float, float]) -> Area:
    latitude, longitude = at
    outer = float(dice.choice([500, 3000, 10000, 20000, 35000, 50000]))
    inner = round(outer * dice.uniform(0.1, 0.9))
    first, opening = int(dice.integers(0, 360)), int(dice.integers(20, 340))
    axis = (first + opening / 2) % 360
    kind = dice.choice(["cylinder", "area", "ring", "segment", "pie", "sector", "keyhole"])
    m = f"{outer:.0f}m"
    last = (first + opening) % 360
    if kind in ("cylinder", "area"):
        return Area(latitude, longitude, f"{kind} {m}", outer)
    if kind == "ring":
        return Area(latitude, longitude, f"area {inner}m..{m}", outer, inner)
    if kind == "segment":
        return Area(latitude, longitude, f"area {inner}m..{m} {first:03d}..{last:03d}", outer, inner, first, opening)
    if kind == "pie":
        return Area(latitude, longitude, f"area 0m..{m} {first:03d}..{last:03d}", outer, 0, first, opening)
    if kind == "sector":
        return Area(latitude, longitude, f"sector {opening}deg {m} {axis:g}", outer, 0, first, opening)
    return Area(latitude, longitude, f"keyhole {inner}m {opening}deg {m} {axis:g}", outer, 0, first, opening, inner)


def search(course: Course, sense: int, seed: int) -> float:
    """Return the shortest (sense 1) or longest (sense −1) length found, metres."""

    def lengths(x: np.ndarray) -> np.ndarray:
        columns = x.reshape(len(x), -1)
        count = columns.shape[1]
        longitudes = [np.full(count, course.start[1])]
        latitudes = [np.full(count, course.start[0])]
        for n, area in enumerate(course.areas):
            lon, lat = area.places(columns[2 * n], columns[2 * n + 1])
            longitudes.append(lon)
            latitudes.append(lat)
        longitudes.append(np.full(count, course.finish[1]))
        latitudes.append(np.full(count, course.finish[0]))
        a, b = np.stack(longitudes), np.stack(latitudes)
        _, _, legs = _arrays(GEOD.inv, a[:-1].ravel(), b[:-1].ravel(), a[1:].ravel(), b[1:].ravel())
        return sense * legs.reshape(-1, count).sum(axis=0)

    def length(x: np.ndarray) -> float:
        return float(lengths(np.clip(x, 0, 1)[:, None])[0])

    box = [(0.0, 1.0)] * (2 * len(course.areas))
    starts = _sampled(course, sense)
    evolved = optimize.differential_evolution(
        lengths, box, init=_crowd(starts, len(box), seed), maxiter=100, tol=1e-10, rng=seed, polish=False,
        vectorized=True, updating="deferred",
    )  # fmt: skip
    best = math.inf
    for x in (evolved.x, *starts[:2]):
        best = min(best, _polished(length, lengths, x, box))
    return sense * best


def _sampled(course: Course, sense: int) -> list[np.ndarray]:
    """Return the best paths over a grid of each whole area, one through each of the cheapest samples of an area.

    The samples' distances are chords laid round a ball: what begins there is measured by geodesics.
    """
    grid = np.linspace(0, 1, SAMPLES)
    u, v = (g.ravel() for g in np.meshgrid(grid, grid))
    sets = [_in_space(np.array([course.start[1]]), np.array([course.start[0]]))]
    sets += [_in_space(*area.places(u, v)) for area in course.areas]
    sets.append(_in_space(np.array([course.finish[1]]), np.array([course.finish[0]])))
    chords = (np.linalg.norm(a[:, None] - b[None, :], axis=2) for a, b in pairwise(sets))
    legs = [sense * 2 * EARTH_M * np.arcsin(chord / 2 / EARTH_M) for chord in chords]
    ahead = [np.zeros(1)]
    for leg in legs:
        ahead.append((ahead[-1][:, None] + leg).min(axis=0))
    behind = [np.zeros(1)]
    for leg in reversed(legs):
        behind.insert(0, (behind[0][None, :] + leg).min(axis=1))
    found = []
    for n in range(1, len(sets) - 1):
        through = ahead[n] + behind[n]
        found.extend((through[k], n, int(k)) for k in np.argsort(through)[:4])
    paths = []
    for _, n, k in sorted(found):
        path = [k]
        for m in range(n, 1, -1):
            path.insert(0, int(np.argmin(ahead[m - 1] + legs[m - 1][:, path[0]])))
        for m in range(n, len(sets) - 2):
            path.append(int(np.argmin(legs[m][path[-1], :] + behind[m + 1])))
        if path not in [p for p, _ in paths]:
            paths.append((path, np.array([c for k in path for c in (u[k], v[k])])))
    return [x for _, x in paths]


def _in_space(longitudes: np.ndarray, latitudes: np.ndarray) -> np.ndarray:
    """Return places on the ellipsoid as metres from the earth's centre (n, 3)."""
    return np.stack(TO_SPACE.transform(longitudes, latitudes, np.zeros(len(latitudes))), axis=1)


def _crowd(starts: list[np.ndarray], dimensions: int, seed: int) -> np.ndarray:
    crowd = np.random.default_rng(seed).random((max(40, 5 * dimensions), dimensions))
    for n, x in enumerate(starts[: len(crowd) // 2]):
        crowd[n] = x
    return crowd


def _polished(
    length: Callable[[np.ndarray], float],
    lengths: Callable[[np.ndarray], np.ndarray],
    x: np.ndarray,
    box: list[tuple[float, float]],
) -> float:
    step = 1e-7

    def slope(at: np.ndarray) -> np.ndarray:
        up, down = (
            np.clip(at[:, None] + step * np.eye(len(at)), 0, 1),
            np.clip(at[:, None] - step * np.eye(len(at)), 0, 1),
        )
        both = lengths(np.concatenate([up, down], axis=1))
        moved = np.maximum(np.diagonal(up - down), 1e-12)
        return (both[: len(at)] - both[len(at) :]) / moved

    best, value = x, length(x)
    for _ in range(2):
        begun = value
        bounded = optimize.minimize(length, best, jac=slope, method="L-BFGS-B", bounds=box, options={"maxiter": 60})
        simplex = optimize.minimize(
            length, bounded.x, method="Nelder-Mead", bounds=box,
            options={"maxfev": 120 * len(x), "xatol": 1e-9, "fatol": 1e-4},
        )  # fmt: skip
        for found in (bounded, simplex):
            if found.fun < value:
                best, value = np.clip(found.x, 0, 1), float(found.fun)
        if begun - value < DONE_M:
            break
    return value
