"""Airspace on a map: outlines near the course, each with its name, kind, floor and ceiling where there is room.

The kind is carried by dashes and by ticks on the inner side, as charts have them, so that a grey copy still tells it.
Under everything else but the paper; what cannot be labelled stands in the sheet's list. Nothing is computed here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

from taskdb.core.airspace.volume import Kind, Ring, Volume
from taskdb.core.model import E7, Position
from taskdb.report.boxes import Box
from taskdb.report.lettering import HALO, LEAST_LETTERS_MM, shown, text_width_mm
from taskdb.report.map_frame import Frame, thinned
from taskdb.report.palette import AIRSPACE_INK, REDDISH_PURPLE
from taskdb.report.placing import Room, Segment, segments
from taskdb.report.svg import Point, element, group, number, path_data

LETTERS_MM = LEAST_LETTERS_MM
_MARGIN_MM = 6.0
_TICK_MM, _LINE_GAP_MM = 0.9, 1.12
_LONGEST_EDGE_E7 = E7 // 10
_FURTHEST_DEG = 12.0
_NAME_LIMIT = 24
_GRID = 9
_GAPS_MM = (0.7, 2.0, 4.0, 7.0)


@dataclass(frozen=True, slots=True)
class KindStyle:
    """How a kind is drawn: `dash` in millimetres on paper (empty: solid), how far apart its ticks stand (0: none)."""

    dash: str
    width_mm: float
    ticks_mm: float


STYLES: Mapping[Kind, KindStyle] = {
    Kind.PROHIBITED: KindStyle("", 0.55, 1.1),
    Kind.RESTRICTED: KindStyle("", 0.4, 2.2),
    Kind.DANGER: KindStyle("2.2 0.8", 0.4, 3.0),
    Kind.CONTROLLED: KindStyle("4 1.2", 0.4, 0.0),
    Kind.KEEP_OUT: KindStyle("1.2 0.5", 0.7, 1.7),
    Kind.OTHER: KindStyle("0.5 0.9", 0.4, 0.0),
}


@dataclass(frozen=True, slots=True)
class VolumeDrawing:
    """A volume on paper: the pieces of its rings in and about the frame, millimetres."""

    volume: Volume
    rings: tuple[tuple[Point, ...], ...]


def draw_airspace(frame: Frame, room: Room, volumes: Sequence[Volume]) -> str:
    """Return the volumes that reach into the frame, as markup to lie under the course; takes room for their labels."""
    drawn = [one for one in (_on(frame, volume) for volume in volumes) if one.rings]
    room.outlines += [piece for one in drawn for ring in one.rings for piece in segments(ring)]
    # The small ones first: a large one has room elsewhere.
    ordered = sorted(drawn, key=lambda one: (_size(one.rings), one.volume.name))
    labels = [label for one in ordered if (label := _label(frame, room, one, drawn))]
    lettered = (
        f'<g fill="{AIRSPACE_INK}" font-size="{number(LETTERS_MM)}" font-style="italic" text-anchor="middle" {HALO}>'
    )
    return group(map(_outline, drawn)) + (f"{lettered}{''.join(labels)}</g>" if labels else "")


def sample(kind: Kind) -> str:
    """Return a short piece of a kind's outline as an `<svg>` element, for lists beside the map."""
    line = ((0.4, 1.9), (7.6, 1.9))
    inner = _line(STYLES[kind], (line,)) + _ticks(STYLES[kind], line)
    return f'<svg width="8mm" height="2.6mm" viewBox="0 0 8 2.6" aria-hidden="true">{inner}</svg>'


def _on(frame: Frame, volume: Volume) -> VolumeDrawing:
    centre = frame.projection.centre
    rings = []
    for polygon in volume.polygons:
        for ring in polygon:
            turned = _turned(ring, centre)
            if turned is not None:
                clipped = _clipped(frame.line(turned), frame)
                rings += [clipped] if len(clipped) > 2 else []
    return VolumeDrawing(volume, tuple(rings))


def _turned(ring: Ring, centre: Position) -> list[Position] | None:
    """Return a ring as positions with its long edges parted, since they are straight in longitude and latitude.

    None for one that lies wholly beyond what a map shows.
    """
    if all(_is_far(x, y, centre) for x, y in ring) and not _spans(ring, centre):
        return None
    places = []
    for (ax, ay), (bx, by) in pairwise(ring):
        steps = max(1, math.ceil(max(abs(bx - ax), abs(by - ay)) / _LONGEST_EDGE_E7))
        steps = min(steps, 400)
        places += [Position((ay + (by - ay) * n / steps) / E7, (ax + (bx - ax) * n / steps) / E7) for n in range(steps)]
    return [*places, places[0]]


