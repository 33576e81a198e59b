"""What lies under the course on a map: the graticule with its figures, and the catalogue's places, lightly."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from html import escape

from taskdb.core.model import E7, Landable, Position, Waypoint
from taskdb.core.notation import Axis, Notation, format_angle
from taskdb.report.boxes import Box
from taskdb.report.lettering import LEAST_LETTERS_MM, shown, text_width_mm
from taskdb.report.map_frame import Frame, thinned
from taskdb.report.palette import CATALOGUE_INK, GRATICULE_INK, SOFT_INK
from taskdb.report.placing import Room, place_small_label, segments
from taskdb.report.svg import Point, element, group, number, path_data
from taskdb.report.symbols import PLACE_REACH_MM, place_rank, place_symbols

_STEPS_MINUTES = (1, 2, 5, 10, 15, 20, 30, 60, 120, 300, 600, 1800)
_LEAST_SPACING_MM = 26.0
_SAMPLES = 16
_METRES_A_MINUTE = 1855.0
FIGURE_MM = PLACE_LETTERS_MM = LEAST_LETTERS_MM
_MOST_PLACES = 220
_MOST_NAMES = 60
_APART_MM = 2.6
_STEEPEST_LATITUDE_DEG = 88.0


def _step_minutes(mm_a_minute: float) -> int:
    return next((step for step in _STEPS_MINUTES if step * mm_a_minute >= _LEAST_SPACING_MM), _STEPS_MINUTES[-1])


def _multiples(low_deg: float, high_deg: float, step_minutes: int) -> range:
    return range(
        math.ceil(low_deg * 60 / step_minutes) * step_minutes,
        math.floor(high_deg * 60 / step_minutes) * step_minutes + 1,
        step_minutes,
    )


def degree_figure(minutes: int, axis: Axis) -> str:
    """Return a whole number of arc minutes as a figure at the frame: `48°40′N`, `011°00′E`."""
    return format_angle(round(minutes * E7 / 60), axis, Notation.MINUTES, 0)


def _crossing(line: Sequence[Point], axis: int, value: float) -> float | None:
    """Return where a line crosses the edge at `value` of one axis, as the other coordinate."""
    for start, end in segments(line):
        a, b = start[axis] - value, end[axis] - value
        if a * b <= 0 and a != b:
            other = 1 - axis
            return start[other] + (end[other] - start[other]) * a / (a - b)
    return None


def _seen(frame: Frame) -> tuple[float, float, float, float]:
    """Return latitudes and longitudes (south, north, west, east) that cover the frame; longitudes may pass ±180."""
    reach_deg = math.hypot(frame.width_mm, frame.height_mm) / frame.mm_per_m / 110_000.0
    centre = frame.projection.centre
    south = max(centre.latitude_deg - reach_deg, -_STEEPEST_LATITUDE_DEG)
    north = min(centre.latitude_deg + reach_deg, _STEEPEST_LATITUDE_DEG)
    widest = math.cos(math.radians(max(abs(south), abs(north))))
    reach_east = min(reach_deg / widest, 175.0)
    return south, north, centre.longitude_deg - reach_east, centre.longitude_deg + reach_east


def _sampled(frame: Frame, low: float, high: float, place: Callable[[float], Position]) -> tuple[Point, ...]:
    return frame.line(place(low + (high - low) * n / _SAMPLES) for n in range(_SAMPLES + 1))


def graticule(frame: Frame) -> tuple[str, str]:
    """Return the lines of latitude and longitude (for inside the frame) and their figures (for around it)."""
    south, north, west, east = _seen(frame)
    mm_a_minute = _METRES_A_MINUTE * frame.mm_per_m
    lines, figures = [], []
    middle_latitude = frame.projection.centre.latitude_deg
    east_step = _step_minutes(mm_a_minute * max(math.cos(math.radians(middle_latitude)), 0.02))
    for minutes in _multiples(west, east, east_step):
        line = _sampled(frame, south, north, lambda at, m=minutes: Position(at, m / 60))  # type: ignore[misc]
        lines.append(line)
        x = _crossing(line, 1, frame.height_mm)
        if x is not None and 5 <= x <= frame.width_mm - 5:
            wrapped = (minutes + 10_800) % 21_600 - 10_800
            text = degree_figure(wrapped, Axis.LONGITUDE)
            figures.append(_figure(text, x=x, y=frame.height_mm + FIGURE_MM + 0.8))
    for minutes in _multiples(south, north, _step_minutes(mm_a_minute)):
        line = _sampled(frame, west, east, lambda at, m=minutes: Position(m / 60, at))  # type: ignore[misc]
        lines.append(line)
        y = _crossing(line, 0, 0.0)
        if y is not None and 5 <= y <= frame.height_mm - 5:
            turned = f"translate(-1,{number(y)}) rotate(-90)"
            figures.append(_figure(degree_figure(minutes, Axis.LATITUDE), transform=turned))
    drawn = (element("path", d=path_data(thinned(line))) for line in lines if _is_seen(frame, line))
    return (
        group(drawn, fill="none", stroke=GRATICULE_INK, stroke_width=0.15),
        group(figures, fill=SOFT_INK, font_size=FIGURE_MM, text_anchor="middle"),
    )


def _figure(text: str, **attributes: str | float) -> str:
    return element("text", escape(text, quote=False), **attributes)


def _is_seen(frame: Frame, line: Sequence[Point]) -> bool:
    """Say whether a line may touch the frame: not where it lies wholly beyond one edge."""
    for axis, far in ((0, frame.width_mm), (1, frame.height_mm)):
        values = [point[axis] for point in line]
        if max(values) < 0 or min(values) > far:
            return False
    return True


def places_in(
    frame: Frame, catalogue: Sequence[Waypoint], left_out: frozenset[Position], room: Room
) -> list[tuple[Waypoint, Point]]:
    """Return the places to draw with where they lie: in the frame, clear of texts, thinned, the landable ones first."""
    south, north, west, east = _seen(frame)
    middle, half = (west + east) / 2, (east - west) / 2
    ranks: dict[int, list[Waypoint]] = {}
    for waypoint in catalogue:
        ranks.setdefault(place_rank(waypoint), []).append(waypoint)
    chosen: list[tuple[Waypoint, Point]] = []
    # By cells as wide as the least distance: what is too near lies in one of nine.
    cells: dict[tuple[int, int], list[Point]] = {}
    # Rank by rank: where the first fill a map, the many of the last are not looked at.
    for waypoint in (one for rank in sorted(ranks) for one in sorted(ranks[rank], key=lambda w: (w.code, w.name))):
        position = waypoint.position
        if not south <= position.latitude_deg <= north or position in left_out:
            continue
        if abs((position.longitude_deg - middle + 180) % 360 - 180) > half:
            continue
        at = frame.paper(position)
        if not frame.holds(at, 1.2):
            continue
        column, row = int(at[0] / _APART_MM), int(at[1] / _APART_MM)
        around = [cells.get((column + i, row + j), ()) for i in (-1, 0, 1) for j in (-1, 0, 1)]
        if any(math.dist(at, other) < _APART_MM for cell in around for other in cell):
            continue
        if room.is_clear(Box(*at, PLACE_REACH_MM, PLACE_REACH_MM)):
            chosen.append((waypoint, at))
            cells.setdefault((column, row), []).append(at)
            if len(chosen) == _MOST_PLACES:
                break
    return chosen


def draw_places(room: Room, places: Sequence[tuple[Waypoint, Point]]) -> str:
    """Return the places as light symbols, with their names where there is room left."""
    kinds: dict[tuple[int, Landable | None], list[Point]] = {}
    names: list[str] = []
    room.take(*(Box(x, y, PLACE_REACH_MM, PLACE_REACH_MM) for _, (x, y) in places))
    for waypoint, at in places:
        kinds.setdefault((place_rank(waypoint), symbol_kind(waypoint.landable)), []).append(at)
        if len(names) == _MOST_NAMES:
            continue
        text = shown(waypoint.name, 22)
        width = text_width_mm(text, PLACE_LETTERS_MM)
        placed = place_small_label(room, at, width + 0.4, PLACE_LETTERS_MM * 1.1, PLACE_REACH_MM)
        if placed is not None:
            x, y = placed.box.x, placed.box.y + PLACE_LETTERS_MM * 0.35
            names.append(_figure(text, x=round(x, 1), y=round(y, 1)))
    marks = (place_symbols(kind, kinds[rank, kind]) for rank, kind in sorted(kinds, key=lambda one: one[0]))
    return group(marks) + group(names, fill=CATALOGUE_INK, font_size=PLACE_LETTERS_MM, text_anchor="middle")


def symbol_kind(landable: Landable | None) -> Landable | None:
    """Return the symbol's kind: emergency fields are drawn as fields, what is not landable as other places."""
    if landable is Landable.EMERGENCY:
        return Landable.FIELD
    return landable if landable in (Landable.AERODROME, Landable.FIELD) else None
