"""How near two legs come to each other, anywhere or at one time: true on WGS84, with no case at the antimeridian.

A leg is flown along its geodesic at even speed, within a band of times. The search lays a plane round the place where
it is, solves there, and goes on from what it found until nothing moves: what is told is measured by geodesics.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from taskdb.core.geodesy import EQUATOR_RADIUS_M, destination_and_course, distance_m, inverse, turn_deg
from taskdb.core.model import Position

_ENOUGH_M = 0.001
_ROUNDS = 12
_GOLDEN = (math.sqrt(5) - 1) / 2
_ALONG_EACH_OTHER_DEG = 5.0
"""Below this angle a search can end where it began, metres worse than at the legs' other end: it begins at all."""
_EDGE_WITHIN_M = 1.0


@dataclass(frozen=True, slots=True)
class Band:
    """From when to when somebody is at the beginning and at the end of a leg, minutes after midnight; even between."""

    from_start: float
    to_start: float
    from_end: float
    to_end: float

    def at(self, share: float) -> tuple[float, float]:
        """Return the band at a share of the way."""
        return (
            self.from_start + share * (self.from_end - self.from_start),
            self.to_start + share * (self.to_end - self.to_start),
        )


@dataclass(frozen=True)
class FlownLeg:
    """A leg from `a` to `b`: its length, the true course where it leaves (of no meaning without a length), its times.

    `band` None: it is not known when it is flown.
    """

    a: Position
    b: Position
    length_m: float
    course_deg: float
    band: Band | None = None

    @staticmethod
    def between(a: Position, b: Position, band: Band | None = None) -> FlownLeg:
        """Return the leg of two places."""
        line = inverse(a, b)
        return FlownLeg(a, b, line.distance_m, line.bearing_deg or 0.0, band)

    def at(self, along_m: float) -> tuple[Position, float]:
        """Return a place on the leg, or on the geodesic that carries it, and the course there."""
        if self.length_m == 0.0 or along_m == 0.0:
            return self.a, self.course_deg
        return destination_and_course(self.a, self.course_deg, along_m)

    def times(self, along_m: float) -> tuple[float, float]:
        """Return from when to when somebody is there; always, where the times are not known."""
        if self.band is None:
            return -math.inf, math.inf
        if self.length_m == 0.0:
            return self.band.from_start, self.band.to_end
        return self.band.at(along_m / self.length_m)

    @cached_property
    def middle(self) -> Position:
        """The place half-way."""
        return self.at(self.length_m / 2)[0]

    def cut(self, from_m: float, to_m: float) -> FlownLeg:
        """Return the part of the leg between two places on it."""
        (a, course), (b, _) = self.at(from_m), self.at(to_m)
        band = None
        if self.band is not None:
            (first, last), (end_first, end_last) = self.times(from_m), self.times(to_m)
            band = Band(first, last, end_first, end_last)
        return FlownLeg(a, b, max(0.0, to_m - from_m), course, band)


@dataclass(frozen=True, slots=True)
class Approach:
    """Where two legs are nearest: how far along each, how far apart, and the angle between their courses, 0 to 180."""

    along_a_m: float
    along_b_m: float
    apart_m: float
    angle_deg: float


@dataclass(frozen=True, slots=True)
class _Plane:
    """Two straight legs as they look from a place on the first: where the second is, and both directions (radians)."""

    east_m: float
    north_m: float
    heading_a: float
    heading_b: float


def _plane(a: FlownLeg, b: FlownLeg, along_a: float, along_b: float) -> tuple[_Plane, float, float]:
    """Return the plane round a pair of places, how far these are apart, and the angle between the courses there."""
    (at_a, course_a), (at_b, course_b) = a.at(along_a), b.at(along_b)
    line = inverse(at_a, at_b)
    bearing, arrival = line.bearing_deg or 0.0, line.arrival_deg or 0.0
    # The second course as it is seen from the first place, carried along the geodesic between them.
    seen_b = course_b - turn_deg(bearing, arrival) if line.bearing_deg is not None else course_b
    angle = abs(turn_deg(course_a, seen_b))
    towards = math.radians(bearing)
    east, north = line.distance_m * math.sin(towards), line.distance_m * math.cos(towards)
    return _Plane(east, north, math.radians(course_a), math.radians(seen_b)), line.distance_m, angle


