"""Where one can land and whom to call: runways and channels of a task's points, and of what lies near its course."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from taskdb.core.course.near_course import NearPlace
from taskdb.core.model import Landable, Radio, Role, Runway, Task, Waypoint
from taskdb.core.quantities import Units, format_bearing, format_distance
from taskdb.report.lettering import CODE_LIMIT, NAME_LIMIT, shown
from taskdb.report.symbols import point_tag

ON_LEG_M = 1_000.0

_LANDABLE_WORDS = {Landable.AERODROME: "aerodrome", Landable.FIELD: "field", Landable.EMERGENCY: "emergency field"}


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


def field_rows(task: Task, waypoints: Mapping[str, Waypoint]) -> tuple[FieldRow, ...]:
    """Return runways and channels of the start, the finish, take-off, landing and every landable point, each once."""
    ends_first = sorted(task.points, key=lambda point: point.role not in (Role.START, Role.FINISH))
    rows, seen = [], set()
    for place in (*task.places[len(task.points) :], *(point.place for point in ends_first)):
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


def near_fields(task: Task, near: Sequence[NearPlace], units: Units) -> tuple[NearField, ...]:
    """Return what is told of landable points near the course, in their order."""
    tags = [point_tag(point.role, n) for n, point in enumerate(task.points)]
    return tuple(_near(one, f"leg {tags[one.leg]}–{tags[one.leg + 1]}", units) for one in near)


def _near(near: NearPlace, leg: str, units: Units) -> NearField:
    waypoint, off_m = near.waypoint, near.off_m
    assert waypoint.landable is not None  # what is near a course is landable
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
