"""What every task writer is handed: one revision of a task, measured, and ready to be written out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from taskdb.core.model import Place, Zone
from taskdb.core.plain import course_degrees, degrees, metres

if TYPE_CHECKING:
    from taskdb.core.course.measure import Course
    from taskdb.core.model import Task


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


def coordinate(value_deg: float) -> str:
    """Return degrees with the seven decimals that a position is kept with."""
    return f"{degrees(value_deg):.7f}"


def number(value: float) -> str:
    """Return a number without needless decimals: `500`, `310.81`."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


def zone_values(zone: Zone) -> dict[str, Any]:
    """Return what applies to a zone's shape, by the names of its JSON form; metres and true degrees."""
    lengths = {
        "radius_m": zone.radius_m,
        "inner_radius_m": zone.inner_radius_m,
        "length_m": zone.length_m,
        "core_radius_m": zone.core_radius_m,
    }
    angles = {"from_radial_deg": zone.from_radial_deg, "to_radial_deg": zone.to_radial_deg, "axis_deg": zone.axis_deg}
    values: dict[str, Any] = {"shape": zone.shape.value}
    values |= {name: metres(value) for name, value in lengths.items() if value is not None}
    if zone.opening_deg is not None:
        values["opening_deg"] = degrees(zone.opening_deg)
    values |= {name: course_degrees(value) for name, value in angles.items() if value is not None}
    if zone.orientation is not None:
        values["orientation"] = zone.orientation.value
    values["text"] = zone.text
    return values


def place_label(place: Place) -> str:
    """Return what names a place where there is one name only: its code, and the name where it says more."""
    return place.code if place.name in ("", place.code) else f"{place.code} {place.name}"
