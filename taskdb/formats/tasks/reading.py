"""What reading a file of tasks gives: points in order with what is known of each, and every problem of the file.

Values and the reading of single texts only; each format's reader stands in a module of its own. Nothing is guessed:
what a format does not say is None or empty, and whoever takes a task in decides.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import TypeVar

from taskdb.core.course.zones import parse_zone
from taskdb.core.model import FreeChoice, Position, Role, RowProblem, TaskType, Zone, ZoneFrom
from taskdb.core.names import clean_text
from taskdb.errors import UsageError

Choice = TypeVar("Choice", bound=StrEnum)
_DECIMAL = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,2})?")
_LONGEST_SHOWN = 200
_LARGEST = 1e6
MOST_POINTS = 50
"""Of a task that does not say that it is one: a line of more is what was flown, or a street, and not what was set."""


@dataclass(frozen=True, slots=True)
class ReadPoint:
    """A point as a file has it, by the line on which it begins.

    `code` is empty where the format has one name only; that one then stands in `name`. `zone` is as typed, without
    its axis. `role` and `zone_from` are what the file says; roles follow from place and type all the same.
    """

    line: int
    code: str
    name: str
    position: Position
    elevation_m: float | None = None
    zone: Zone | None = None
    role: Role | None = None
    zone_from: ZoneFrom | None = None


@dataclass(frozen=True, slots=True)
class TaskReading:
    """One task of a file. Where there are problems the points are not complete, and nothing should be kept.

    `name` is empty where the file has none. `type` and what follows are None where the file does not say.
    `declared_at` is UTC, `flight_date` ISO. `said` is what else our own formats say, by name: `set`, `revision`,
    `fingerprint`, `contest`, `day`, `class`, `variant`, `status`, `earth`, `start_deduction`, `finish_deduction`.
    """

    format: str
    name: str
    points: tuple[ReadPoint, ...]
    type: TaskType | None = None
    time_s: int | None = None
    speed_kmh: float | None = None
    free: FreeChoice | None = None
    tags: tuple[str, ...] = ()
    take_off: ReadPoint | None = None
    landing: ReadPoint | None = None
    declared_at: str | None = None
    flight_date: str | None = None
    said: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    problems: tuple[RowProblem, ...] = ()
    notes: tuple[str, ...] = ()
    is_line: bool = False
    """Drawn as a line of points: it has an order, and says nothing else of a task."""


class Problems:
    """Gathers what is wrong with a file, and reads single texts: None where one cannot be read, and it is told."""

    def __init__(self, known: Iterable[RowProblem] = ()) -> None:
        self.found = list(known)

    def tell(self, line: int, field: str | None, value: str | None, code: str, message: str) -> None:
        """Note a problem of a field on a line."""
        shown = None if value is None else value[:_LONGEST_SHOWN]
        self.found.append(RowProblem(line, field, shown, code, message))

    def sorted(self) -> tuple[RowProblem, ...]:
        """Return the problems in order of line."""
        return tuple(sorted(self.found, key=lambda problem: problem.line))

    def decimal(self, line: int, field: str, text: str) -> float | None:
        """Return a number with a decimal point; None for an empty text, which is no problem."""
        if not text:
            return None
        if _DECIMAL.fullmatch(text) is None:
            self.tell(line, field, text, "bad-number", "it is no decimal number")
            return None
        if abs(float(text)) > _LARGEST:
            self.tell(line, field, text, "out-of-range", f"it is beyond {_LARGEST:,.0f}")
            return None
        return float(text)

    def whole(self, line: int, field: str, text: str) -> int | None:
        """Return a whole number from 0 on; None for an empty text, which is no problem."""
        if not text:
            return None
        if not (text.isascii() and text.isdigit() and len(text) <= 9):
            self.tell(line, field, text, "bad-number", "it is no whole number")
            return None
        return int(text)

    def position(self, line: int, latitude: str, longitude: str) -> Position | None:
        """Return the position for two texts of decimal degrees."""
        values = []
        for name, text, limit in (("latitude_deg", latitude, 90.0), ("longitude_deg", longitude, 180.0)):
            value = self.decimal(line, name, text)
            if value is None:
                if not text:
                    self.tell(line, name, text, "missing-value", "it is missing")
            elif abs(value) > limit:
                self.tell(line, name, text, "out-of-range", f"it is not within -{limit:.0f} to {limit:.0f} degrees")
            else:
                values.append(value)
        return Position.at(values[0], values[1]) if len(values) == 2 else None

    def zone(self, line: int, text: str) -> Zone | None:
        """Return the zone that a text means; None for an empty text, which is no problem."""
        if not text:
            return None
        try:
            return parse_zone(text)
        except UsageError as error:
            self.tell(line, "zone", text, error.code, error.message)
            return None

    def choice(self, line: int, field: str, text: str, kind: type[Choice]) -> Choice | None:
        """Return one of the words of a kind; None for an empty text, which is no problem."""
        if not text:
            return None
        if text not in set(kind):
            self.tell(line, field, text, "bad-choice", f"it is none of {', '.join(kind)}")
            return None
        return kind(text)


def read_point(
    problems: Problems,
    line: int,
    texts: Mapping[str, str],
    *,
    elevation: str = "elevation_m",
    origin: str = "zone_from",
) -> ReadPoint | None:
    """Return a point whose values are told by name, None without a position; what cannot be read is told.

    `elevation` and `origin`: how the format calls the elevation and where a zone came from.
    """
    position = problems.position(line, texts.get("latitude_deg", ""), texts.get("longitude_deg", ""))
    elevation_m = problems.decimal(line, elevation, texts.get(elevation, ""))
    zone = problems.zone(line, texts.get("zone", ""))
    role = problems.choice(line, "role", texts.get("role", ""), Role)
    zone_from = problems.choice(line, origin, texts.get(origin, ""), ZoneFrom)
    code, name = read_label(texts.get("code", "")), read_label(texts.get("name", ""))
    return None if position is None else ReadPoint(line, code, name, position, elevation_m, zone, role, zone_from)


def read_label(text: str) -> str:
    """Return a name as it is kept: control characters made blanks, trimmed."""
    return clean_text(text)
