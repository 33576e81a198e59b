"""A difference applied to a state: the judge of every difference that is computed, merged or read."""

from __future__ import annotations

from collections.abc import Iterable

from taskdb.core.history.changes import SetDiff, changed_fields, identity_of
from taskdb.core.model import Waypoint


def apply(state: Iterable[Waypoint], difference: SetDiff) -> list[Waypoint]:
    """Return the state after a difference, in code-point order of code.

    Raises ValueError where the state is not one that the difference starts from: merging is another matter.
    """
    result = {identity_of(waypoint): waypoint for waypoint in state}
    for waypoint in difference.retired:
        _take(result, waypoint)
    for old, _ in difference.changed:
        _take(result, old)
    for waypoint in (*difference.added, *(new for _, new in difference.changed)):
        if identity_of(waypoint) in result:
            raise ValueError(f"{waypoint.code} stands already")
        result[identity_of(waypoint)] = waypoint
    return sorted(result.values(), key=lambda waypoint: waypoint.code)


def _take(state: dict[str, Waypoint], expected: Waypoint) -> None:
    found = state.pop(identity_of(expected), None)
    if found is None or changed_fields(found, expected):
        raise ValueError(f"{expected.code} does not stand as the difference expects it")
