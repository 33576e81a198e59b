"""Whether rings from a file are fit to be kept, what is wrong with each that is not, and what a mend makes of them.

Not closed, crossing themselves, with exchanged axes, without area, holes outside, across the antimeridian, round a
pole: refused in words, or mended and said. A mend never makes a volume smaller than what was drawn.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from taskdb.core.airspace.edges import TangledError, first_meeting, meeting_point
from taskdb.core.airspace.loops import lies_in, polygons_of, simple_loops
from taskdb.core.airspace.volume import Ring, Vertex, doubled_area
from taskdb.core.model import E7

RawRing = Sequence[tuple[float, float]]
"""(longitude_deg, latitude_deg) as a file has them."""
MOST_VERTICES = 20_000
_HALF_TURN, _TURN, _POLE = 180 * E7, 360 * E7, 90 * E7


@dataclass(frozen=True, slots=True)
class RingProblem:
    """What is wrong with a volume's ground: a stable code, and words that follow the volume's name."""

    code: str
    message: str


@dataclass(frozen=True, slots=True)
class Ground:
    """The ground of one volume: sound polygons (none where there are problems), and what was mended.

    Longitudes run on beyond ±180° where a polygon crosses the antimeridian: it is still to be cut there.
    """

    polygons: tuple[tuple[Ring, ...], ...] = ()
    problems: tuple[RingProblem, ...] = ()
    mended: tuple[str, ...] = ()


@dataclass(slots=True)
class _Bench:
    """What is found and mended while one volume is looked through."""

    repair: bool
    short_way: bool
    problems: list[RingProblem] = field(default_factory=list)
    mended: list[str] = field(default_factory=list)

    def found(self, code: str, what: str, mend: str | None) -> bool:
        """Note a fault: mended where that is allowed and can be done, else a problem; say whether it is mended."""
        if self.repair and mend is not None:
            self.mended.append(mend)
            return True
        self.problems.append(RingProblem(code, what))
        return False


def mend(polygons: Sequence[Sequence[RawRing]], *, repair: bool = False, short_way: bool = False) -> Ground:
    """Return the ground of a volume's polygons (exterior first, then holes), or every problem of it.

    `repair` mends what can be mended without guessing. `short_way`: an edge of more than half a turn goes the short
    way, as in KML; in GeoJSON it would go the long way round, which nobody means. A position that stands twice in a
    row counts once, and that is said.
    """
    bench = _Bench(repair, short_way)
    rounded = [[_rounded(ring) for ring in rings] for rings in polygons]
    if not any(ring for rings in rounded for ring in rings):
        bench.problems.append(RingProblem("no-ground", "it has no positions"))
        return Ground(problems=tuple(bench.problems))
    if are_exchanged(vertex for rings in rounded for ring in rings for vertex in ring) and bench.found(
        "exchanged-axes",
        "its latitudes lie beyond 90°: longitude and latitude are exchanged",
        "longitude and latitude exchanged",
    ):
        rounded = [[[(y, x) for x, y in ring] for ring in rings] for rings in rounded]
    kept: list[tuple[Ring, ...]] = []
    for rings in rounded:
        if not bench.problems:
            kept += _polygon(bench, rings)
    if not kept and not bench.problems:
        bench.problems.append(RingProblem("no-area", "nothing with an area is left of it"))
    return Ground(() if bench.problems else tuple(kept), tuple(bench.problems), tuple(dict.fromkeys(bench.mended)))


def _rounded(ring: RawRing) -> list[Vertex]:
    return [(round(x * E7), round(y * E7)) for x, y in ring]


def are_exchanged(vertices: Iterable[Vertex]) -> bool:
    """Return whether second coordinates are no latitudes, while all would be right the other way round."""
    listed = list(vertices)
    return any(abs(y) > _POLE for _, y in listed) and all(abs(x) <= _POLE and abs(y) <= _HALF_TURN for x, y in listed)


def _polygon(bench: _Bench, rings: Sequence[list[Vertex]]) -> list[tuple[Ring, ...]]:
    exterior = _ring(bench, rings[0], "its ring") if rings else None
    if exterior is None:
        return []
    polygons = _simple(bench, exterior)
    for number, raw in enumerate(rings[1:], 1):
        which = f"its hole {number}" if len(rings) > 2 else "its hole"
        hole = _ring(bench, raw, which)
        if hole is not None:
            _add_hole(bench, polygons, hole, which)
    return [tuple(polygon) for polygon in polygons]


def _ring(bench: _Bench, raw: list[Vertex], which: str) -> Ring | None:
    """Return a ring closed, without repeats, its longitudes running on; None where it cannot be used."""
    if len(raw) > MOST_VERTICES:
        bench.problems.append(
            RingProblem("too-many-points", f"{which} has {len(raw):,} points; up to {MOST_VERTICES:,} are read")
        )
        return None
    if any(abs(y) > _POLE for _, y in raw) or any(abs(x) >= 2 * _TURN for x, _ in raw):
        bad = next((x, y) for x, y in raw if abs(y) > _POLE or abs(x) >= 2 * _TURN)
        bench.problems.append(RingProblem("bad-position", f"{which} has a position off the earth, {_at(bad)}"))
        return None
    once = [vertex for n, vertex in enumerate(raw) if n == 0 or vertex != raw[n - 1]]
    if len(once) < len(raw):
        bench.mended.append(f"{len(raw) - len(once)} position(s) that stood twice in a row were taken once")
    closed = _closed(bench, once, which)
    if closed is None:
        return None
    return _run_on(bench, closed, which)


def _closed(bench: _Bench, ring: list[Vertex], which: str) -> list[Vertex] | None:
    if len(set(ring)) < 3:
        bench.problems.append(RingProblem("too-few-points", f"{which} has fewer than three places"))
        return None
    if ring[0] == ring[-1]:
        return ring
    if _is_one_meridian(ring[0], ring[-1]):
        return ring  # goes once round the earth, or is written over the antimeridian: looked at there
    apart = f"{which} is not closed: it begins at {_at(ring[0])} and ends at {_at(ring[-1])}"
    return [*ring, ring[0]] if bench.found("not-closed", apart, f"{which} was closed") else None


def _is_one_meridian(a: Vertex, b: Vertex) -> bool:
    return a[1] == b[1] and (a[0] - b[0]) % _TURN == 0


def _run_on(bench: _Bench, ring: list[Vertex], which: str) -> Ring | None:
    """Return the ring with longitudes that run on where it crosses the antimeridian, and closed where round a pole."""
    unrolled = [ring[0]]
    for (x, _), (next_x, next_y) in pairwise(ring):
        step = (next_x - x + _HALF_TURN) % _TURN - _HALF_TURN
        # Half a turn has no short way; an edge from −180 to 180 goes once along the whole map.
        is_plain = abs(next_x - x) in (_TURN, _HALF_TURN)
        unrolled.append((unrolled[-1][0] + (next_x - x if is_plain else step), next_y))
    goes_over = unrolled != ring or any(abs(x) > _HALF_TURN for x, _ in unrolled)
    turn = unrolled[-1][0] - unrolled[0][0]
    if abs(turn) == _TURN:
        if not bench.short_way and not bench.found(
            "round-a-pole", f"{which} goes once round the earth", f"{which} was closed along its pole"
        ):
            return None
        # Counter-clockwise from above with eastward longitudes encloses the north pole.
        pole = _POLE if turn > 0 else -_POLE
        return (*unrolled, (unrolled[-1][0], pole), (unrolled[0][0], pole), unrolled[0])
    if turn != 0:
        bench.problems.append(RingProblem("not-closed", f"{which} is not closed"))
        return None
    if not goes_over or bench.short_way:
        return tuple(unrolled)
    why = f"{which} crosses the antimeridian in one piece, where it is to be cut (RFC 7946, 3.1.9)"
    if not bench.found("crosses-antimeridian", why, f"{which} was cut at the antimeridian"):
        return None
    return tuple(unrolled)


def _simple(bench: _Bench, ring: Ring) -> list[list[Ring]]:
    """Return the ground of an exterior: itself where it is simple, else its mended parts."""
    try:
        met = first_meeting(ring)
        if met is None:
            return [[ring]]
        i, j = met
        where = _at(meeting_point(ring[i], ring[i + 1], ring[j], ring[j + 1]))
        loops = simple_loops(ring) if bench.repair or doubled_area(ring) == 0 else None
        if loops == []:
            bench.problems.append(RingProblem("no-area", "its ring encloses nothing"))
            return []
        parts = polygons_of(loops) if loops else None
    except TangledError:
        bench.problems.append(RingProblem("too-many-points", "its edges are too tangled to be looked at one by one"))
        return []
    told = None if not parts else f"its ring crossed or touched itself near {where} and was parted into {_parts(parts)}"
    why = f"its ring crosses or touches itself near {where}"
    if bench.repair and not parts:
        why += ", in a way that leaves open what is meant: draw it anew"
    return parts or [] if bench.found("crosses-itself", why, told) else []


def _parts(parts: list[list[Ring]]) -> str:
    holes = sum(len(part) - 1 for part in parts)
    return f"{len(parts)} polygon(s)" + (f" with {holes} hole(s)" if holes else "")


def _add_hole(bench: _Bench, polygons: list[list[Ring]], hole: Ring, which: str) -> None:
    larger = "was left out: the volume is larger than drawn"

    def drop(code: str, what: str) -> None:
        bench.found(code, f"{which} {what}", f"{which} {what} and {larger}")

    try:
        if first_meeting(hole) is not None:
            drop("crosses-itself", "crosses or touches itself")
            return
    except TangledError:
        drop("crosses-itself", "is too tangled to be looked at")
        return
    for turned in (0, _TURN, -_TURN):
        moved = tuple((x + turned, y) for x, y in hole)
        home = next((polygon for polygon in polygons if lies_in(moved, polygon[0])), None)
        if home is not None:
            home.append(moved)
            return
    if polygons:
        drop("hole-outside", "lies outside its ring, or reaches out of it")


def _at(vertex: Vertex) -> str:
    x, y = vertex
    return f"latitude {y / E7:.5f}, longitude {x / E7:.5f}"
