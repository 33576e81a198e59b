"""Where gliders stood, held against the aerodromes of a set: confirmed, misplaced, and missing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from taskdb.core.checks.flown_places import Misplaced, marked_by, misplaced_aerodromes, nearest_waypoint
from taskdb.core.flights.places import StoodPlace
from taskdb.core.model import Waypoint
from taskdb.services.desk import Desk
from taskdb.services.logs import read_stands
from taskdb.services.references import SetAt, resolve_set
from taskdb.store import sets as set_rows


@dataclass(frozen=True)
class Marked:
    """A place where gliders stood, and the waypoints that mark it with their distances, nearest first."""

    place: StoodPlace
    waypoints: tuple[tuple[float, Waypoint], ...]


@dataclass(frozen=True)
class Unmarked:
    """A place that no waypoint marks: a candidate to add; and the nearest waypoint with its distance.

    `perhaps` are the codes of aerodromes that may belong there.
    """

    place: StoodPlace
    nearest: tuple[float, Waypoint] | None
    perhaps: tuple[str, ...] = ()


@dataclass(frozen=True)
class FlightPlaces:
    """What flights say of a set's places. `left_out` says in sentences which logs told nothing, and why."""

    at: SetAt
    logs: int
    marked: tuple[Marked, ...]
    misplaced: tuple[Misplaced, ...]
    unmarked: tuple[Unmarked, ...]
    left_out: tuple[str, ...]


def flight_places(
    desk: Desk, paths: Sequence[str], set_reference: str, progress: Callable[[str], None] | None = None
) -> FlightPlaces:
    """Return where the gliders of flight logs stood, against the waypoints of a set; nothing is kept.

    Raises NotFoundError for a set or path that is not there, InputError where no log can be read.
    """
    with desk.store.reading() as c:
        at = resolve_set(c, set_reference)
        waypoints = set_rows.waypoints_at(c, at.head.id, at.revision)
    read = read_stands(paths, progress)
    marks = [Marked(place, marked_by(place, waypoints)) for place in read.places]
    misplaced = misplaced_aerodromes(read.places, waypoints)
    unmarked = [
        Unmarked(
            one.place,
            nearest_waypoint(one.place.position, waypoints),
            tuple(found.waypoint.code for found in misplaced if found.place == one.place),
        )
        for one in marks
        if not one.waypoints
    ]
    marked = tuple(one for one in marks if one.waypoints)
    return FlightPlaces(at, read.logs, marked, misplaced, tuple(unmarked), read.left_out)
