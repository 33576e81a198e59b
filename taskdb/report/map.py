"""The map of a task as one SVG element: true zones, legs with distance and course, graticule, scale, north, legend.

Lays out first (what stands where, in millimetres on paper) and draws then, so that tests can look at the layout.
Never computes a distance: those come with the course.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from html import escape

from taskdb.core.airspace.volume import Volume
from taskdb.core.course.measure import Course, Leg
from taskdb.core.course.regions import counted_position
from taskdb.core.flights.thinned import DrawnFlight
from taskdb.core.geodesy import densify
from taskdb.core.ground import GroundHeights
from taskdb.core.model import Position, Role, Task, TaskPoint, Waypoint
from taskdb.core.quantities import Units, format_bearing, format_distance
from taskdb.report.boxes import Box
from taskdb.report.lettering import FONTS, HALO, LEAST_LETTERS_MM, shown, text_width_mm
from taskdb.report.map_airspace import draw_airspace
from taskdb.report.map_frame import Frame, fit_frame, thinned
from taskdb.report.map_ground import draw_places, graticule, places_in, symbol_kind
from taskdb.report.map_margin import LEAST_BESIDE_MM, LEFT_MM, TOP_MM, description, frame_size, margin, marking
from taskdb.report.map_tracks import draw_marks, draw_tracks, marks_of, tracks_legend
from taskdb.report.map_zones import ZoneDrawing, ZoneGround, draw_zone, drawings
from taskdb.report.palette import INK, PAPER
from taskdb.report.placing import (
    Placed,
    Room,
    along,
    place_leg_label,
    place_point_label,
    segments,
)
from taskdb.report.relief import draw_relief
from taskdb.report.svg import Point, element, group, number, path_data
from taskdb.report.symbols import POINT_REACH_MM, point_symbol, point_tag

POINT_LETTERS_MM = 2.6
LEG_LETTERS_MM = LEAST_LETTERS_MM
_NAME_LIMIT = 26
_PAD_MM = (9.0, 7.0)
_LEG_STEPS = 12
_SAME_SPOT_MM = 0.6
ARROW_AT = 0.22
"""Nearer to the beginning, so that the arrows of an out and a return leg on one line lie apart."""


@dataclass(frozen=True, slots=True)
class Label:
    """A text on the map: the bold beginning (for points), the rest, and its place."""

    lead: str
    text: str
    size_mm: float
    placed: Placed


@dataclass(frozen=True, slots=True)
class DrawnLeg:
    leg: Leg
    line: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class MapLayout:
    """What stands where on a map: millimetres in the frame."""

    frame: Frame
    zones: tuple[ZoneDrawing, ...]
    spots: tuple[tuple[Role, Point], ...]
    legs: tuple[DrawnLeg, ...]
    point_labels: tuple[Label, ...]
    leg_labels: tuple[Label, ...]
    room: Room


@dataclass(frozen=True, slots=True)
class _MapContent:
    """What a map shows, before it has a frame: the legs' paths, the zones, and all that must be seen."""

    paths: tuple[tuple[Position, ...], ...]
    zones: tuple[ZoneGround, ...]
    extent: tuple[Position, ...]


def _content(task: Task, course: Course) -> _MapContent:
    places = [counted_position(point) for point in task.points]
    paths = tuple(
        densify(places[leg.from_number], places[leg.to_number], max(leg.distance_m / _LEG_STEPS, 1.0))
        for leg in course.legs
    )
    zones = drawings(task.points, places)
    extent = (*places, *(p for path in paths for p in path), *(p for zone in zones for p in zone.extent))
    return _MapContent(paths, tuple(zones), extent)


def fitting_scale(task: Task, course: Course, *, width_mm: float, height_mm: float) -> float:
    """Return the largest scale, in millimetres a metre, at which `draw_map` shows the whole task on such a paper."""
    return _frame_on(_content(task, course).extent, width_mm, height_mm)[0].mm_per_m


def _frame_on(extent: Sequence[Position], width_mm: float, height_mm: float) -> tuple[Frame, bool]:
    """Return the frame on a paper in which places are seen largest, and whether the margin stands beside it.

    Beside a low map it leaves the height to the course, which seldom is much wider than high.
    """
    below = fit_frame(extent, *frame_size(width_mm, height_mm), pad_mm=_PAD_MM)
    if height_mm < LEAST_BESIDE_MM:
        return below, False
    beside = fit_frame(extent, *frame_size(width_mm, height_mm, is_beside=True), pad_mm=_PAD_MM)
    return (beside, True) if beside.mm_per_m > below.mm_per_m else (below, False)


def frame_of(
    tasks: Sequence[tuple[Task, Course]], width_mm: float, height_mm: float, also: Sequence[Position] = ()
) -> Frame:
    """Return the frame of the given size in which all of some tasks are seen, and places `also`."""
    extent = [place for task, course in tasks for place in _content(task, course).extent]
    return fit_frame((*extent, *also), width_mm, height_mm, pad_mm=_PAD_MM)


