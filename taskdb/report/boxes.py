"""Boxes of text on a map and what they touch: turned rectangles, against each other and against lines.

Plain plane geometry in millimetres on paper, y downwards. Touching within a hair counts as apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from taskdb.report.svg import Point

_HAIR_MM = 1e-9


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle about (x, y), turned clockwise on paper by `angle_deg`."""

    x: float
    y: float
    width: float
    height: float
    angle_deg: float = 0.0
    corners: tuple[Point, ...] = field(init=False, compare=False)
    bounds: tuple[float, float, float, float] = field(init=False, compare=False)

    def __post_init__(self) -> None:
        half_w, half_h = self.width / 2, self.height / 2
        corners: tuple[Point, ...]
        if self.angle_deg:
            angle = math.radians(self.angle_deg)
            cos, sin = math.cos(angle), math.sin(angle)
            corners = tuple(
                (self.x + dx * cos - dy * sin, self.y + dx * sin + dy * cos)
                for dx, dy in ((-half_w, -half_h), (half_w, -half_h), (half_w, half_h), (-half_w, half_h))
            )
            xs, ys = [x for x, _ in corners], [y for _, y in corners]
            bounds = (min(xs), min(ys), max(xs), max(ys))
        else:
            # Nearly all boxes, a hundred thousand for a publication.
            left, top, right, bottom = bounds = (self.x - half_w, self.y - half_h, self.x + half_w, self.y + half_h)
            corners = ((left, top), (right, top), (right, bottom), (left, bottom))
        object.__setattr__(self, "corners", corners)
        object.__setattr__(self, "bounds", bounds)

    def is_within(self, width: float, height: float, margin: float = 0.0) -> bool:
        """Say whether the whole box lies in the frame 0, 0 to width, height, `margin` inside its edge."""
        left, top, right, bottom = self.bounds
        return left >= margin and top >= margin and right <= width - margin and bottom <= height - margin


def _apart(one: Box, other: Box) -> bool:
    for box in (one, other):
        (ax, ay), (bx, by), _, (dx, dy) = box.corners
        for nx, ny in ((bx - ax, by - ay), (dx - ax, dy - ay)):
            ones = [x * nx + y * ny for x, y in one.corners]
            others = [x * nx + y * ny for x, y in other.corners]
            slack = _HAIR_MM * math.hypot(nx, ny)
            if max(ones) <= min(others) + slack or max(others) <= min(ones) + slack:
                return True
    return False


def overlap(one: Box, other: Box) -> bool:
    """Say whether two boxes have area in common (their bounds, then separating axes where one is turned)."""
    a, b = one.bounds, other.bounds
    hair = _HAIR_MM
    if a[2] <= b[0] + hair or b[2] <= a[0] + hair or a[3] <= b[1] + hair or b[3] <= a[1] + hair:
        return False
    return not (one.angle_deg or other.angle_deg) or not _apart(one, other)


def crosses(box: Box, start: Point, end: Point) -> bool:
    """Say whether the segment from `start` to `end` runs through the box or lies in it."""
    left, top, right, bottom = box.bounds
    if max(start[0], end[0]) <= left or min(start[0], end[0]) >= right:
        return False
    if max(start[1], end[1]) <= top or min(start[1], end[1]) >= bottom:
        return False
    angle = math.radians(box.angle_deg)
    cos, sin = math.cos(angle), math.sin(angle)
    dx, dy = start[0] - box.x, start[1] - box.y
    ex, ey = end[0] - start[0], end[1] - start[1]
    # In the box's own axes the test is a clip of the segment's parameter by two slabs.
    low, high = 0.0, 1.0
    for offset, run, half in (
        (dx * cos + dy * sin, ex * cos + ey * sin, box.width / 2 - _HAIR_MM),
        (dy * cos - dx * sin, ey * cos - ex * sin, box.height / 2 - _HAIR_MM),
    ):
        if abs(run) < 1e-12:
            if abs(offset) >= half:
                return False
            continue
        first, second = sorted(((-half - offset) / run, (half - offset) / run))
        low, high = max(low, first), min(high, second)
        if low >= high:
            return False
    return True
