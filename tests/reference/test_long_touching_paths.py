"""The shortest path through many overlapping cylinders, against a general convex solver (scipy SLSQP) on a flat map.

Touching convex zones in order is a convex problem with one best length; the solver knows nothing of edges, samples and
riding. The region is 60 km wide, where the flat map (azimuthal equidistant, pyproj) is below 1e-5 of a length off.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from geographiclib.geodesic import Geodesic
from pyproj import Proj
from scipy.optimize import minimize

from taskdb.core.course.extremes import shortest_touching_path
from tests import building

COUNT = 24
SMOOTH_M = 0.05


def random_route(seed: int) -> list[tuple[float, float, float]]:
    """Return latitudes, longitudes and radii (m, of 2 to 9 km) of points 6 km apart on a winding way."""
    dice = np.random.default_rng(seed)
    latitude, longitude, heading = 47.0, 11.0, dice.uniform(0, 2 * np.pi)
    route = []
    for _ in range(COUNT):
        route.append((round(latitude, 7), round(longitude, 7), float(round(dice.uniform(2000, 9000)))))
        heading += dice.uniform(-1.8, 1.8)
        latitude += 6 / 111.2 * np.cos(heading)
        longitude += 6 / 76.0 * np.sin(heading)
    return route


def solved_m(route: list[tuple[float, float, float]]) -> float:
    """Return the least length that the convex solver finds, metres on the flat map; a little too long by smoothing."""
    middle = np.mean([[a, b] for a, b, _ in route], axis=0)
    flat = Proj(proj="aeqd", lat_0=middle[0], lon_0=middle[1], ellps="WGS84")
    centres = np.array([flat(b, a) for a, b, _ in route]) / 1000
    radii = np.array([r for _, _, r in route]) / 1000

    def length(x: npt.NDArray[np.float64]) -> tuple[float, npt.NDArray[np.float64]]:
        points = x.reshape(-1, 2)
        steps = np.diff(points, axis=0)
        sizes = np.sqrt((steps**2).sum(axis=1) + (SMOOTH_M / 1000) ** 2)
        slope = np.zeros_like(points)
        slope[1:] += steps / sizes[:, None]
        slope[:-1] -= steps / sizes[:, None]
        return float(sizes.sum()), slope.ravel()

    def room(x: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        return radii**2 - ((x.reshape(-1, 2) - centres) ** 2).sum(axis=1)

    def room_slope(x: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        slope = np.zeros((COUNT, COUNT, 2))
        slope[np.arange(COUNT), np.arange(COUNT)] = -2 * (x.reshape(-1, 2) - centres)
        return slope.reshape(COUNT, -1)

    bounds = {"type": "ineq", "fun": room, "jac": room_slope}
    best = minimize(
        length,
        centres.ravel(),
        jac=True,
        method="SLSQP",
        constraints=[bounds],
        options={"maxiter": 2000, "ftol": 1e-10},
    )
    steps = np.diff(best.x.reshape(-1, 2), axis=0)
    return float(1000 * np.sqrt((steps**2).sum(axis=1)).sum())


@pytest.mark.parametrize("seed", range(6))
def test_the_path_through_many_overlapping_zones_is_the_one_that_a_convex_solver_finds(seed: int) -> None:
    route = random_route(seed)
    path = shortest_touching_path(building.task(*(((a, b), f"cylinder {r:.0f}m") for a, b, r in route)))
    for (latitude, longitude, radius), at in zip(route, path.points, strict=True):
        away = Geodesic.WGS84.Inverse(latitude, longitude, at.latitude_deg, at.longitude_deg)["s12"]
        assert away <= radius + 1e-3
    assert path.length_m == pytest.approx(solved_m(route), abs=0.3)
