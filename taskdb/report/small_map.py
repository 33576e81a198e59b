"""A task's map so small that many stand side by side: all in one frame, so that courses compare at a glance.

What stands around a large map stands once for all of them: `key_strip`.
"""

from __future__ import annotations

from collections.abc import Sequence

from taskdb.core.airspace.volume import Volume
from taskdb.core.course.measure import Course
from taskdb.core.model import Role, Task, Waypoint
from taskdb.core.quantities import Units
from taskdb.report.lettering import FONTS, shown
from taskdb.report.map import draw_inside, lay_out_in
from taskdb.report.map_airspace import draw_airspace
from taskdb.report.map_frame import Frame
from taskdb.report.map_ground import draw_places, graticule, places_in, symbol_kind
from taskdb.report.map_margin import (
    LEFT_MM,
    STRIP_MM,
    TOP_MM,
    description,
    legend,
    longest_bar_mm,
    north_arrow,
    scale_bar,
)
from taskdb.report.svg import Point, number

EDGE_MM = 0.3


def draw_small_map(
    frame: Frame,
    task: Task,
    course: Course,
    *,
    catalogue: Sequence[Waypoint],
    airspace: Sequence[Volume],
    units: Units,
) -> str:
    """Return a task's map as an `<svg>` element as large as the frame with its border: no figures around it."""
    layout = lay_out_in(frame, task, course, units)
    used = frozenset(point.place.position for point in task.points)
    air = draw_airspace(frame, layout.room, airspace)
    places = draw_places(layout.room, places_in(frame, catalogue, used, layout.room))
    inside = draw_inside(layout, "", graticule(frame)[0] + air, places)
    size = (frame.width_mm + 2 * EDGE_MM, frame.height_mm + 2 * EDGE_MM)
    return _picture(size, (LEFT_MM - EDGE_MM, TOP_MM - EDGE_MM), f"Map of {shown(task.name, 80)}", inside)


def key_strip(frame: Frame, catalogue: Sequence[Waypoint], roles: Sequence[Role], width_mm: float, units: Units) -> str:
    """Return scale, legend and north arrow of all the maps that share a frame, as an `<svg>` of that width."""
    kinds = frozenset(symbol_kind(one.landable) for one in catalogue if frame.holds(frame.paper(one.position)))
    longest = longest_bar_mm(frame.width_mm)
    legend_x = longest + 12
    inside = (
        scale_bar(frame, units, 2, 4.2, longest_mm=longest)
        + legend(roles, kinds, legend_x, 2.8, width_mm - legend_x - 9)
        + north_arrow(width_mm - 5, 9.8)
    )
    return _picture((width_mm, STRIP_MM), (0.0, 0.0), "Scale and signs of the maps", inside)


def _picture(size_mm: Point, corner_mm: Point, words: str, inside: str) -> str:
    width, height, left, top = (number(value) for value in (*size_mm, *corner_mm))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="{left} {top} {width} {height}" role="img" font-family="{FONTS}">'
        f"{description(f'{words}, true north up')}{inside}</svg>"
    )
