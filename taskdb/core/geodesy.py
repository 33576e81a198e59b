"""Distances, courses and destinations on WGS84, and lengths on the FAI sphere.

The one place that knows pyproj (imported on first use: it costs more than most commands). Plain positions in and
out; arrays for the searches that need thousands of lines at once. Nothing here knows zones or tasks.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from taskdb.core.model import Earth, Position

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    from pyproj import Geod, Proj

    Floats = npt.NDArray[np.float64]

EQUATOR_RADIUS_M = 6_378_137.0
"""Semi-major axis of WGS84 (NGA.STND.0036)."""

FLATTENING = 1 / 298.257223563
"""Flattening of WGS84 (NGA.STND.0036)."""

ECCENTRICITY_2 = FLATTENING * (2 - FLATTENING)
"""First eccentricity squared of WGS84."""

FAI_SPHERE_RADIUS_M = 6_371_000.0
"""Radius of the sphere that the FAI General Section allows for distances (7.3.1.1, numbering of 2003)."""


@dataclass(frozen=True, slots=True)
class Inverse:
    """The geodesic between two positions: its length, its true course where it leaves, and where it arrives.

    The courses are None where the positions coincide: no direction exists, and none is made up.
    """

    distance_m: float
    bearing_deg: float | None
    arrival_deg: float | None


@cache
def _geod() -> Geod:
    from pyproj import Geod

    return Geod(ellps="WGS84")


@cache
def _mercator() -> Proj:
    from pyproj import Proj

    # The exact form (Karney 2011), good to nanometres in a zone; `tmerc` would ask a file which form to take.
    return Proj(proj="etmerc", ellps="WGS84", k=0.9996, x_0=500_000)


def to_mercator(latitude_deg: float, from_middle_deg: float) -> tuple[float, float]:
    """Return easting and northing, metres from the equator, of a place so far east of its UTM zone's middle."""
    easting, northing = _mercator()(from_middle_deg, latitude_deg)
    return float(easting), float(northing)


def from_mercator(easting_m: float, northing_m: float) -> tuple[float, float]:
    """Return the latitude and how far east of its UTM zone's middle a place lies, degrees; `to_mercator` undone."""
    from_middle, latitude = _mercator()(easting_m, northing_m, inverse=True)
    return float(latitude), float(from_middle)


def wrap_bearing(degrees: float) -> float:
    """Return the bearing in 0 ≤ x < 360."""
    wrapped = degrees % 360.0
    # The remainder of a tiny negative angle rounds up to 360 itself.
    return 0.0 if wrapped >= 360.0 else wrapped


def wrap_longitude(degrees: float) -> float:
    """Return the longitude in −180 ≤ x < 180; a longitude that is in range already comes back bit for bit."""
    if -180.0 <= degrees < 180.0:
        return degrees
    wrapped = (degrees + 180.0) % 360.0 - 180.0
    return -180.0 if wrapped >= 180.0 else wrapped


def turn_deg(from_deg: float, to_deg: float) -> float:
    """Return the angle from one bearing to another, −180 ≤ x < 180, clockwise positive."""
    return wrap_longitude(to_deg - from_deg)


def inverse(a: Position, b: Position) -> Inverse:
    """Return length (m) and courses (degrees true) of the WGS84 geodesic from `a` to `b`."""
    out, back, distance = _geod().inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)
    if distance == 0.0:
        return Inverse(0.0, None, None)
    return Inverse(float(distance), wrap_bearing(float(out)), wrap_bearing(float(back) + 180.0))


def distance_m(a: Position, b: Position) -> float:
    """Return the length of the WGS84 geodesic, metres; 0 where the positions coincide."""
    return inverse(a, b).distance_m


def bearing_deg(a: Position, b: Position) -> float | None:
    """Return the true course at `a` towards `b`, 0 ≤ x < 360; None where they coincide."""
    return inverse(a, b).bearing_deg


def arrival_deg(a: Position, b: Position) -> float | None:
    """Return the true course with which the geodesic from `a` arrives at `b`, 0 ≤ x < 360; None where they coincide."""
    return inverse(a, b).arrival_deg


