"""Finding room for texts on a map: labels of points, of legs, and of places of the catalogue.

A label never lies on the course, on a symbol, on another label or over the frame's edge; outlines of zones are
avoided where that costs little. A label without room is left out: every text stands in the sheet's tables too.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise, product

from taskdb.report.boxes import Box, crosses, overlap
from taskdb.report.svg import Point

Segment = tuple[Point, Point]

_RINGS_MM = (1.9, 2.8, 4.2, 6.5, 9.5, 13.0, 17.0)
_TURNS_DEG = tuple(range(0, 360, 15))
_LEADER_FROM_MM = 4.0
_OUTLINE_COST = 1.2
_SHARES = (0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.2, 0.8)
_GRID_MM = 3.0
_CELL_MM = 6.0
_LEG_GAP_MM = 1.02
"""Clear of an arrow on the leg, which reaches 1 mm to either side."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A text's place: its box, and the leader from the point to the box where they lie apart."""

    box: Box
    leader: Segment | None = None


@dataclass(slots=True)
class Room:
    """What of a frame is taken: lines that no text may lie on, boxes, and outlines that texts had better avoid."""

    width_mm: float
    height_mm: float
    lines: list[Segment] = field(default_factory=list)
    outlines: list[Segment] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list, init=False)
    _cells: dict[tuple[int, int], list[Box]] = field(default_factory=dict, init=False)

    def take(self, *boxes: Box) -> None:
        """Let nothing else lie where these boxes are."""
        self.boxes += boxes
        for box in boxes:
            for cell in _cells_of(box):
                self._cells.setdefault(cell, []).append(box)

    def is_free(self, box: Box) -> bool:
        """Say whether a text may lie here."""
        if not box.is_within(self.width_mm, self.height_mm, 0.4):
            return False
        if not self.is_clear(box):
            return False
        return not any(crosses(box, start, end) for start, end in self.lines)

    def is_clear(self, box: Box) -> bool:
        """Say whether no other box is touched; asked seventy thousand times for a publication, so bounds go first."""
        left, top, right, bottom = box.bounds
        for cell in _cells_of(box):
            for taken in self._cells.get(cell, ()):
                a, b, c, d = taken.bounds
                if a < right and c > left and b < bottom and d > top and overlap(box, taken):
                    return False
        return True

    def cost(self, box: Box) -> float:
        """Return what a place costs: a little for every outline piece that runs through it, bounded."""
        left, top, right, bottom = box.bounds
        hits = 0
        for start, end in self.outlines:
            (ax, ay), (bx, by) = start, end
            if (ax < left and bx < left) or (ax > right and bx > right):
                continue
            if (ay < top and by < top) or (ay > bottom and by > bottom):
                continue
            if crosses(box, start, end):
                hits += 1
                if hits == 3:
                    break
        return hits * _OUTLINE_COST