def _is_far(x: int, y: int, centre: Position) -> bool:
    apart = abs((x / E7 - centre.longitude_deg + 180) % 360 - 180) * math.cos(math.radians(centre.latitude_deg))
    return apart > _FURTHEST_DEG or abs(y / E7 - centre.latitude_deg) > _FURTHEST_DEG


def _spans(ring: Ring, centre: Position) -> bool:
    xs, ys = [x / E7 for x, _ in ring], [y / E7 for _, y in ring]
    return min(xs) <= centre.longitude_deg <= max(xs) and min(ys) <= centre.latitude_deg <= max(ys)


def _clipped(ring: Sequence[Point], frame: Frame) -> tuple[Point, ...]:
    """Return a ring cut to the frame with a margin, where its new edges are not seen (Sutherland and Hodgman, 1974)."""
    bounds = (
        (0, -_MARGIN_MM, 1),
        (0, frame.width_mm + _MARGIN_MM, -1),
        (1, -_MARGIN_MM, 1),
        (1, frame.height_mm + _MARGIN_MM, -1),
    )
    points = list(ring)
    for axis, border, sense in bounds:
        kept: list[Point] = []
        for a, b in pairwise([*points, *points[:1]]):
            a_in, b_in = (a[axis] - border) * sense >= 0, (b[axis] - border) * sense >= 0
            if a_in != b_in:
                part = (border - a[axis]) / (b[axis] - a[axis])
                kept.append((a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part))
            if b_in:
                kept.append(b)
        points = kept
        if not points:
            return ()
    apart = [point for n, point in enumerate(points) if n == 0 or math.dist(point, points[n - 1]) > 0.02]
    return (*apart, apart[0])


def _outline(drawing: VolumeDrawing) -> str:
    style = STYLES[drawing.volume.kind]
    line = _line(style, drawing.rings, fill=REDDISH_PURPLE, fill_opacity="0.06", fill_rule="evenodd")
    return line + "".join(_ticks(style, ring) for ring in drawing.rings)


def _line(style: KindStyle, lines: Iterable[Sequence[Point]], **filling: str) -> str:
    return element(
        "path",
        d="".join(path_data(thinned(line)) for line in lines),
        stroke=REDDISH_PURPLE,
        stroke_width=style.width_mm,
        stroke_dasharray=style.dash or None,
        **(filling or {"fill": "none"}),
    )


def _ticks(style: KindStyle, line: Sequence[Point]) -> str:
    """Return ticks along a ring on its inner side: left of it on the ground, since exteriors run counter-clockwise."""
    if not style.ticks_mm:
        return ""
    marks, left = [], style.ticks_mm / 2
    for (ax, ay), (bx, by) in pairwise(line):
        length = math.hypot(bx - ax, by - ay)
        while left < length:
            x, y = ax + (bx - ax) * left / length, ay + (by - ay) * left / length
            inward = (x + (by - ay) / length * _TICK_MM, y - (bx - ax) / length * _TICK_MM)
            marks.append(path_data([(x, y), inward]))
            left += style.ticks_mm
        left -= length
    return element("path", d="".join(marks), fill="none", stroke=REDDISH_PURPLE, stroke_width=0.25) if marks else ""


def limits_words(volume: Volume) -> str:
    """Return the limits for people: `GND – FL095`."""
    return f"{volume.floor.text} – {volume.ceiling.text}"


def _label(frame: Frame, room: Room, drawing: VolumeDrawing, others: Sequence[VolumeDrawing]) -> str:
    volume = drawing.volume
    name, kind = shown(volume.name, _NAME_LIMIT), volume.kind.value
    ways = ((name, f"{kind} {limits_words(volume)}"), (name, limits_words(volume)), (f"{name} {limits_words(volume)}",))
    for lines in ways:
        width, height = _measured(lines)
        box = _free_box(frame, room, drawing.rings, width, height)
        if box is not None:
            room.take(box)
            return _text(lines, box)
    return _label_beside(room, drawing, others, ways[1])


def _measured(lines: Sequence[str]) -> tuple[float, float]:
    width = max(text_width_mm(line, LETTERS_MM) for line in lines) + 0.6
    return width, LETTERS_MM * _LINE_GAP_MM * len(lines) + 0.2