def destination(a: Position, bearing_deg: float, distance_m: float) -> Position:
    """Return where the geodesic leads that leaves `a` on a true bearing; not rounded to 1e-7°.

    A negative distance runs the same geodesic backwards.
    """
    longitude, latitude, _ = _geod().fwd(a.longitude_deg, a.latitude_deg, bearing_deg, distance_m)
    return Position(float(latitude), wrap_longitude(float(longitude)))


def destination_and_course(a: Position, bearing_deg: float, distance_m: float) -> tuple[Position, float]:
    """Return where the geodesic leads, as `destination` does, and the true course with which it runs on there."""
    longitude, latitude, back = _geod().fwd(a.longitude_deg, a.latitude_deg, bearing_deg, distance_m)
    return Position(float(latitude), wrap_longitude(float(longitude))), wrap_bearing(float(back) + 180.0)


def sphere_distance_m(a: Position, b: Position) -> float:
    """Return the great-circle length on the FAI sphere (R = 6371 km, geographic latitudes taken as they are), metres.

    The arctangent form holds for neighbouring and opposite points alike.
    """
    first, second = math.radians(a.latitude_deg), math.radians(b.latitude_deg)
    turn = math.radians(b.longitude_deg - a.longitude_deg)
    across = math.cos(second) * math.sin(turn)
    along = math.cos(first) * math.sin(second) - math.sin(first) * math.cos(second) * math.cos(turn)
    inward = math.sin(first) * math.sin(second) + math.cos(first) * math.cos(second) * math.cos(turn)
    return FAI_SPHERE_RADIUS_M * math.atan2(math.hypot(across, along), inward)


def length_m(a: Position, b: Position, earth: Earth) -> float:
    """Return the length of a leg on the chosen earth model, metres."""
    return sphere_distance_m(a, b) if earth is Earth.FAI_SPHERE else distance_m(a, b)


def densify(a: Position, b: Position, max_step_m: float) -> tuple[Position, ...]:
    """Return the geodesic from `a` to `b` as positions no further apart than `max_step_m`, both ends included.

    Two equal positions give the two of them. ValueError where the step is not positive.
    """
    if not max_step_m > 0:
        raise ValueError(f"a step of {max_step_m} m leads nowhere")
    line = inverse(a, b)
    if line.bearing_deg is None:
        return (a, b)
    pieces = max(1, math.ceil(line.distance_m / max_step_m))
    between = (destination(a, line.bearing_deg, line.distance_m * n / pieces) for n in range(1, pieces))
    return (a, *between, b)


def destinations(
    latitudes_deg: Floats, longitudes_deg: Floats, bearings_deg: Floats, distances_m: Floats
) -> tuple[Floats, Floats]:
    """Return latitudes and longitudes (not wrapped) of many destinations; all arrays of one shape."""
    latitude, longitude, _ = along_lines(latitudes_deg, longitudes_deg, bearings_deg, distances_m)
    return latitude, longitude