def _cells_of(box: Box) -> Iterable[tuple[int, int]]:
    """Return the cells that a box reaches into: what touches it reaches into one of them too."""
    left, top, right, bottom = (int(edge // _CELL_MM) for edge in box.bounds)
    return product(range(left, right + 1), range(top, bottom + 1))


def segments(points: Sequence[Point]) -> list[Segment]:
    """Return the pieces of a line."""
    return list(pairwise(points))


def _nearest_on(box: Box, point: Point) -> Point:
    left, top, right, bottom = box.bounds
    return min(max(point[0], left), right), min(max(point[1], top), bottom)


def _leader(box: Box, point: Point) -> Segment | None:
    near = _nearest_on(box, point)
    return (point, near) if math.dist(point, near) > _LEADER_FROM_MM else None


def _around(point: Point, width: float, height: float) -> Iterable[tuple[float, float, float]]:
    """Yield places about a point for the middle of a box, each after what it costs at least."""
    for ring in _RINGS_MM:
        for turn in _TURNS_DEG:
            cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
            x, y = point[0] + cos * (ring + width / 2), point[1] + sin * (ring + height / 2)
            # To the right reads best, then to the left, above and below.
            yield 0.55 * ring + 0.6 * abs(sin) + (0.3 if cos < 0 else 0.0), x, y


def place_point_label(room: Room, point: Point, width: float, height: float) -> Placed | None:
    """Take the best free place about a point, or the nearest free one in the frame; None where there is none."""
    best: tuple[float, Placed] | None = None
    for base, x, y in _around(point, width, height):
        if best is not None and base >= best[0]:
            continue
        box = Box(x, y, width, height)
        if not room.is_free(box):
            continue
        leader = _leader(box, point)
        if leader is not None and any(crosses(taken, *leader) for taken in room.boxes if not _covers(taken, point)):
            continue
        cost = base + room.cost(box)
        if best is None or cost < best[0]:
            best = cost, Placed(box, leader)
    placed = best[1] if best is not None else _anywhere(room, point, width, height)
    if placed is not None:
        room.take(placed.box)
    return placed


def _covers(box: Box, point: Point) -> bool:
    left, top, right, bottom = box.bounds
    return left <= point[0] <= right and top <= point[1] <= bottom


def _anywhere(room: Room, point: Point, width: float, height: float) -> Placed | None:
    columns, rows = int(room.width_mm / _GRID_MM), int(room.height_mm / _GRID_MM)
    boxes = [Box(x * _GRID_MM, y * _GRID_MM, width, height) for x in range(1, columns) for y in range(1, rows)]
    boxes.sort(key=lambda box: (math.dist(point, _nearest_on(box, point)), box.y, box.x))
    for box in boxes:
        if room.is_free(box):
            return Placed(box, _leader(box, point))
    return None


def place_leg_label(room: Room, line: Sequence[Point], width: float, height: float) -> Placed | None:
    """Take a place along a line, turned with it and never upside down; None where none is free."""
    lengths = [math.dist(start, end) for start, end in segments(line)]
    total = sum(lengths)
    if total < 1e-6:
        return None
    best: tuple[float, Placed] | None = None
    for order, share in enumerate(_SHARES):
        at, angle = _along(line, lengths, share * total)
        upright = (angle + 90.0) % 180.0 - 90.0
        for side in (-1, 1):
            away = math.radians(upright + 90 * side)
            reach = height / 2 + _LEG_GAP_MM
            box = Box(at[0] + reach * math.cos(away), at[1] + reach * math.sin(away), width, height, upright)
            base = 0.25 * order + (0.1 if side == 1 else 0.0)
            if (best is not None and base >= best[0]) or not room.is_free(box):
                continue
            cost = base + room.cost(box)
            if best is None or cost < best[0]:
                best = cost, Placed(box)
    if best is None:
        return None
    room.take(best[1].box)
    return best[1]


def _along(line: Sequence[Point], lengths: Sequence[float], way: float) -> tuple[Point, float]:
    """Return the point after `way` millimetres along a line and the line's direction there (clockwise from east)."""
    for (start, end), length in zip(segments(line), lengths, strict=True):
        if way <= length and length > 0:
            share = way / length
            point = (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share)
            return point, math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
        way -= length
    start, end = line[-2], line[-1]
    return end, math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))


def along(line: Sequence[Point], share: float) -> tuple[Point, float]:
    """Return the point at a share 0…1 of a line's length, and its direction there in degrees clockwise from east."""
    lengths = [math.dist(start, end) for start, end in segments(line)]
    return _along(line, lengths, share * sum(lengths))


def place_small_label(room: Room, point: Point, width: float, height: float, gap: float) -> Placed | None:
    """Take a place beside a symbol of the catalogue: right, left, below or above; None where all are taken."""
    x, y = point
    for dx, dy in ((gap + width / 2, 0.0), (-gap - width / 2, 0.0), (0.0, gap + height / 2), (0.0, -gap - height / 2)):
        box = Box(x + dx, y + dy, width, height)
        if room.is_free(box) and room.cost(box) == 0.0:
            room.take(box)
            return Placed(box)
    return None