def closest(a: FlownLeg, b: FlownLeg, within_min: float = math.inf, no_further_m: float = math.inf) -> Approach | None:
    """Return where two legs are nearest among the pairs of places at which both can be within a time of each other.

    Both can be: some moment of one band there is no further than `within_min` minutes from some of the other's. Without
    known times of both, or with an infinite `within_min`, anywhere. None where there is no such pair of places, or
    where they are further apart than `no_further_m`.
    """
    is_timed = _is_timed(a, b, within_min)
    span = _span(a, b, within_min) if is_timed else (0.0, a.length_m)
    if span is None:
        return None
    # Where the nearest places of all are in time of each other, nothing in time is nearer; and nothing ever is.
    found = _nearest(a, b, math.inf, (0.0, a.length_m), no_further_m)
    if is_timed and found.apart_m <= no_further_m and not _are_in_time(a, b, found, within_min):
        found = _nearest(a, b, within_min, span, no_further_m)
    return found if found.apart_m <= no_further_m else None


def _nearest(a: FlownLeg, b: FlownLeg, within_min: float, span: tuple[float, float], no_further_m: float) -> Approach:
    """Return where two legs are nearest; not to the last metre where that is further than `no_further_m` anyhow."""
    first = _settle(a, b, within_min, span, sum(span) / 2, no_further_m)
    if (
        first.apart_m > no_further_m + _bent_m(a, b, first)
        or min(first.angle_deg, 180 - first.angle_deg) >= _ALONG_EACH_OTHER_DEG
    ):
        return first
    return min(
        (first, *(_settle(a, b, within_min, span, end, no_further_m) for end in span)),
        key=lambda one: (one.apart_m, one.along_a_m),
    )


def _are_in_time(a: FlownLeg, b: FlownLeg, found: Approach, within_min: float) -> bool:
    (first, last), (other_first, other_last) = a.times(found.along_a_m), b.times(found.along_b_m)
    return first - within_min <= other_last and other_first - within_min <= last


def _bent_m(a: FlownLeg, b: FlownLeg, found: Approach) -> float:
    """Return more than a plane over two legs can be wrong by: four times its size cubed, over the earth's radius²."""
    return 4 * (a.length_m + b.length_m + found.apart_m) ** 3 / EQUATOR_RADIUS_M**2


def _settle(
    a: FlownLeg, b: FlownLeg, within_min: float, span: tuple[float, float], start_m: float, no_further_m: float
) -> Approach:
    along_a = start_m
    along_b = _held(foot_m(b, a.at(along_a)[0]), _reach(a, b, along_a, within_min))
    plane, apart, angle = _plane(a, b, along_a, along_b)
    best = Approach(along_a, along_b, apart, angle)
    for _ in range(_ROUNDS):
        new_a, new_b = _solved(a, b, within_min, span, plane, along_a, along_b)
        moved = max(abs(new_a - along_a), abs(new_b - along_b))
        along_a, along_b = new_a, new_b
        plane, apart, angle = _plane(a, b, along_a, along_b)
        if apart < best.apart_m:
            best = Approach(along_a, along_b, apart, angle)
        if moved < _ENOUGH_M or apart > no_further_m + _bent_m(a, b, best):
            break
    return best


