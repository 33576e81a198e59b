"""A map of a catalogue as one picture: borders, graticule, the places by the symbols of the sheets, scale, legend.

Laid out by the same means as a task's map; what has no room is left out, the landable places last.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import compress

from taskdb.core.model import Landable, Position, Waypoint
from taskdb.core.quantities import Units
from taskdb.report.lettering import FONTS, shown
from taskdb.report.map_frame import Frame, fit_frame, thinned
from taskdb.report.map_ground import draw_places, graticule, places_in, symbol_kind
from taskdb.report.map_margin import LEFT_MM, TOP_MM, description, frame_size, margin
from taskdb.report.pages.edition import Line
from taskdb.report.palette import INK, PAPER, SOFT_INK
from taskdb.report.placing import Room
from taskdb.report.svg import element, group, number, path_data

WIDTH_MM, HEIGHT_MM = 260.0, 190.0
_PAD_MM = (8.0, 8.0)
_E5 = 100_000


def catalogue_map(
    name: str, waypoints: Sequence[Waypoint], borders: Sequence[Line], units: Units, is_main: Sequence[bool]
) -> str:
    """Return the map of a catalogue's main part as an SVG document; an empty one shows the graticule about 0° 0°."""
    width, height = frame_size(WIDTH_MM, HEIGHT_MM)
    frame = fit_frame([w.position for w in compress(waypoints, is_main)], width, height, pad_mm=_PAD_MM)
    room = Room(width, height)
    places = places_in(frame, waypoints, frozenset(), room)
    lines, figures = graticule(frame)
    inside = (
        element("rect", x=0, y=0, width=width, height=height, fill=PAPER)
        + lines
        + _borders(frame, borders)
        + draw_places(room, places)
        + element("rect", x=0, y=0, width=width, height=height, fill="none", stroke=INK, stroke_width=0.3)
    )
    shown_kinds: frozenset[Landable | None] = frozenset(symbol_kind(waypoint.landable) for waypoint, _ in places)
    around = f'<g transform="translate({number(LEFT_MM)},{number(TOP_MM)})">{figures}</g>' + margin(
        frame, units, (), shown_kinds, WIDTH_MM, HEIGHT_MM
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(WIDTH_MM)}mm" height="{number(HEIGHT_MM)}mm" '
        f'viewBox="0 0 {number(WIDTH_MM)} {number(HEIGHT_MM)}" role="img" font-family="{FONTS}">'
        f"{description(shown(name, 80))}"
        f'<svg x="{number(LEFT_MM)}" y="{number(TOP_MM)}" width="{number(width)}" height="{number(height)}" '
        f'overflow="hidden">{inside}</svg>{around}</svg>\n'
    )


def _borders(frame: Frame, borders: Sequence[Line]) -> str:
    paths = (thinned(frame.line(Position(y / _E5, x / _E5) for x, y in line)) for line in borders)
    drawn = (element("path", d=path_data(path)) for path in paths)
    return group(drawn, fill="none", stroke=SOFT_INK, stroke_width=0.25, stroke_dasharray="2 0.8 0.5 0.8")
