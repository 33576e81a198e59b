"""Lines and polygons cut where they cross the antimeridian, as RFC 7946 3.1.9 asks: parts that do not cross it.

Input are positions (longitudes −180 ≤ x < 180) as they follow each other, never more than half a turn apart; output
are (longitude, latitude) pairs, rounded to 1e-7°, as files hold them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from taskdb.core.model import Position
from taskdb.core.plain import degrees

Pair = tuple[float, float]
Ring = list[Pair]
_Crossing = tuple[float, int, bool]


def pair(position: Position) -> Pair:
    """Return (longitude, latitude) as files hold them."""
    return degrees(position.longitude_deg), degrees(position.latitude_deg)


def _unrolled(positions: Sequence[Position]) -> list[Pair]:
    """Return pairs whose longitudes run on without a jump, beyond ±180 where they must."""
    result: list[Pair] = []
    turn = 0.0
    for i, position in enumerate(positions):
        if i:
            step = position.longitude_deg - positions[i - 1].longitude_deg
            turn -= 360.0 if step > 180.0 else -360.0 if step < -180.0 else 0.0
        result.append((position.longitude_deg + turn, position.latitude_deg))
    return result


def _at(a: Pair, b: Pair, longitude: float) -> float:
    """Return the latitude where the straight line from `a` to `b` meets a longitude."""
    return a[1] + (b[1] - a[1]) * (longitude - a[0]) / (b[0] - a[0])


def _shifted(points: Sequence[Pair], turns: int) -> Ring:
    """Return rounded pairs of the strip −180…180 numbered `turns`, without repeating a pair."""
    ring: Ring = []
    for longitude, latitude in points:
        rounded = (degrees(longitude - 360.0 * turns), degrees(latitude))
        if not ring or ring[-1] != rounded:
            ring.append(rounded)
    return ring


def _strip(longitude: float) -> int:
    return int((longitude + 180.0) // 360.0)


def cut_line(positions: Sequence[Position]) -> list[Ring]:
    """Return a line as parts that do not cross the antimeridian; each has at least two pairs."""
    points = _unrolled(positions)
    parts: list[tuple[int, list[Pair]]] = [(_strip(points[0][0]), [points[0]])]
    for a, b in pairwise(points):
        here, there = _strip(a[0]), _strip(b[0])
        if here != there:
            border = 180.0 + 360.0 * min(here, there)
            latitude = _at(a, b, border)
            parts[-1][1].append((border, latitude))
            parts.append((there, [(border, latitude)]))
        parts[-1][1].append(b)
    rings = [_shifted(line, strip) for strip, line in parts]
    kept = [ring for ring in rings if len(ring) > 1]
    return kept or [[rings[0][0], rings[0][0]]]


def cut_polygon(exterior: Sequence[Position], holes: Sequence[Sequence[Position]] = ()) -> list[list[Ring]]:
    """Return a polygon as parts that do not cross the antimeridian: exteriors counter-clockwise, holes clockwise.

    A ring round a pole is closed along the pole's edge of the map.
    """
    outer = _closed_at_pole(_unrolled(exterior))
    inner = [_near(_unrolled(hole), outer) for hole in holes]
    polygons: list[list[Ring]] = []
    low, high = min(p[0] for p in outer), max(p[0] for p in outer)
    for strip in range(_strip(low), _strip(high) + 1):
        west, east = -180.0 + 360.0 * strip, 180.0 + 360.0 * strip
        if high <= west or low >= east:
            continue
        rings = _keep_side(_keep_side([outer, *inner], east, keep_below=True), west, keep_below=False)
        polygons += _grouped([ring for r in rings if len(ring := _shifted(r, strip)) >= 4])
    return polygons


def _near(hole: list[Pair], outer: list[Pair]) -> list[Pair]:
    """Return a hole's ring in the same turn as the ring that it lies in."""
    middle = (min(p[0] for p in outer) + max(p[0] for p in outer)) / 2
    turns = round((middle - hole[0][0]) / 360.0)
    return [(longitude + 360.0 * turns, latitude) for longitude, latitude in hole]