def _solved(
    a: FlownLeg,
    b: FlownLeg,
    within_min: float,
    span: tuple[float, float],
    plane: _Plane,
    along_a: float,
    along_b: float,
) -> tuple[float, float]:
    """Return the nearest allowed pair of places on the plane. The distance is convex over them, so one search does."""
    if not _is_timed(a, b, within_min):
        return _of_segments(plane, span, (0.0, b.length_m), along_a, along_b)
    east_a, north_a = math.sin(plane.heading_a), math.cos(plane.heading_a)
    east_b, north_b = math.sin(plane.heading_b), math.cos(plane.heading_b)

    def beside(s: float) -> tuple[float, float]:
        x, y = (s - along_a) * east_a - plane.east_m, (s - along_a) * north_a - plane.north_m
        u = _held(along_b + x * east_b + y * north_b, _reach(a, b, s, within_min))
        return math.hypot(x - (u - along_b) * east_b, y - (u - along_b) * north_b), u

    low, high = span
    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    off_left, off_right = beside(left)[0], beside(right)[0]
    while high - low > _ENOUGH_M / 4:
        if off_left <= off_right:
            high, right, off_right = right, left, off_left
            left = high - _GOLDEN * (high - low)
            off_left = beside(left)[0]
        else:
            low, left, off_left = left, right, off_right
            right = low + _GOLDEN * (high - low)
            off_right = beside(right)[0]
    found = min((span[0], (low + high) / 2, span[1]), key=lambda s: beside(s)[0])
    return found, beside(found)[1]


def _of_segments(
    plane: _Plane, span_a: tuple[float, float], span_b: tuple[float, float], along_a: float, along_b: float
) -> tuple[float, float]:
    """Return the nearest places of two straight parts, by the feet of each on the other, held at their ends."""
    turned = math.cos(plane.heading_b - plane.heading_a)
    ahead_a = plane.east_m * math.sin(plane.heading_a) + plane.north_m * math.cos(plane.heading_a)
    ahead_b = -plane.east_m * math.sin(plane.heading_b) - plane.north_m * math.cos(plane.heading_b)
    square = 1 - turned * turned
    # Where they run along each other, any place will do; what is beyond the other's end is put right below.
    s = (turned * ahead_b + ahead_a) / square if square > 1e-15 else 0.0
    s = _held(along_a + s, span_a) - along_a
    u = _held(along_b + ahead_b + turned * s, span_b) - along_b
    s = _held(along_a + ahead_a + turned * u, span_a) - along_a
    return along_a + s, _held(along_b + ahead_b + turned * s, span_b)


def _is_timed(a: FlownLeg, b: FlownLeg, within_min: float) -> bool:
    return a.band is not None and b.band is not None and not math.isinf(within_min)


def _held(value: float, span: tuple[float, float]) -> float:
    return min(max(value, span[0]), span[1])


def _when(start: float, end: float, length_m: float, bound: float, *, at_least: bool) -> tuple[float, float]:
    """Return the part of a leg on which a time that runs evenly from `start` to `end` is at least (at most) a bound.

    The first number is larger than the second where there is none. Times never run backwards along a leg.
    """
    if end <= start:
        is_so = start >= bound if at_least else start <= bound
        return (0.0, length_m) if is_so else (1.0, 0.0)
    where = (bound - start) / (end - start) * length_m
    if at_least:
        return (max(0.0, where), length_m) if where <= length_m else (1.0, 0.0)
    return (0.0, min(length_m, where)) if where >= 0.0 else (1.0, 0.0)


def _span(a: FlownLeg, b: FlownLeg, within_min: float) -> tuple[float, float] | None:
    """Return the part of the first leg from which some place of the second can be reached in time."""
    if a.band is None or b.band is None or math.isinf(within_min):
        return 0.0, a.length_m
    before = _when(a.band.from_start, a.band.from_end, a.length_m, b.band.to_end + within_min, at_least=False)
    after = _when(a.band.to_start, a.band.to_end, a.length_m, b.band.from_start - within_min, at_least=True)
    low, high = max(before[0], after[0]), min(before[1], after[1])
    return (low, high) if before[0] <= before[1] and after[0] <= after[1] and low <= high else None