def lay_out_in(frame: Frame, task: Task, course: Course, units: Units) -> MapLayout:
    """Return the layout of a task's map in a frame; the points must be resolved."""
    content = _content(task, course)
    paths, pieces = content.paths, content.zones
    zones = tuple(ZoneDrawing.on(frame, piece) for piece in pieces)
    legs = tuple(DrawnLeg(leg, frame.line(path)) for leg, path in zip(course.legs, paths, strict=True))
    spots = tuple((point.role, frame.paper(point.place.position)) for point in task.points)
    room = Room(frame.width_mm, frame.height_mm)
    room.lines = [piece for leg in legs for piece in segments(leg.line)]
    room.outlines = [piece for zone in zones for ring in zone.rings for piece in segments(ring)]
    room.take(*(Box(x, y, 2 * POINT_REACH_MM, 2 * POINT_REACH_MM) for _, (x, y) in spots))
    room.take(*(Box(x, y, 2.8, 2.0, turn) for leg in legs for (x, y), turn in [along(leg.line, ARROW_AT)]))
    room.lines += [piece for zone in zones for piece in segments(zone.line)]
    point_labels = tuple(_label_points(room, task.points, spots))
    leg_labels = tuple(_label_legs(room, legs, units))
    return MapLayout(frame, zones, spots, legs, point_labels, leg_labels, room)


def _gathered(spots: Sequence[tuple[Role, Point]], points: Sequence[TaskPoint]) -> list[list[int]]:
    """Return the numbers of the points, those together that lie on one spot of the paper under one name."""
    groups: list[list[int]] = []
    for n, (_, at) in enumerate(spots):
        for group_ in groups:
            first = spots[group_[0]][1]
            near = abs(first[0] - at[0]) < _SAME_SPOT_MM and abs(first[1] - at[1]) < _SAME_SPOT_MM
            if near and points[group_[0]].place.code == points[n].place.code:
                group_.append(n)
                break
        else:
            groups.append([n])
    return groups


def _label_points(room: Room, points: Sequence[TaskPoint], spots: Sequence[tuple[Role, Point]]) -> list[Label]:
    labels = []
    for numbers in _gathered(spots, points):
        lead = " · ".join(point_tag(points[n].role, n) for n in numbers)
        name = shown(points[numbers[0]].place.name, _NAME_LIMIT)
        for text in (name, ""):
            width = text_width_mm(lead, POINT_LETTERS_MM, bold=True)
            width += text_width_mm(f" {text}", POINT_LETTERS_MM) if text else 0.0
            placed = place_point_label(room, spots[numbers[0]][1], width + 0.8, POINT_LETTERS_MM * 1.25)
            if placed is not None:
                labels.append(Label(lead, text, POINT_LETTERS_MM, placed))
                break
    return labels


def leg_words(leg: Leg, units: Units) -> tuple[str, ...]:
    """Return what is written along a leg, the fullest first: `65.3 km 071°`, `65.3 km`; no length, no course."""
    length = format_distance(leg.distance_m, units)
    if leg.course_true_deg is None:
        return (length,)
    return f"{length} {format_bearing(leg.course_true_deg)}°", length


def _label_legs(room: Room, legs: Sequence[DrawnLeg], units: Units) -> list[Label]:
    labels = []
    for drawn in legs:
        is_leftward = drawn.line[-1][0] < drawn.line[0][0]
        for words in leg_words(drawn.leg, units):
            text = f"← {words}" if is_leftward else f"{words} →"
            width = text_width_mm(text, LEG_LETTERS_MM) + 0.4
            placed = place_leg_label(room, drawn.line, width, LEG_LETTERS_MM * 1.15)
            if placed is not None:
                labels.append(Label("", text, LEG_LETTERS_MM, placed))
                break
    return labels


def _draw_labels(labels: Iterable[Label]) -> str:
    drawn = "".join(map(_draw_label, labels))
    return f'<g fill="{INK}" text-anchor="middle" {HALO}>{drawn}</g>' if drawn else ""


def _draw_label(label: Label) -> str:
    box = label.placed.box
    inner = escape(label.text, quote=False)
    if label.lead:
        lead = f'<tspan font-weight="bold">{escape(label.lead, quote=False)}</tspan>'
        # A name in a script that runs to the left must not drag the point's number to its other side.
        inner = f'{lead} <tspan unicode-bidi="isolate">{inner}</tspan>' if inner else lead
    attributes = f'x="{number(box.x)}" y="{number(box.y + label.size_mm * 0.36)}" font-size="{number(label.size_mm)}"'
    if box.angle_deg:
        attributes += f' transform="rotate({number(box.angle_deg)},{number(box.x)},{number(box.y)})"'
    return f"<text {attributes}>{inner}</text>"