def _closed_at_pole(ring: list[Pair]) -> list[Pair]:
    """Return a ring that goes once round the Earth closed along the edge of the map at its pole."""
    turn = ring[-1][0] - ring[0][0]
    if abs(turn) < 180.0:
        return ring
    # Counter-clockwise from above with eastward longitudes encloses the north pole.
    pole = 90.0 if turn > 0 else -90.0
    return [*ring, (ring[-1][0], pole), (ring[0][0], pole), ring[0]]


def _keep_side(rings: Sequence[list[Pair]], border: float, *, keep_below: bool) -> list[list[Pair]]:
    """Return rings cut along a meridian, keeping one side.

    What is inside on the meridian lies between its first and second crossing, third and fourth, and so on: the pieces
    of the rings are joined along those stretches, so that parts stay apart and holes that are cut become bays.
    """

    def is_kept(point: Pair) -> bool:
        return point[0] < border if keep_below else point[0] > border

    whole: list[list[Pair]] = []
    pieces: list[list[Pair]] = []
    for ring in rings:
        kept = [is_kept(p) or p[0] == border for p in ring]
        if all(kept):
            whole.append(ring)
        elif any(is_kept(p) for p in ring):
            pieces += _pieces(ring, border, is_kept)
    return whole + _joined(pieces)


def _pieces(ring: list[Pair], border: float, is_kept: Callable[[Pair], bool]) -> list[list[Pair]]:
    """Return the stretches of a ring on the kept side, each from a crossing to a crossing."""
    points = ring[:-1]
    start = next(i for i, p in enumerate(points) if not is_kept(p))
    turned = points[start:] + points[: start + 1]
    pieces: list[list[Pair]] = []
    for a, b in pairwise(turned):
        if is_kept(a) != is_kept(b):
            crossing = (border, _at(a, b, border))
            if is_kept(b):
                pieces.append([crossing])
            else:
                pieces[-1].append(crossing)
        if is_kept(b):
            pieces[-1].append(b)
    return pieces


def _joined(pieces: list[list[Pair]]) -> list[list[Pair]]:
    """Return closed rings of pieces whose ends lie on one meridian."""
    ends: list[_Crossing] = []
    for i, piece in enumerate(pieces):
        ends += [(piece[0][1], i, True), (piece[-1][1], i, False)]
    ends.sort()
    partner: dict[tuple[int, bool], tuple[int, bool]] = {}
    for a, b in zip(ends[::2], ends[1::2], strict=True):
        partner[a[1], a[2]], partner[b[1], b[2]] = (b[1], b[2]), (a[1], a[2])
    rings: list[list[Pair]] = []
    left = set(range(len(pieces)))
    while left:
        first = at = min(left)
        ring: list[Pair] = []
        while at in left:
            left.discard(at)
            ring += pieces[at]
            at = partner[at, False][0]
        if at == first and ring:
            rings.append([*ring, ring[0]])
    return rings


def _area(ring: Ring) -> float:
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring)) / 2


def _grouped(rings: list[Ring]) -> list[list[Ring]]:
    """Return polygons: every counter-clockwise ring with the clockwise rings that lie in it."""
    closed = [ring if ring[0] == ring[-1] else [*ring, ring[0]] for ring in rings]
    outers = [[ring] for ring in closed if _area(ring) > 0]
    for hole in (ring for ring in closed if _area(ring) < 0):
        home = next((polygon for polygon in outers if _holds(polygon[0], hole[0])), outers[0] if outers else None)
        if home is not None:
            home.append(hole)
    return outers


def _holds(ring: Ring, point: Pair) -> bool:
    x, y = point
    inside = False
    for a, b in pairwise(ring):
        if (a[1] > y) != (b[1] > y) and x < a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]):
            inside = not inside
    return inside
