"""The data file of a published task: its course, its zones and the airspace near it, as a map draws them.

Lines are longitude and latitude in 1e-5 degree (1.1 m), each step from the one before. Nothing is computed here:
outlines of zones come from the map's own drawing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from taskdb.core.airspace.nearby import volumes_near_course
from taskdb.core.airspace.volume import Ring, Volume
from taskdb.core.course.regions import counted_position
from taskdb.core.geodesy import densify
from taskdb.core.model import Position
from taskdb.report.lettering import shown
from taskdb.report.map_airspace import limits_words
from taskdb.report.map_zones import drawings
from taskdb.report.pages.catalogue_data import script_of
from taskdb.report.sheet_page import SheetPage
from taskdb.report.symbols import point_tag

_LEG_STEP_M = 20_000.0
_E5 = 100_000
_MOST_VERTICES = 2_000
"""An outline with more vertices is drawn by every second, third … of them."""


def course_script(page: SheetPage) -> str:
    """Return the constant `COURSE` of a task's page."""
    task = page.task
    places = [counted_position(point) for point in task.points]
    zones = drawings(task.points, places)
    near = volumes_near_course(task, tuple(page.airspace)) if page.airspace else ()
    return script_of(
        "COURSE",
        {
            "points": [
                {
                    "tag": point_tag(point.role, number),
                    "role": point.role.value,
                    "code": point.place.code,
                    "name": point.place.name,
                    "at": [point.place.position.longitude_e7, point.place.position.latitude_e7],
                    "words": point.zone.text,
                }
                for number, point in enumerate(task.points)
            ],
            "legs": [
                _steps(_positions(densify(places[leg.from_number], places[leg.to_number], _LEG_STEP_M)))
                for leg in page.course.legs
            ],
            "zones": [
                {
                    "role": zone.role.value,
                    "rings": [_steps(_positions(ring)) for ring in zone.rings],
                    "line": _steps(_positions(zone.line)),
                }
                for zone in zones
            ],
            "airspace": [_volume(page.airspace[n]) for n in near],
        },
    )


def _volume(volume: Volume) -> dict[str, Any]:
    return {
        "name": shown(volume.name, 60),
        "kind": volume.kind.value,
        "words": limits_words(volume),
        "rings": [_steps(_thinned(ring)) for polygon in volume.polygons for ring in polygon],
    }


def _thinned(ring: Ring) -> list[tuple[int, int]]:
    """Return a ring in 1e-5 degree, not with more vertices than a map needs."""
    every = -(-len(ring) // _MOST_VERTICES)
    return [(round(x / 100), round(y / 100)) for x, y in ring[::every]]


def _positions(positions: Iterable[Position]) -> list[tuple[int, int]]:
    return [(round(p.longitude_deg * _E5), round(p.latitude_deg * _E5)) for p in positions]


def _steps(line: Sequence[tuple[int, int]]) -> list[int]:
    """Return a line as steps, each the shorter way round the earth, so that none runs across a map."""
    flat: list[int] = []
    x = y = 0
    for to_x, to_y in line:
        turned = to_x if not flat else x + (to_x - x + 180 * _E5) % (360 * _E5) - 180 * _E5
        flat += [turned - x, to_y - y]
        x, y = turned, to_y
    return flat