def _reach(a: FlownLeg, b: FlownLeg, along_a: float, within_min: float) -> tuple[float, float]:
    """Return the part of the second leg at which somebody can be in time of who is at a place of the first."""
    if a.band is None or b.band is None or math.isinf(within_min):
        return 0.0, b.length_m
    first, last = a.times(along_a)
    after = _when(b.band.to_start, b.band.to_end, b.length_m, first - within_min, at_least=True)
    before = _when(b.band.from_start, b.band.from_end, b.length_m, last + within_min, at_least=False)
    low, high = max(before[0], after[0]), min(before[1], after[1])
    # Within the span there is such a part; rounding may leave a place of it.
    return (low, high) if low <= high else (_held((low + high) / 2, (0.0, b.length_m)),) * 2


def foot_m(leg: FlownLeg, place: Position) -> float:
    """Return how far along the geodesic that carries a leg the place next to another lies; 0 for a leg of no length."""
    if leg.length_m == 0.0:
        return 0.0
    along = leg.length_m / 2
    for _ in range(_ROUNDS):
        at, course = leg.at(along)
        line = inverse(at, place)
        step = 0.0 if line.bearing_deg is None else line.distance_m * math.cos(math.radians(line.bearing_deg - course))
        along += step
        if abs(step) < _ENOUGH_M:
            break
    return along


def side_by_side(a: FlownLeg, b: FlownLeg, apart_m: float) -> tuple[float, float] | None:
    """Return from where to where on the first leg the second lies beside it within a distance, to a metre.

    Beside: with a foot between its ends. For legs whose courses are along each other, the same way or the other. None
    where there is no such part.
    """
    part = _beside_ends(a, b)
    if part is None:
        return None
    nearest = closest(a.cut(*part), b, no_further_m=apart_m)
    if nearest is None:
        return None
    middle = part[0] + nearest.along_a_m

    def is_near(along: float) -> bool:
        place = a.at(along)[0]
        return inverse(place, b.at(foot_m(b, place))[0]).distance_m <= apart_m

    return _last(is_near, middle, part[0]), _last(is_near, middle, part[1])


def _beside_ends(a: FlownLeg, b: FlownLeg) -> tuple[float, float] | None:
    """Return the part of the first leg whose feet on the second lie between its ends."""
    if a.length_m == 0.0 or b.length_m == 0.0:
        return None
    # Seen from the second leg, its ends lie beside these places of the first.
    ends = []
    for along_b in (0.0, b.length_m):
        at, course = b.at(along_b)
        ends.append(_abeam(a, at, course))
    low, high = max(0.0, min(ends)), min(a.length_m, max(ends))
    return (low, high) if low < high else None


def _abeam(leg: FlownLeg, place: Position, course_deg: float) -> float:
    """Return how far along a leg's geodesic it passes abeam of a place, seen square to a course there."""
    along = foot_m(leg, place)
    for _ in range(_ROUNDS):
        at, course = leg.at(along)
        line = inverse(place, at)
        if line.bearing_deg is None or line.arrival_deg is None:
            return along
        ahead = line.distance_m * math.cos(math.radians(line.bearing_deg - course_deg))
        seen = course - turn_deg(line.bearing_deg, line.arrival_deg)
        pace = math.cos(math.radians(seen - course_deg))
        if abs(pace) < 0.1:
            return along
        along -= ahead / pace
        if abs(ahead) < _ENOUGH_M:
            break
    return along


def _last(holds: Callable[[float], bool], inside: float, outside: float) -> float:
    """Return the last place from the inner one towards the outer one at which something holds that ends but once."""
    if holds(outside):
        return outside
    while abs(outside - inside) > _EDGE_WITHIN_M:
        middle = (inside + outside) / 2
        inside, outside = (middle, outside) if holds(middle) else (inside, middle)
    return inside


def may_meet(a: FlownLeg, b: FlownLeg, apart_m: float) -> bool:
    """Say whether two legs can come so near at all, by their middles alone: quick, and never wrong with no."""
    return distance_m(a.middle, b.middle) <= (a.length_m + b.length_m) / 2 + apart_m
