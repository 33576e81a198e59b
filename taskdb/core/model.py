"""The frozen values that every layer speaks: waypoints, zones, tasks, contests, findings.

Degrees (WGS84), metres and seconds throughout; a field's name carries its unit. Values only: what is computed
from them stands in `core.course`, `core.checks` and `core.history`; their JSON form in `core.plain`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

# The kinds are part of this vocabulary: said twice, so that they can be had from here too.
from taskdb.core.kinds import (
    Deduction as Deduction,
    Earth as Earth,
    Feature as Feature,
    Landable as Landable,
    Orientation as Orientation,
    Role as Role,
    Severity as Severity,
    Shape as Shape,
    ShapeKind as ShapeKind,
    Status as Status,
    TaskType as TaskType,
    ZoneFrom as ZoneFrom,
)

E7 = 10_000_000
"""Positions are kept as whole multiples of 1e-7 degree (1.1 cm), so equality is equality of integers."""


@dataclass(frozen=True, slots=True)
class Position:
    """A place on WGS84: latitude −90…90, longitude −180 ≤ x < 180, degrees, east and north positive.

    `Position.at` is the way in for anything from outside: it wraps the longitude and rounds to 1e-7°.
    """

    latitude_deg: float
    longitude_deg: float

    @staticmethod
    def at(latitude_deg: float, longitude_deg: float) -> Position:
        """Return the canonical position, rounded to 1e-7° with the longitude wrapped into −180 ≤ x < 180.

        Raises ValueError where the latitude is beyond ±90° or a number is not finite.
        """
        if not -90.0 <= latitude_deg <= 90.0:
            raise ValueError(f"latitude {latitude_deg} is not within -90 to 90 degrees")
        if not abs(longitude_deg) < 1e6:
            raise ValueError(f"longitude {longitude_deg} is not a usable angle")
        longitude_e7 = (round(longitude_deg * E7) + 180 * E7) % (360 * E7) - 180 * E7
        return Position.from_e7(round(latitude_deg * E7), longitude_e7)

    @staticmethod
    def from_e7(latitude_e7: int, longitude_e7: int) -> Position:
        """Return the position for whole multiples of 1e-7 degree, as the store keeps them."""
        return Position(latitude_e7 / E7, longitude_e7 / E7)

    @property
    def latitude_e7(self) -> int:
        return round(self.latitude_deg * E7)

    @property
    def longitude_e7(self) -> int:
        return round(self.longitude_deg * E7)


@dataclass(frozen=True, slots=True)
class Radio:
    """A radio channel as published text (`123.505`) and what it is for."""

    channel: str
    purpose: str | None = None


@dataclass(frozen=True, slots=True)
class Runway:
    """A landing strip. The designator is painted text (magnetic tens of degrees); the heading is true, and its own."""

    designator: str | None = None
    heading_true_deg: float | None = None
    length_m: float | None = None
    width_m: float | None = None
    surface: str | None = None
    one_way: bool = False


@dataclass(frozen=True, slots=True)
class Typed:
    """What a person typed for a waypoint's position and elevation: the checks for slips need it.

    `notation` names how the coordinates were written (a name of `core.notation`), `decimals` how many decimals of
    its last part were typed without trailing zeros (the larger of both coordinates). It alone makes no revision.
    """

    latitude: str | None = None
    longitude: str | None = None
    notation: str | None = None
    decimals: int | None = None
    elevation: str | None = None
    elevation_unit: str | None = None


@dataclass(frozen=True, slots=True)
class Waypoint:
    """A named place. `identity` stays the same through all revisions; None before the store gave it one."""

    code: str
    name: str
    position: Position
    elevation_m: float | None = None
    landable: Landable | None = None
    feature: Feature | None = None
    country: str | None = None
    radio: tuple[Radio, ...] = ()
    runways: tuple[Runway, ...] = ()
    description: str | None = None
    source: str | None = None
    inspected_on: str | None = None
    identity: str | None = None
    typed: Typed | None = field(default=None, compare=False)
    extras: str | None = field(default=None, compare=False)
    """What an open format held beyond these fields, as canonical JSON text keyed by format; opaque."""


VALUE_FIELDS = (
    "code", "name", "position", "elevation_m", "landable", "feature", "country", "radio", "runways",
    "description", "source", "inspected_on",
)  # fmt: skip
"""The fields whose change makes a new state of a waypoint."""


@dataclass(frozen=True, slots=True)
class Zone:
    """An observation zone; what does not apply to its shape is None.

    `radius_m` is the outer radius, `length_m` a line's full length, `opening_deg` a sector's full angle. A line,
    sector or keyhole has an `orientation` (None: the default of its point's role) and, once resolved at its point,
    `axis_deg`: the true bearing in which it opens; at a line the direction of flight across it. `text` keeps the
    units as typed and parses back to the same zone.
    """

    shape: Shape
    text: str
    radius_m: float | None = None
    inner_radius_m: float | None = None
    length_m: float | None = None
    opening_deg: float | None = None
    core_radius_m: float | None = None
    from_radial_deg: float | None = None
    to_radial_deg: float | None = None
    orientation: Orientation | None = None
    axis_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Place:
    """A place as a task keeps it: a copy, so that a saved task can be shown without looking at live rows.

    `identity` is None for a task's own point that no set has.
    """

    code: str
    name: str
    position: Position
    elevation_m: float | None = None
    identity: str | None = None

    @staticmethod
    def of(waypoint: Waypoint) -> Place:
        """Return the copy of a waypoint that a task keeps."""
        return Place(waypoint.code, waypoint.name, waypoint.position, waypoint.elevation_m, waypoint.identity)


@dataclass(frozen=True, slots=True)
class TaskPoint:
    """A point of a task: a place, its role, and its zone with where the zone came from."""

    place: Place
    role: Role
    zone: Zone
    zone_from: ZoneFrom


@dataclass(frozen=True, slots=True)
class TriangleRules:
    """When a triangle counts as an FAI triangle (Sporting Code Section 3, 1.4.3d(iii), edition of about 2008).

    From `large_from_m` on no leg below `large_shortest_percent` or above `large_longest_percent` of the perimeter;
    shorter ones no leg below `small_shortest_percent`. The threshold differed between editions, so it is a setting.
    """

    large_from_m: float = 750_000.0
    small_shortest_percent: float = 28.0
    large_shortest_percent: float = 25.0
    large_longest_percent: float = 45.0
    start_on_side: bool = True


@dataclass(frozen=True, slots=True)
class Rules:
    """What a contest decides about measuring a course; a saved task carries its own copy."""

    earth: Earth = Earth.WGS84
    start_deduction: Deduction = Deduction.LESS_RADIUS
    finish_deduction: Deduction = Deduction.LESS_RADIUS
    triangle: TriangleRules = TriangleRules()
    closed_within_m: float = 1000.0


@dataclass(frozen=True, slots=True)
class FreeChoice:
    """The pilot's own choice after the assigned points of a modified assigned task.

    `from_set` is SET@R, `from_codes` are codes of the task's own set; with neither it is not said from where. A point
    may be chosen again, with `no_repeat` not twice in a row. `zone` is that of each free point, without its axis where
    that follows from the legs; None: not said.
    """

    most_points: int | None = None
    from_set: str | None = None
    from_codes: tuple[str, ...] = ()
    no_repeat: bool = False
    zone: Zone | None = None
    zone_from: ZoneFrom | None = None


@dataclass(frozen=True, slots=True)
class Task:
    """One revision of a task, complete in itself."""

    name: str
    type: TaskType
    points: tuple[TaskPoint, ...]
    set_name: str
    set_revision: int
    rules: Rules = Rules()
    contest: str | None = None
    contest_revision: int | None = None
    day: int | None = None
    class_name: str | None = None
    variant: str | None = None
    status: Status = Status.PROPOSED
    time_s: int | None = None
    speed_kmh: float | None = None
    free: FreeChoice | None = None
    take_off: Place | None = None
    landing: Place | None = None
    tags: tuple[str, ...] = ()
    issued_at: str | None = None

    @property
    def places(self) -> tuple[Place, ...]:
        """Return every place of the task: its points in order, then take-off and landing where they are declared."""
        ends = (place for place in (self.take_off, self.landing) if place is not None)
        return (*(point.place for point in self.points), *ends)


@dataclass(frozen=True, slots=True)
class FlownByLogs:
    """What flight logs tell of a task's day, and the checksums of the logs (of each file's bytes; sorted).

    Times are UTC to the second. `ended_near`: of the flights that did not finish how many ended near which waypoint,
    by its code; None where they ended near none.
    """

    starters: int
    finishers: int
    best_kmh: float | None
    median_kmh: float | None
    first_start: str | None
    last_start: str | None
    first_finish: str | None
    last_finish: str | None
    ended_near: tuple[tuple[str | None, int], ...]
    logs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FlownRecord:
    """A day on which a task was flown (ISO date): wind (from, true), base above sea level, who came home, speeds.

    These are what a person wrote; `by_logs` stands beside it, and neither changes the other (`core/flown.py`).
    """

    flown_on: str
    wind_from_deg: float | None = None
    wind_speed_kmh: float | None = None
    cloud_base_m: float | None = None
    starters: int | None = None
    finishers: int | None = None
    best_kmh: float | None = None
    median_kmh: float | None = None
    remarks: str | None = None
    by_logs: FlownByLogs | None = None


@dataclass(frozen=True, slots=True)
class ContestClass:
    """A class of a contest with the slowest and fastest speeds expected in it."""

    name: str
    slowest_kmh: float | None = None
    fastest_kmh: float | None = None


@dataclass(frozen=True, slots=True)
class ContestDay:
    """A day of a contest: date, gate (local time of day), wind (from, true) and planned still-air speed.

    `wind_text` keeps the wind in the unit that was typed; None where it came without.
    """

    number: int
    date: str | None = None
    start_opens: str | None = None
    wind_from_deg: float | None = None
    wind_speed_kmh: float | None = None
    speed_kmh: float | None = None
    wind_text: str | None = None


@dataclass(frozen=True, slots=True)
class Scope:
    """For whom a contest's value is set: a class, a day, a class on a day; neither: the whole contest."""

    class_name: str | None = None
    day: int | None = None