def _label_beside(room: Room, drawing: VolumeDrawing, others: Sequence[VolumeDrawing], lines: Sequence[str]) -> str:
    """Return a label beside a volume in which none has room, with a line to its edge.

    Never on another volume, which it would seem to name, nor across the course; nothing where no place is left.
    """
    points = [point for ring in drawing.rings for point in ring]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    middle = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
    strange = [one.rings for one in others if one is not drawing and not _holds(one.rings, middle)]
    best: tuple[float, Box, Segment] | None = None
    for base, box, edge in _beside(points, middle, *_measured(lines)):
        if (best is not None and base >= best[0]) or not room.is_free(box):
            continue
        if any(_holds(rings, spot) for rings in strange for spot in (*box.corners, (box.x, box.y))):
            continue
        left, top, right, bottom = box.bounds
        leader = (edge, (min(max(edge[0], left), right), min(max(edge[1], top), bottom)))
        if any(_cross(leader, line) for line in room.lines):
            continue
        cost = base + room.cost(box)
        if best is None or cost < best[0]:
            best = cost, box, leader
    if best is None:
        return ""
    room.take(best[1])
    leader_path = element("path", d=path_data(best[2]), stroke=AIRSPACE_INK, stroke_width=0.15, fill="none")
    return leader_path + _text(lines, best[1])


def _beside(points: Sequence[Point], middle: Point, width: float, height: float) -> Iterator[tuple[float, Box, Point]]:
    """Yield boxes about an outline in all directions, what each costs at least, and the outline's place next to it."""
    for gap in _GAPS_MM:
        for turn in range(0, 360, 15):
            dx, dy = math.cos(math.radians(turn)), math.sin(math.radians(turn))
            edge = max(points, key=lambda point: point[0] * dx + point[1] * dy)
            away = (edge[0] - middle[0]) * dx + (edge[1] - middle[1]) * dy
            away += gap + abs(dx) * width / 2 + abs(dy) * height / 2
            yield 0.5 * gap, Box(middle[0] + dx * away, middle[1] + dy * away, width, height), edge


def _cross(one: Segment, other: Segment) -> bool:
    def side(a: Point, b: Point, c: Point) -> float:
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    return side(*one, other[0]) * side(*one, other[1]) < 0 and side(*other, one[0]) * side(*other, one[1]) < 0


def _free_box(frame: Frame, room: Room, rings: Sequence[Sequence[Point]], width: float, height: float) -> Box | None:
    """Return the box within the volume that is free and costs least, the nearest to its middle first."""
    xs = [min(max(x, 0.0), frame.width_mm) for ring in rings for x, _ in ring]
    ys = [min(max(y, 0.0), frame.height_mm) for ring in rings for _, y in ring]
    left, right, top, bottom = min(xs), max(xs), min(ys), max(ys)
    middle = ((left + right) / 2, (top + bottom) / 2)
    spots = [
        (left + (right - left) * i / (_GRID + 1), top + (bottom - top) * j / (_GRID + 1))
        for i in range(1, _GRID + 1)
        for j in range(1, _GRID + 1)
    ]
    best: tuple[float, Box] | None = None
    for spot in sorted(spots, key=lambda spot: (math.dist(spot, middle), spot)):
        box = Box(*spot, width, height)
        if not all(_holds(rings, corner) for corner in (*box.corners, spot)) or not room.is_free(box):
            continue
        cost = room.cost(box)
        if best is None or cost < best[0]:
            best = cost, box
            if cost == 0:
                break
    return best[1] if best is not None else None


def _holds(rings: Sequence[Sequence[Point]], point: Point) -> bool:
    x, y = point
    inside = False
    for ring in rings:
        for a, b in pairwise(ring):
            if (a[1] > y) != (b[1] > y) and x < a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]):
                inside = not inside
    return inside


def _text(lines: Sequence[str], box: Box) -> str:
    step = LETTERS_MM * _LINE_GAP_MM
    first = box.y - step * (len(lines) - 1) / 2 + LETTERS_MM * 0.36
    spans = "".join(
        f'<tspan x="{number(box.x)}" y="{number(first + n * step)}">{escape(line, quote=False)}</tspan>'
        for n, line in enumerate(lines)
    )
    return f"<text>{spans}</text>"


def _size(rings: Sequence[Sequence[Point]]) -> float:
    return sum(abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring))) for ring in rings)
