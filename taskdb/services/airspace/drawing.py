"""Volumes drawn by hand: round points of the catalogue or about one of them; and volumes retired."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.airspace.heights import limits_problem
from taskdb.core.airspace.rings import mend
from taskdb.core.airspace.volume import GROUND, UNLIMITED, Kind, Limit, Volume
from taskdb.core.geodesy import destinations_from
from taskdb.core.model import Position
from taskdb.core.names import NAME_LIMIT, clean_text, require_name
from taskdb.core.pasted import command_line
from taskdb.errors import RefusedError, UsageError
from taskdb.formats.airspace.assembly import cut
from taskdb.services.airspace.airspace import AirspaceShown, revision_after
from taskdb.services.references import not_found, resolve_airspace, sets_asked
from taskdb.services.waypoints.waypoint import place_position
from taskdb.store import airspaces as airspace_rows

if TYPE_CHECKING:
    from taskdb.services.desk import Desk, Write
    from taskdb.store.engine import Connection, Writing

CIRCLE_SIDES = 180
LARGEST_RADIUS_M = 500_000.0


@dataclass(frozen=True)
class Drawn:
    """A volume to be drawn: through points in order, or round one. Points are references or positions.

    `set_reference` is the set in which they are looked up, None all of them.
    """

    airspace: str
    volume: str
    through: tuple[str, ...] = ()
    round: str | None = None
    radius_m: float | None = None
    kind: Kind = Kind.KEEP_OUT
    floor: Limit = GROUND
    ceiling: Limit = UNLIMITED
    set_reference: str | None = None


def add_volume(desk: Desk, drawn: Drawn, write: Write) -> AirspaceShown:
    """Draw a volume into an airspace as a new revision; an airspace that is not there is made.

    UsageError for ground that cannot be drawn, RefusedError where a volume of that name stands.
    """
    airspace = require_name(drawn.airspace, what="airspace")
    name = _volume_name(drawn.volume)
    why = limits_problem(drawn.floor, drawn.ceiling)
    if why is not None:
        raise UsageError("upside-down", f"{name}: {why}.", hint="Give --floor and --ceiling, the lower one first.")

    def work(writing: Writing) -> AirspaceShown:
        c = writing.connection
        polygons = _polygons(name, _ring(c, drawn))
        volume = Volume.of(name, drawn.kind, drawn.floor, drawn.ceiling, polygons)
        head = airspace_rows.find_airspace(c, airspace)
        before = () if head is None else airspace_rows.volumes_at(c, head.id, head.newest)
        if any(standing.name == name for standing in before):
            raise RefusedError(
                "volume-exists",
                f"There is a volume {name!r} in {airspace!r} already.",
                hint=f"Choose another name, or retire it: {command_line('airspace retire', airspace, name)}",
            )
        head = head or airspace_rows.create_airspace(writing, airspace)
        return _write(writing, head, before, sorted((*before, volume), key=lambda one: one.name))

    return desk.write(write, work)


def retire_volume(desk: Desk, airspace: str, volume: str, write: Write) -> AirspaceShown:
    """Retire a volume as a new revision; earlier revisions keep it. NotFoundError with the nearest names."""

    def work(writing: Writing) -> AirspaceShown:
        c = writing.connection
        head = resolve_airspace(c, airspace).head
        before = airspace_rows.volumes_at(c, head.id, head.newest)
        name = clean_text(volume)
        after = [standing for standing in before if standing.name != name]
        if len(after) == len(before):
            shows = command_line("airspace show", head.name)
            raise not_found("volume", volume, [standing.name for standing in before], shows)
        return _write(writing, head, before, after)

    return desk.write(write, work)


def _write(
    writing: Writing, head: airspace_rows.AirspaceHead, before: Sequence[Volume], after: Sequence[Volume]
) -> AirspaceShown:
    written = airspace_rows.write_airspace(writing, head, revision_after(before, after, source=None))
    info = airspace_rows.airspace_info(writing.connection, written.id, written.newest)
    return AirspaceShown(info, tuple(after))


def _volume_name(text: str) -> str:
    name = clean_text(text)
    if not name or len(name) > NAME_LIMIT:
        why = "it is empty" if not name else f"it is longer than {NAME_LIMIT} characters"
        raise UsageError("bad-name", f"{name[:NAME_LIMIT]!r} cannot be the name of a volume: {why}.", hint="Name it.")
    return name


def _ring(c: Connection, drawn: Drawn) -> list[Position]:
    """Return the positions of the outline, not closed."""
    if bool(drawn.through) == (drawn.round is not None) or (drawn.round is None) != (drawn.radius_m is None):
        raise UsageError(
            "through-or-round",
            "A volume is drawn through points, or round one with a radius.",
            hint="Give --through CODE CODE CODE…, or --round REF --radius D.",
        )
    sets = sets_asked(c, drawn.set_reference)
    if drawn.round is None or drawn.radius_m is None:
        return [place_position(c, reference, sets) for reference in drawn.through]
    if not 0 < drawn.radius_m <= LARGEST_RADIUS_M:
        raise UsageError("bad-radius", "A radius is above 0 and at most 500 km.", hint="Write e.g. --radius 3km.")
    # Its sides touch the circle from outside: a volume is never smaller than what was asked for.
    reach = drawn.radius_m / math.cos(math.pi / CIRCLE_SIDES)
    bearings = [360.0 * n / CIRCLE_SIDES for n in range(CIRCLE_SIDES)]
    return list(destinations_from(place_position(c, drawn.round, sets), bearings, [reach] * CIRCLE_SIDES))


def _polygons(name: str, ring: Sequence[Position]) -> list[list[tuple[tuple[int, int], ...]]]:
    """Return the ground within an outline. UsageError where it crosses itself or encloses nothing."""
    closed = [(position.longitude_deg, position.latitude_deg) for position in (*ring, ring[0])]
    ground = mend([[closed]], short_way=True)
    if ground.problems:
        told = "; ".join(problem.message for problem in ground.problems)
        raise UsageError(
            ground.problems[0].code,
            f"{name} cannot be drawn: {told}.",
            hint="Name at least three points in the order in which its outline runs.",
        )
    return cut(ground)