def along_lines(
    latitudes_deg: Floats, longitudes_deg: Floats, bearings_deg: Floats, distances_m: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return latitudes, longitudes (not wrapped) and true courses (not wrapped) so far along many geodesics."""
    longitude, latitude, back = _each(_geod().fwd, longitudes_deg, latitudes_deg, bearings_deg, distances_m)
    return latitude, longitude, back + 180.0


def _each(compute: Callable[..., tuple[Any, Any, Any]], *arrays: Floats) -> tuple[Floats, Floats, Floats]:
    """Compute on arrays. One value goes as a number: some releases of numpy let pyproj take such an array for one."""
    import numpy as np

    if arrays[0].size != 1:
        return compute(*arrays)
    first, second, third = (np.full_like(arrays[0], value) for value in compute(*(array.item() for array in arrays)))
    return first, second, third


def destinations_from(a: Position, bearings_deg: Sequence[float], distances_m: Sequence[float]) -> tuple[Position, ...]:
    """Return the positions (not rounded) that lie so far from `a` in these directions; much quicker than one by one."""
    count = len(bearings_deg)
    longitudes, latitudes, _ = _geod().fwd(
        [a.longitude_deg] * count, [a.latitude_deg] * count, list(bearings_deg), list(distances_m)
    )
    return tuple(Position(lat, wrap_longitude(lon)) for lat, lon in zip(latitudes, longitudes, strict=True))


def bearings_and_distances(a: Position, latitudes_deg: Floats, longitudes_deg: Floats) -> tuple[Floats, Floats]:
    """Return the true bearing at `a` (−180…180; of no meaning at no distance) and the distance to many positions."""
    import numpy as np

    longitudes, latitudes = (np.full_like(longitudes_deg, value) for value in (a.longitude_deg, a.latitude_deg))
    return inverses(latitudes, longitudes, latitudes_deg, longitudes_deg)


def inverses(
    latitudes_deg: Floats, longitudes_deg: Floats, to_latitudes_deg: Floats, to_longitudes_deg: Floats
) -> tuple[Floats, Floats]:
    """Return the true bearing at the first (−180…180; of no meaning at no distance) and the length of many geodesics.

    All arrays of one shape; longitudes of any turn.
    """
    out, _, distance = _each(_geod().inv, longitudes_deg, latitudes_deg, to_longitudes_deg, to_latitudes_deg)
    return out, distance


def path_length_m(points: Iterable[Position], earth: Earth) -> float:
    """Return the length of a path through the points on the chosen earth model, metres; 0 for fewer than two."""
    return math.fsum(length_m(a, b, earth) for a, b in pairwise(points))


def lengths_m(
    latitudes_deg: Floats, longitudes_deg: Floats, to_latitudes_deg: Floats, to_longitudes_deg: Floats, earth: Earth
) -> Floats:
    """Return the lengths of many legs on the chosen earth model, metres, as `length_m` gives them one by one."""
    import numpy as np

    if earth is Earth.WGS84:
        return inverses(latitudes_deg, longitudes_deg, to_latitudes_deg, to_longitudes_deg)[1]
    first, second = np.radians(latitudes_deg), np.radians(to_latitudes_deg)
    turn = np.radians(to_longitudes_deg - longitudes_deg)
    across = np.cos(second) * np.sin(turn)
    along = np.cos(first) * np.sin(second) - np.sin(first) * np.cos(second) * np.cos(turn)
    inward = np.sin(first) * np.sin(second) + np.cos(first) * np.cos(second) * np.cos(turn)
    great_circle: Floats = FAI_SPHERE_RADIUS_M * np.arctan2(np.hypot(across, along), inward)
    return great_circle


def earth_vectors(latitudes_deg: Floats, longitudes_deg: Floats) -> tuple[Floats, Floats]:
    """Return earth-centred positions on WGS84 (metres) and the unit normals there, each with a leading axis of 3."""
    import numpy as np

    latitude, longitude = np.radians(latitudes_deg), np.radians(longitudes_deg)
    flat = np.cos(latitude)
    normals = np.stack([flat * np.cos(longitude), flat * np.sin(longitude), np.sin(latitude)])
    places = normals * (EQUATOR_RADIUS_M / np.sqrt(1 - ECCENTRICITY_2 * np.square(normals[2])))
    places[2] *= 1 - ECCENTRICITY_2
    return places, normals


def quick_lengths_m(steps: Floats, turns: Floats, earth: Earth) -> Floats:
    """Return lengths of lines from the differences of their ends' places and normals (leading axis of 3), metres.

    On WGS84 the chord is bent to an arc of the mean curvature along it, (change of normal · chord) / chord²: below
    0.05 mm off the geodesic at 300 km, 18 mm at 1000 km, with no case of its own at a pole or antimeridian. On the
    FAI sphere it is exact. For searching; what is reported is measured by geodesics.
    """
    import numpy as np

    if earth is Earth.FAI_SPHERE:
        chord = np.sqrt(turns[0] * turns[0] + turns[1] * turns[1] + turns[2] * turns[2])
        great_circle: Floats = 2 * FAI_SPHERE_RADIUS_M * np.arcsin(np.minimum(chord / 2, 1.0))
        return great_circle
    chord = np.sqrt(steps[0] * steps[0] + steps[1] * steps[1] + steps[2] * steps[2])
    bend = steps[0] * turns[0] + steps[1] * turns[1] + steps[2] * turns[2]
    half_turn = np.minimum(np.maximum(bend / np.maximum(2 * chord, 1e-9), 1e-9), 1.0)
    arc: Floats = chord * np.where(half_turn > 1e-6, np.arcsin(half_turn) / half_turn, 1.0)
    return arc