@dataclass(frozen=True, slots=True)
class ScopeValues:
    """What a contest sets for one scope: zone defaults per role, and plain values by the key of their setting."""

    zones: Mapping[Role, Zone] = field(default_factory=lambda: MappingProxyType({}))
    settings: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, order=True)
class AirspacePin:
    """A revision of an airspace that tasks are held against."""

    name: str
    revision: int

    def __str__(self) -> str:
        return f"{self.name}@{self.revision}"


@dataclass(frozen=True, slots=True)
class Contest:
    """One revision of a contest: where and when, the pinned set revision, zone defaults per role, rules."""

    name: str
    set_name: str
    set_revision: int
    site: str | None = None
    from_date: str | None = None
    to_date: str | None = None
    timezone: str | None = None
    rules: Rules = Rules()
    zones: Mapping[Role, Zone] = field(default_factory=lambda: MappingProxyType({}))
    classes: tuple[ContestClass, ...] = ()
    days: tuple[ContestDay, ...] = ()
    settings: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))
    """Start procedure, limits, frequencies and whatever else is only shown: plain values by name."""
    scoped: Mapping[Scope, ScopeValues] = field(default_factory=lambda: MappingProxyType({}))
    """What is set for classes, days and classes on a day. `core.contests.scopes` says what holds for whom."""
    airspace: tuple[AirspacePin, ...] = ()
    """What its tasks are held against, each airspace once, in order of name."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A mend: both coordinates of the mended position, or a `field` and the `value` that it should have."""

    code: str
    reason: str
    position: Position | None = None
    field: str | None = None
    value: Any = None


@dataclass(frozen=True, slots=True)
class Acceptance:
    by: str
    why: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a check of a set or a review of a task has to say. `codes[0]` is the point that a mend mends."""

    id: str
    rule: str
    severity: Severity
    codes: tuple[str, ...]
    message: str
    evidence: Mapping[str, Any]
    suggestion: Suggestion | None = None
    alternatives: tuple[Suggestion, ...] = ()
    accepted: Acceptance | None = None


@dataclass(frozen=True, slots=True)
class RowProblem:
    """What is wrong with one field of one row of a file: `line` is the physical line, the header being line 1."""

    line: int
    field: str | None
    value: str | None
    code: str
    message: str
    suggestion: str | None = None
