"""The panel of zones: what a pilot sets by hand at each point, in words and figures, with a small true picture.

Figures only: each number stands beside the word that says what it is, so that a radius is never taken for a width.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from taskdb.core.course.regions import counted_position
from taskdb.core.course.zones import describe_zone, size_words
from taskdb.core.geodesy import arrival_deg, bearing_deg, destination
from taskdb.core.model import Position, Shape, Task, TaskPoint, Zone
from taskdb.core.quantities import Units, format_bearing
from taskdb.report.lettering import CODE_LIMIT, NAME_LIMIT, shown
from taskdb.report.map_frame import Frame, fit_frame
from taskdb.report.map_zones import LEAST_DISPLAY_M, ZoneDrawing, draw_zone, zone_ground
from taskdb.report.palette import INK
from taskdb.report.svg import element, number, path_data
from taskdb.report.symbols import point_tag

PICTURE_MM = 16.0


@dataclass(frozen=True, slots=True)
class ZoneCard:
    """One point of the panel: its tag (`Start`, a number, `Finish`), the zone in a sentence, the figures to set."""

    tag: str
    code: str
    name: str
    role: str
    words: str
    figures: tuple[tuple[str, str], ...]
    picture: str


def card_lines(card: ZoneCard) -> float:
    """Return about how many figures high a card is: its figures, and further lines of name and words."""
    heading = len(card.tag) + len(card.code) + len(card.name)
    return len(card.figures) + 0.6 * (len(card.words) // 33) + 0.9 * (heading // 27)


def _true(degrees: float) -> str:
    return f"{format_bearing(degrees)}°"


def _direction(zone: Zone) -> list[tuple[str, str]]:
    if zone.axis_deg is None or zone.opening_deg is None:
        return []
    half = zone.opening_deg / 2
    return [
        ("opening", f"{zone.opening_deg:g}°"),
        ("opens towards", _true(zone.axis_deg)),
        ("sides", f"{_true(zone.axis_deg - half)} and {_true(zone.axis_deg + half)}"),
    ]


def _line_figures(zone: Zone, units: Units) -> list[tuple[str, str]]:
    length = zone.length_m or 0.0
    figures = [("length", size_words(length, units)), ("each side", size_words(length / 2, units))]
    if zone.axis_deg is not None:
        figures.append(("flown towards", _true(zone.axis_deg)))
        figures.append(("lies", f"{_true(zone.axis_deg - 90)} to {_true(zone.axis_deg + 90)}"))
    return figures


def zone_figures(zone: Zone, units: Units = Units.KM) -> tuple[tuple[str, str], ...]:
    """Return the figures of a resolved zone, each with its word; bearings are true, whole degrees."""
    if zone.shape is Shape.LINE:
        return tuple(_line_figures(zone, units))
    radius = "no limit" if zone.radius_m is None else size_words(zone.radius_m, units)
    if zone.shape is Shape.KEYHOLE:
        core = ("cylinder radius", size_words(zone.core_radius_m or 0.0, units))
        return (core, ("sector radius", radius), *_direction(zone))
    if zone.shape is Shape.AREA and zone.inner_radius_m is not None:
        figures = [("outer radius", radius), ("inner radius", size_words(zone.inner_radius_m, units))]
    else:
        figures = [("radius", radius)]
    if zone.from_radial_deg is not None and zone.to_radial_deg is not None:
        figures += [("from radial", _true(zone.from_radial_deg)), ("clockwise to", _true(zone.to_radial_deg))]
    return (*figures, *_direction(zone))


def _stub(frame: Frame, at: Position, course_deg: float | None, reach_m: float) -> list[tuple[float, float]]:
    if course_deg is None:
        return []
    return [frame.paper(at), frame.paper(destination(at, course_deg, reach_m))]


def zone_picture(point: TaskPoint, before: Position | None, after: Position | None) -> str:
    """Return a small SVG of the zone to its true shape, north up, with the legs that meet here; the outbound thick."""
    at = point.place.position
    ground = zone_ground(point.zone, point.role, at, LEAST_DISPLAY_M)
    frame = fit_frame([at, *ground.extent], PICTURE_MM, PICTURE_MM, pad_mm=(1.6, 1.6), least_span_m=10.0)
    meet = counted_position(point)
    reach_m = 2 * PICTURE_MM / frame.mm_per_m
    inbound = None if before is None else arrival_deg(before, meet)
    outbound = None if after is None else bearing_deg(meet, after)
    thin = _stub(frame, meet, None if inbound is None else (inbound + 180) % 360, reach_m)
    thick = _stub(frame, meet, outbound, reach_m)
    x, y = frame.paper(at)
    line: dict[str, Any] = {"fill": "none", "stroke": INK}
    inside = (
        draw_zone(ZoneDrawing.on(frame, ground))
        + (element("path", d=path_data(thin), stroke_width=0.3, stroke_dasharray="1 0.7", **line) if thin else "")
        + (element("path", d=path_data(thick), stroke_width=0.5, **line) if thick else "")
        + element("circle", cx=x, cy=y, r=0.7, fill=INK)
    )
    size = number(PICTURE_MM)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}mm" height="{size}mm" viewBox="0 0 {size} {size}" '
        f'aria-hidden="true">{inside}</svg>'
    )


def zone_cards(task: Task, units: Units = Units.KM) -> tuple[ZoneCard, ...]:
    """Return the panel's cards in order of the task's points; the points must be resolved."""
    counted: Sequence[Position] = [counted_position(point) for point in task.points]
    cards = []
    for n, point in enumerate(task.points):
        before = counted[n - 1] if n else None
        after = counted[n + 1] if n + 1 < len(counted) else None
        cards.append(
            ZoneCard(
                point_tag(point.role, n),
                shown(point.place.code, CODE_LIMIT),
                shown(point.place.name, NAME_LIMIT),
                point.role.value,
                describe_zone(point.zone, units),
                zone_figures(point.zone, units),
                zone_picture(point, before, after),
            )
        )
    return tuple(cards)
