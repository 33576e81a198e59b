"""The JSON form of what the services of waypoints answer."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from taskdb.core.plain import waypoint_plain

if TYPE_CHECKING:
    from taskdb.core.kept import TaskUse
    from taskdb.services.waypoints.editing import Edited
    from taskdb.services.waypoints.waypoint import FoundWaypoint


def found_plain(hit: FoundWaypoint) -> dict[str, Any]:
    """Return a waypoint that was found."""
    return waypoint_plain(hit.waypoint, set_name=hit.at.head.name, revision=hit.at.revision, distance_m=hit.distance_m)


def uses_plain(uses: Iterable[TaskUse]) -> list[dict[str, Any]]:
    """Return saved tasks with their points that are concerned."""
    return [{"task": u.head.name, "contest": u.head.contest_name, "points": list(u.codes)} for u in uses]


def edited_plain(done: Edited) -> dict[str, Any]:
    """Return an edited waypoint."""
    from taskdb.core.history.writers import changed_plain

    return {
        "set": done.set_name,
        "revision": done.revision,
        "done": done.done,
        "waypoint": waypoint_plain(done.waypoint, set_name=done.set_name, revision=done.revision),
        "change": None if done.facts is None else changed_plain(done.facts),
        "tasks": uses_plain(done.tasks),
        "told": list(done.told),
        "understood": understood_position(done),
    }


def understood_position(done: Edited) -> dict[str, Any] | None:
    """Return how a typed position was understood; None where none was typed."""
    if done.typed_position is None:
        return None
    from taskdb.core.notation import Notation, format_position

    typed = done.waypoint.typed
    return {
        "typed": done.typed_position,
        "notation": None if typed is None else typed.notation,
        "position": format_position(done.waypoint.position, Notation.MINUTES, 3),
    }
