"""Where one can land and whom to call: runways and channels of a task's points, and of what lies near its course."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from taskdb.core.course.regions import counted_position
from taskdb.core.model import Landable, Place, Radio, Role, Runway, Task, Waypoint
from taskdb.core.quantities import Units, format_bearing, format_distance
from taskdb.report.lettering import shown
from taskdb.report.projection import Projection, centre_of
from taskdb.report.symbols import point_tag

CODE_LIMIT = 20
NAME_LIMIT = 80
NEAR_COURSE_M = 10_000.0
"""How far from a leg a landable point is still near (common practice, no source)."""

ON_LEG_M = 1_000.0

_LANDABLE_WORDS = {Landable.AERODROME: "aerodrome", Landable.FIELD: "field", Landable.EMERGENCY: "emergency field"}
_RANK = {Landable.AERODROME: 0, Landable.FIELD: 1, Landable.EMERGENCY: 2}
Flat = tuple[float, float]


@dataclass(frozen=True, slots=True)
class FieldRow:
    """What is known of landing and calling at one place."""

    code: str
    name: str
    kind: str
    runways: tuple[str, ...]
    channels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NearField:
    """A landable point near the course, and in words: what it is, how far from which leg, longest runway, channel."""

    code: str
    name: str
    words: str


def runway_words(runway: Runway) -> str:
    """Return a runway for people: `09/27, 094° true, 1050 m × 60 m, grass`."""
    size = " × ".join(f"{metres:.0f} m" for metres in (runway.length_m, runway.width_m) if metres is not None)
    words = (
        shown(runway.designator, 12) if runway.designator else "",
        f"{format_bearing(runway.heading_true_deg)}° true" if runway.heading_true_deg is not None else "",
        size,
        shown(runway.surface, 30) if runway.surface else "",
        "one direction only" if runway.one_way else "",
    )
    return ", ".join(word for word in words if word) or "strip, nothing more known"


def channel_words(radio: Radio) -> str:
    """Return a channel and what it is for: `123.505 launch`."""
    channel = shown(radio.channel, 12)
    return f"{channel} {shown(radio.purpose, 24)}" if radio.purpose else channel


def _places(task: Task) -> list[Place]:
    """Return a task's places, those of start and finish first."""
    ends: list[Place] = [place for place in (task.take_off, task.landing) if place is not None]
    ends += [point.place for point in task.points if point.role in (Role.START, Role.FINISH)]
    return ends + [point.place for point in task.points if point.role not in (Role.START, Role.FINISH)]


def field_rows(task: Task, waypoints: Mapping[str, Waypoint]) -> tuple[FieldRow, ...]:
    """Return runways and channels of the start, the finish, take-off, landing and every landable point, each once."""
    rows, seen = [], set()
    for place in _places(task):
        waypoint = waypoints.get(place.code)
        if waypoint is None or place.code in seen:
            continue
        seen.add(place.code)
        kind = _LANDABLE_WORDS.get(waypoint.landable) if waypoint.landable is not None else None
        if kind is None and not waypoint.runways and not waypoint.radio:
            continue
        rows.append(
            FieldRow(
                shown(place.code, CODE_LIMIT),
                shown(place.name, NAME_LIMIT),
                kind or "not landable",
                tuple(map(runway_words, waypoint.runways)),
                tuple(map(channel_words, waypoint.radio)),
            )
        )
    return tuple(rows)


def near_fields(
    task: Task, catalogue: Sequence[Waypoint], units: Units, most: int
) -> tuple[tuple[NearField, ...], int]:
    """Return up to `most` landable points near the course besides its own, in order of legs, and how many there are.

    Where there are more, aerodromes go before fields and near ones before far ones.
    """
    own = {place.identity or place.position for place in _places(task)}
    path = [counted_position(point) for point in task.points]
    plane = Projection(centre_of(path))
    legs = list(pairwise(plane.project(position) for position in path))
    found = []
    for waypoint in catalogue:
        if waypoint.landable not in _RANK or (waypoint.identity or waypoint.position) in own:
            continue
        at = plane.project(waypoint.position)
        number, off_m, along = min(((n, *_off(at, *leg)) for n, leg in enumerate(legs)), key=lambda hit: hit[1])
        if off_m <= NEAR_COURSE_M:
            found.append((_RANK[waypoint.landable], off_m, number, along, waypoint))
    kept = sorted(found, key=lambda hit: (hit[0], hit[1], hit[4].code))[:most]
    kept.sort(key=lambda hit: (hit[2], hit[3], hit[4].code))
    tags = [point_tag(point.role, n) for n, point in enumerate(task.points)]
    return tuple(
        _near(waypoint, off_m, f"leg {tags[number]}–{tags[number + 1]}", units)
        for _, off_m, number, _, waypoint in kept
    ), len(found)


def _off(at: Flat, start: Flat, end: Flat) -> tuple[float, float]:
    """Return how far a place on the plane is from a leg, and how far along the leg that is, as a share of it."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = dx * dx + dy * dy
    along = 0.0 if not length else ((at[0] - start[0]) * dx + (at[1] - start[1]) * dy) / length
    share = min(1.0, max(0.0, along))
    return math.hypot(at[0] - start[0] - share * dx, at[1] - start[1] - share * dy), share


def _near(waypoint: Waypoint, off_m: float, leg: str, units: Units) -> NearField:
    assert waypoint.landable is not None
    longest = max(waypoint.runways, key=lambda runway: runway.length_m or 0.0, default=None)
    where = f"on {leg}" if off_m < ON_LEG_M else f"{format_distance(off_m, units, 0)} off {leg}"
    parts = [_LANDABLE_WORDS[waypoint.landable], where]
    parts += [] if longest is None else [_short_runway(longest)]
    parts += [channel_words(radio) for radio in waypoint.radio[:1]]
    return NearField(shown(waypoint.code, CODE_LIMIT), shown(waypoint.name, 30), ", ".join(parts))


def _short_runway(runway: Runway) -> str:
    size = f"{runway.length_m:.0f} m" if runway.length_m is not None else ""
    surface = shown(runway.surface, 12) if runway.surface else ""
    designator = shown(runway.designator, 12) if runway.designator else ""
    return " ".join(word for word in (designator, size, surface) if word) or "strip"
