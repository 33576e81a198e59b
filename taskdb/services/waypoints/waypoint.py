"""Waypoints: finding them by code, name or nearness, and showing one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.filters.waypoints import WaypointFilter, rank
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Feature, Landable, Position, Waypoint
from taskdb.core.pasted import command_line, quoted
from taskdb.errors import NotFoundError, RefusedError, UsageError
from taskdb.services.desk import Desk
from taskdb.services.references import (
    SetAt,
    not_found,
    resolve_waypoint,
    sets_asked,
    split_set_prefix,
)
from taskdb.store import past, sets as set_rows, waypoints as waypoint_rows

if TYPE_CHECKING:
    from taskdb.core.kept import SetRevisionInfo
    from taskdb.store.engine import Connection


@dataclass(frozen=True)
class FindRequest:
    """What to look for. `near` is a reference or a position and goes with `within_m`."""

    text: str | None = None
    set_reference: str | None = None
    near: str | None = None
    within_m: float | None = None
    landable: Landable | None = None
    feature: Feature | None = None
    limit: int | None = None


@dataclass(frozen=True)
class FoundWaypoint:
    at: SetAt
    waypoint: Waypoint
    distance_m: float | None = None


@dataclass(frozen=True)
class Found:
    waypoints: tuple[FoundWaypoint, ...]
    total: int


def find_waypoints(desk: Desk, request: FindRequest) -> Found:
    """Return the waypoints that fit, best first (nearest first with `near`), cut at `limit`, and how many there are."""
    if (request.near is None) != (request.within_m is None):
        raise UsageError("near-and-within", "--near and --within go together.", hint="E.g. --near HOME --within 25km.")
    with desk.store.reading() as c:
        sets = sets_asked(c, request.set_reference)
        near = place_position(c, request.near, sets) if request.near is not None else None
        wanted = WaypointFilter(request.text, near, request.within_m, request.landable, request.feature)
        found = [
            FoundWaypoint(at, waypoint, distance_m(near, waypoint.position) if near is not None else None)
            for at in sets
            for waypoint in waypoint_rows.find_waypoints(c, at.head.id, at.revision, wanted)
        ]
    found.sort(key=lambda hit: _order(hit, request.text))
    return Found(tuple(found[: request.limit]), len(found))


def _order(hit: FoundWaypoint, text: str | None) -> tuple[float, tuple[int, str], str]:
    near = hit.distance_m if hit.distance_m is not None else 0.0
    return near, rank(text or "", hit.waypoint), hit.at.head.name


def place_position(c: Connection, text: str, sets: list[SetAt]) -> Position:
    """Return the position that `text` means: a position in any notation, or a waypoint of one of the sets."""
    from taskdb.core.notation import looks_like_position, parse_position

    if looks_like_position(text):
        return parse_position(text)
    # A copied set has the same places: where all sets agree on the position there is nothing to ask.
    return find_reference(c, text, sets, same=lambda waypoint: waypoint.position).waypoint.position


def find_reference(
    c: Connection, reference: str, sets: list[SetAt], same: Callable[[Waypoint], object] | None = None
) -> FoundWaypoint:
    """Return the one waypoint that `CODE`, `SET:CODE` or a name means among the sets; refused where several fit.

    `same`: what is wanted of the waypoint; several that agree in it are as good as one, and the first is returned.
    """
    at, rest = split_set_prefix(c, reference)
    if at is not None:
        return FoundWaypoint(at, resolve_waypoint(c, rest, at))
    if len(sets) == 1:
        return FoundWaypoint(sets[0], resolve_waypoint(c, reference, sets[0]))
    hits = []
    for candidate in sets:
        try:
            hits.append(FoundWaypoint(candidate, resolve_waypoint(c, reference, candidate)))
        except NotFoundError:
            continue
    if not hits:
        raise not_found("waypoint", reference, [], command_line("waypoint find", reference))
    if len(hits) > 1 and (same is None or len({same(hit.waypoint) for hit in hits}) > 1):
        choices = [f"{hit.at.head.name}:{hit.waypoint.code}" for hit in hits]
        raise RefusedError(
            "ambiguous-waypoint",
            f"{reference!r} stands in {len(hits)} sets: {', '.join(choices)}.",
            hint=f"Write SET:CODE, e.g. {quoted(choices[0])}, or give --set.",
            details={"choices": choices},
        )
    return hits[0]


def show_waypoint(desk: Desk, reference: str, set_reference: str | None = None) -> FoundWaypoint:
    """Return the one waypoint that the reference means; NotFoundError for none, RefusedError for several."""
    with desk.store.reading() as c:
        return find_reference(c, reference, sets_asked(c, set_reference))


@dataclass(frozen=True)
class StateShown:
    """A state of a waypoint, and the revisions that began and ended it: who, when, why.

    `ended` is None while the state stands. `is_retirement` says that it was ended without another in its place.
    """

    waypoint: Waypoint
    began: SetRevisionInfo
    ended: SetRevisionInfo | None
    is_retirement: bool


def waypoint_history(desk: Desk, reference: str, set_reference: str | None = None) -> tuple[SetAt, list[StateShown]]:
    """Return every state that a waypoint has had in its set, oldest first, whatever its code was; retired ones too."""
    with desk.store.reading() as c:
        at, waypoint = _standing_or_retired(c, reference, set_reference)
        assert waypoint.identity is not None  # what a set has or had has one
        history = set_rows.waypoint_history(c, at.head.id, waypoint.identity)
        following = [first for first, _, _ in history[1:]]
        states = []
        for (first, last, state), next_first in zip(history, [*following, None], strict=True):
            began = set_rows.revision_info(c, at.head.id, first)
            assert began is not None  # a state's revision is there by its key
            ended = None if last is None else set_rows.revision_info(c, at.head.id, last)
            states.append(StateShown(state, began, ended, last is not None and next_first != last))
        return at, states


def _standing_or_retired(c: Connection, reference: str, set_reference: str | None) -> tuple[SetAt, Waypoint]:
    sets = sets_asked(c, set_reference)
    try:
        hit = find_reference(c, reference, sets)
        return hit.at, hit.waypoint
    except NotFoundError:
        prefix, rest = split_set_prefix(c, reference)
        asked = sets if prefix is None else [prefix]
        retired = [(at, former.waypoint) for at in asked for former in past.retired_waypoints(c, at.head.id, rest)]
        if len(retired) != 1:
            raise
        return retired[0]
