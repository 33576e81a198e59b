"""The frame of a map: which piece of the plane is shown on which piece of paper, at one scale for both axes.

Paper coordinates are millimetres from the upper left corner of the frame, y downwards.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from taskdb.core.model import Position
from taskdb.core.projection import Projection, centre_of
from taskdb.report.svg import Point

LEAST_SPAN_M = 4_000.0
"""A course without extent is shown with this much land about it."""
_HAIR_MM = 0.015
"""So far a line may pass beside its true place on paper: a twentieth of an outline's own width."""


@dataclass(frozen=True, slots=True)
class Frame:
    """A piece of the plane about (`middle_x_m`, `middle_y_m`), drawn `mm_per_m` on a paper of the given size."""

    projection: Projection
    width_mm: float
    height_mm: float
    mm_per_m: float
    middle_x_m: float
    middle_y_m: float

    @property
    def scale_denominator(self) -> float:
        """What one unit on paper stands for on the ground, at the centre of the projection."""
        return 1000.0 / self.mm_per_m

    def paper(self, position: Position) -> Point:
        """Return where a position lies on paper, inside the frame or not."""
        x_m, y_m = self.projection.project(position)
        return (
            self.width_mm / 2 + (x_m - self.middle_x_m) * self.mm_per_m,
            self.height_mm / 2 - (y_m - self.middle_y_m) * self.mm_per_m,
        )

    def line(self, positions: Iterable[Position]) -> tuple[Point, ...]:
        return tuple(self.paper(position) for position in positions)

    def holds(self, point: Point, margin_mm: float = 0.0) -> bool:
        """Say whether a point on paper lies in the frame, `margin_mm` inside its edge."""
        x, y = point
        return margin_mm <= x <= self.width_mm - margin_mm and margin_mm <= y <= self.height_mm - margin_mm


def fit_frame(
    positions: Sequence[Position],
    width_mm: float,
    height_mm: float,
    *,
    pad_mm: tuple[float, float],
    least_span_m: float = LEAST_SPAN_M,
) -> Frame:
    """Return the frame in which all positions are seen with `pad_mm` (beside, above and below) of paper about them.

    No less than `least_span_m` of land is shown either way.
    """
    projection = Projection(centre_of(positions))
    flat = [projection.project(position) for position in positions] or [(0.0, 0.0)]
    xs, ys = [x for x, _ in flat], [y for _, y in flat]
    span_x, span_y = max(max(xs) - min(xs), least_span_m), max(max(ys) - min(ys), least_span_m)
    mm_per_m = min((width_mm - 2 * pad_mm[0]) / span_x, (height_mm - 2 * pad_mm[1]) / span_y)
    return Frame(projection, width_mm, height_mm, mm_per_m, (max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2)


def thinned(line: Sequence[Point]) -> tuple[Point, ...]:
    """Return a line without the vertices that lie between those kept, within a hair of paper; both ends stay.

    In a picture of 16 mm a circle needs a third of its vertices; corners stay.
    """
    kept, passed = [*line[:1]], []
    for at, following in pairwise(line[1:] and (*line[1:], line[-1])):
        passed.append(at)
        if following is at or any(_off_line_mm(one, kept[-1], following) > _HAIR_MM for one in passed):
            kept.append(at)
            passed = []
    return tuple(kept)


def _off_line_mm(point: Point, start: Point, end: Point) -> float:
    """Return how far a point lies off the line from one to another."""
    x, y = end[0] - start[0], end[1] - start[1]
    square = x * x + y * y
    if square == 0.0:
        return math.dist(point, start)
    share = min(1.0, max(0.0, ((point[0] - start[0]) * x + (point[1] - start[1]) * y) / square))
    return math.hypot(point[0] - start[0] - share * x, point[1] - start[1] - share * y)
