"""What a modified assigned task leaves to the pilot: what was typed of it looked up, and brought onto another set."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.core.course.free import free_zone_problem
from taskdb.core.model import FreeChoice, Place, Role, Task, TaskType, Zone, ZoneFrom
from taskdb.core.pasted import quoted
from taskdb.errors import NotFoundError, RefusedError, UsageError
from taskdb.services.references import SetAt, resolve_set, resolve_waypoint, set_under, split_revision
from taskdb.store import sets as set_rows, waypoints as waypoint_rows

if TYPE_CHECKING:
    from taskdb.core.history.carry import Carried
    from taskdb.store.engine import Connection

Defaults = Mapping[Role, tuple[Zone, ZoneFrom]]


@dataclass(frozen=True)
class FreeRequest:
    """What was typed of the free points; None leaves what stands, in a new task the default.

    `chosen_from` is a set or codes parted by commas. `most_points` 0 means any number.
    """

    most_points: int | None = None
    chosen_from: str | None = None
    no_repeat: bool | None = None
    zone: Zone | None = None
    default_zone: bool = False
    """Take the zone back to the default of a turn point."""


def chosen_free(
    c: Connection,
    request: FreeRequest | None,
    task_type: TaskType,
    at: SetAt,
    defaults: Defaults,
    before: FreeChoice | None = None,
) -> FreeChoice | None:
    """Return the free choice of a task of that type on a set: None where it is not modified.

    Where nothing was typed the points are those of the task's set, as many as the pilot likes, each with the zone of a
    turn point; `before` is what stood. UsageError for a free choice in a task of another type, NotFoundError for a set
    or code that is not there.
    """
    if task_type is not TaskType.MODIFIED:
        if request is not None:
            raise UsageError(
                "free-not-modified",
                "A free choice of points belongs to a modified assigned task.",
                hint="Add --type modified.",
            )
        return None
    free = before or _with_zone(FreeChoice(from_set=str(at)), None, defaults)
    if request is None:
        return free
    if request.most_points is not None:
        free = replace(free, most_points=request.most_points or None)
    if request.no_repeat is not None:
        free = replace(free, no_repeat=request.no_repeat)
    if request.chosen_from is not None:
        free = _chosen_from(c, free, request.chosen_from, at)
    if request.zone is not None or request.default_zone:
        free = _with_zone(free, request.zone, defaults)
    return free


def _with_zone(free: FreeChoice, own: Zone | None, defaults: Defaults) -> FreeChoice:
    zone, origin = (own, ZoneFrom.OWN) if own is not None else defaults[Role.TURN]
    problem = free_zone_problem(zone)
    if problem is not None:
        raise RefusedError(
            "zone-not-for-free-points",
            f"A free point cannot have the zone {zone.text!r}: {problem}.",
            hint='Give one of its own, e.g. --free-zone "cylinder 500m".',
        )
    return replace(free, zone=zone, zone_from=origin)


def _chosen_from(c: Connection, free: FreeChoice, text: str, at: SetAt) -> FreeChoice:
    """Return the choice from a set (`SET`, `SET@R`) or from codes (`003,004`; a single code may stand alone)."""
    words = [word.strip() for word in text.split(",") if word.strip()]
    if not words:
        raise UsageError("bad-value", "--free-from names nothing.", hint="Write --free-from SET or CODE,CODE.")
    if "," not in text and set_rows.find_set(c, split_revision(text, what="set")[0]) is not None:
        if waypoint_rows.candidates(c, at.head.id, at.revision, waypoint_rows.Stage.CODE, words[0]):
            raise RefusedError(
                "ambiguous-source",
                f"{text!r} is a set, and a code of {at}.",
                hint=f"Write --free-from {quoted(f'{text}@1')} for a set's revision, "
                f"or {quoted(f'{text},')} for the code.",
            )
        return replace(free, from_set=str(resolve_set(c, text)), from_codes=())
    codes, missing = [], []
    for word in words:
        try:
            codes.append(resolve_waypoint(c, word, at).code)
        except NotFoundError as error:
            missing.append(error)
    if missing:
        lines = [f"{error.message} {error.hint or ''}".strip() for error in missing]
        what = "neither a set nor a point" if len(words) == 1 else "no point"
        raise NotFoundError(
            "free-point-not-found",
            f"--free-from: {len(missing)} of {len(words)} named {'is' if len(missing) == 1 else 'are'} {what} of {at}.",
            hint="`taskdb waypoint find TEXT` searches all sets, `taskdb set list` lists them.",
            details={"lines": lines},
        )
    return replace(free, from_set=None, from_codes=tuple(dict.fromkeys(codes)))


def free_places(c: Connection, task: Task) -> tuple[Place, ...]:
    """Return the places of a task's free codes as its set revision has them; codes that it lacks are left out."""
    if task.free is None or not task.free.from_codes:
        return ()
    at = set_under(c, task)
    found = (
        waypoint
        for code in task.free.from_codes
        for waypoint in waypoint_rows.candidates(c, at.head.id, at.revision, waypoint_rows.Stage.CODE, code)
    )
    return tuple(map(Place.of, found))


def free_set(c: Connection, task: Task) -> SetAt | None:
    """Return the set revision of which a task leaves every point to the pilot; None where it leaves none of a set.

    What an earlier version kept as it was typed may name no set: None too.
    """
    named = None if task.free is None else task.free.from_set
    if named is None:
        return None
    try:
        return resolve_set(c, named)
    except (NotFoundError, UsageError):
        return None


def carried_free(before: Task, carried: Sequence[Carried], at: SetAt, defaults: Defaults) -> FreeChoice | None:
    """Return the free choice on other ground: its codes as they were carried, its own set as that ground has it.

    A zone set by hand stays, a default is taken anew; another set than the task's own stays as it was.
    """
    free = before.free
    if free is None:
        return None
    from_set = free.from_set
    if from_set is not None and split_revision(from_set, what="set")[0] == before.set_name:
        from_set = str(at)
    codes = tuple(dict.fromkeys(result.place.code for result in carried))
    moved = replace(free, from_set=from_set, from_codes=codes)
    return moved if free.zone_from is ZoneFrom.OWN else _with_zone(moved, None, defaults)