def _draw_leader(label: Label) -> str:
    if label.placed.leader is None:
        return ""
    return element("path", d=path_data(label.placed.leader), stroke=INK, stroke_width=0.15, fill="none")


def _draw_leg(drawn: DrawnLeg) -> str:
    line = element("path", d=path_data(thinned(drawn.line)), fill="none", stroke=INK, stroke_width=0.45)
    at, angle = along(drawn.line, ARROW_AT)
    if drawn.line[0] == drawn.line[-1]:
        return line
    arrow = element(
        "path",
        d="M1.7,0 -1.1,-1 -0.6,0 -1.1,1Z",
        fill=INK,
        transform=f"translate({number(at[0])},{number(at[1])}) rotate({number(angle)})",
    )
    return line + arrow


def draw_inside(layout: MapLayout, relief: str, lines: str, places: str, flights: Sequence[DrawnFlight] = ()) -> str:
    """Return what a frame holds, with its border: the course over what is given as markup already."""
    frame = layout.frame
    symbols = (point_symbol(role, at) for role, at in reversed(layout.spots))
    inside = (
        element("rect", x=0, y=0, width=frame.width_mm, height=frame.height_mm, fill=PAPER)
        + relief
        + lines
        + places
        + group(map(draw_zone, layout.zones))
        + draw_tracks(frame, flights)
        + group(map(_draw_leg, layout.legs))
        + draw_marks(frame, flights)
        + group(map(_draw_leader, (*layout.point_labels, *layout.leg_labels)))
        + group(symbols)
        + _draw_labels((*layout.leg_labels, *layout.point_labels))
    )
    border = element(
        "rect", x=0, y=0, width=frame.width_mm, height=frame.height_mm, fill="none", stroke=INK, stroke_width=0.3
    )
    return (
        f'<svg x="{number(LEFT_MM)}" y="{number(TOP_MM)}" width="{number(frame.width_mm)}" '
        f'height="{number(frame.height_mm)}" overflow="hidden">{inside}{border}</svg>'
    )


def draw_map(
    task: Task,
    course: Course,
    *,
    catalogue: Sequence[Waypoint] = (),
    airspace: Sequence[Volume] = (),
    width_mm: float = 180,
    height_mm: float = 130,
    units: Units = Units.KM,
    mm_per_m: float | None = None,
    mark: str | None = None,
    ground: GroundHeights | None = None,
    flights: Sequence[DrawnFlight] = (),
) -> str:
    """Return the task's map as an `<svg>` element of the given size on paper, all texts escaped, no script, no links.

    `catalogue` is drawn lightly where it lies in the frame, `airspace` by its outlines, under the course; terrain as
    `ground` is shaded under everything. `mm_per_m` sets the scale, see `fitting_scale`. A `mark` stands across the top
    of the map and in its title. `flights` lie in grey between zones and legs. The same input gives the same text.
    """
    frame, is_beside = _frame_on((*_content(task, course).extent, *marks_of(flights)), width_mm, height_mm)
    if mm_per_m is not None:
        frame = replace(frame, mm_per_m=mm_per_m)
    layout = lay_out_in(frame, task, course, units)
    used = frozenset(point.place.position for point in task.points)
    air = draw_airspace(layout.frame, layout.room, airspace)
    places = places_in(layout.frame, catalogue, used, layout.room)
    lines, figures = graticule(layout.frame)
    lines += air
    inside = draw_inside(layout, draw_relief(layout.frame, ground), lines, draw_places(layout.room, places), flights)
    roles = [point.role for point in task.points]
    landables = frozenset(symbol_kind(waypoint.landable) for waypoint, _ in places)
    around = f'<g transform="translate({number(LEFT_MM)},{number(TOP_MM)})">{figures}</g>' + margin(
        layout.frame, units, roles, landables, width_mm, height_mm, is_beside=is_beside
    )
    if flights:
        around += f'<g transform="translate({number(LEFT_MM)},{number(TOP_MM)})">{_tracks_legend(layout, flights)}</g>'
    marked = f" ({mark})" if mark else ""
    title = description(f"Map of task {shown(task.name, 80)}{marked}, true north up")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width_mm)}mm" height="{number(height_mm)}mm" '
        f'viewBox="0 0 {number(width_mm)} {number(height_mm)}" role="img" font-family="{FONTS}">'
        f"{title}{inside}{around}{marking(mark, width_mm) if mark else ''}</svg>"
    )


def _tracks_legend(layout: MapLayout, flights: Sequence[DrawnFlight]) -> str:
    """Return the legend of flights, away from points, labels, lines and marks."""
    frame = layout.frame
    seen = [at for _, at in layout.spots]
    seen += [(label.placed.box.x, label.placed.box.y) for label in (*layout.point_labels, *layout.leg_labels)]
    seen += [frame.paper(place) for flight in flights for piece in flight.pieces for place in piece]
    return tracks_legend(frame, [*seen, *map(frame.paper, marks_of(flights))])
