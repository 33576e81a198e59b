"""What the writers share: the task that each is handed, and single values as texts."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from taskdb.core.plain import degrees

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from taskdb.core.course.measure import Course
    from taskdb.core.model import Place, Task, Waypoint


@dataclass(frozen=True, slots=True)
class ExportedTask:
    """A task whose points are resolved, its measured course, and what names it.

    `created_at`: the revision's time, UTC; `flight_date`: ISO, where it is known.
    """

    task: Task
    course: Course
    revision: int
    fingerprint: str
    created_at: str | None = None
    flight_date: str | None = None
    mark: str | None = None
    """What its description says before all else, such as that it is proposed and was not issued."""


@dataclass(frozen=True, slots=True)
class InOrder:
    """Waypoints that come in order of code already: written as they come, and never held all at once."""

    waypoints: Iterable[Waypoint]

    def __iter__(self) -> Iterator[Waypoint]:
        return iter(self.waypoints)


def in_order(waypoints: Iterable[Waypoint]) -> Iterable[Waypoint]:
    """Return waypoints in order of code (Unicode code points)."""
    return waypoints if isinstance(waypoints, InOrder) else sorted(waypoints, key=lambda waypoint: waypoint.code)


def coordinate(value_deg: float) -> str:
    """Return degrees with the seven decimals that a position is kept with."""
    return f"{degrees(value_deg):.7f}"


def number(value: float) -> str:
    """Return a number without needless decimals: `500`, `310.81`."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


def format_elevation(metres: float | None) -> str:
    """Return an elevation with at most one decimal and no `.0`; empty where it is not known."""
    if metres is None:
        return ""
    text = format(Decimal(repr(round(metres, 1) + 0.0)), "f")
    return text.removesuffix(".0")


def place_label(place: Place) -> str:
    """Return what names a place where there is one name only: its code, and the name where it says more."""
    return place.code if place.name in ("", place.code) else f"{place.code} {place.name}"
