"""Changing single waypoints: add, edit, retire, restore. Each is a revision of the set; nothing is ever deleted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeVar

from taskdb.core.filters.waypoints import WaypointFilter
from taskdb.core.geodesy import distance_m
from taskdb.core.history.changes import SetChanges, changed_fields, identity_of
from taskdb.core.history.facts import ChangeFacts, facts_of
from taskdb.core.history.locate import is_same_place
from taskdb.core.matching.limits import ONE_PLACE_WITHIN_M
from taskdb.core.model import Waypoint
from taskdb.core.numbers import counted
from taskdb.core.pasted import command_line
from taskdb.core.quantities import format_short_distance
from taskdb.errors import NotFoundError, RefusedError, UsageError
from taskdb.services.desk import Desk, Write, require_confirmed
from taskdb.services.references import (
    SetAt,
    resolve_set,
    resolve_waypoint,
    sets_asked,
    split_revision,
    split_set_prefix,
    task_title,
)
from taskdb.services.waypoints.typed_values import WaypointTexts, read_code, read_values, with_typed
from taskdb.services.waypoints.waypoint import find_reference
from taskdb.store import past, sets as set_rows, tasks as task_rows, waypoints as waypoint_rows

if TYPE_CHECKING:
    from taskdb.core.kept import TaskUse
    from taskdb.store.engine import Connection, Writing
    from taskdb.store.past import Former
    from taskdb.store.sets import SetHead

T = TypeVar("T")


@dataclass(frozen=True)
class Edited:
    """A waypoint as it stands now (retired: as it stood last) and what was done to it.

    `facts` is None for an addition, a retirement and a return. `tasks` are saved tasks that use it and are stale
    now or will be. `told` are sentences worth reading. `typed_position` is a position as it was typed, None where none
    was: people then see what was understood.
    """

    set_name: str
    revision: int
    waypoint: Waypoint
    done: str
    facts: ChangeFacts | None
    tasks: tuple[TaskUse, ...]
    told: tuple[str, ...]
    typed_position: str | None = None


def add_waypoint(desk: Desk, set_reference: str, texts: WaypointTexts, write: Write) -> Edited:
    """Add a waypoint to a set. RefusedError where its code stands already; asks where it is a retired one's place."""
    read = read_values(texts)
    missing = [f"--{name}" for name, field in (("name", "name"), ("at", "position")) if field not in read.values]
    if "code" not in read.values or missing:
        raise UsageError(
            "missing-value",
            f"A waypoint needs a code, a name and a position; {', '.join(missing) or 'the code'} is missing.",
            hint="taskdb waypoint add SET CODE --name NAME --at POSITION",
        )

    def work(writing: Writing) -> Edited:
        c = writing.connection
        head, _ = _in_newest((resolve_set(c, set_reference), None))
        typed = with_typed(None, read.typed, ())
        waypoint = Waypoint(**read.values, identity=desk.new_identity(), typed=typed)
        _require_free_code(c, head, waypoint.code)
        told = [*_former_use(c, head, waypoint, write), *_neighbours(c, head, waypoint)]
        revision = set_rows.write_revision(writing, head, SetChanges(added=[waypoint]))
        return Edited(head.name, revision, waypoint, "added", None, (), tuple(told), texts.position)

    return desk.write(write, work)


def edit_waypoint(
    desk: Desk, reference: str, texts: WaypointTexts, write: Write, set_reference: str | None = None
) -> Edited:
    """Change what is given of a waypoint; no revision where nothing differs."""
    read = read_values(texts)
    if not read.values:
        raise UsageError(
            "nothing-to-change", "Nothing to change is given.", hint="E.g. --at POSITION, --name NAME, --clear radio."
        )

    def work(writing: Writing) -> Edited:
        c = writing.connection
        head, before = _in_newest(_found(c, reference, set_reference))
        cleared = [name for name, value in read.values.items() if value in (None, ())]
        after = replace(before, **read.values, typed=with_typed(before.typed, read.typed, cleared))
        tasks = task_rows.tasks_using(c, [identity_of(before)])
        if not changed_fields(before, after):
            writing.abandon()
            return Edited(head.name, head.newest, before, "unchanged", None, tasks, (), texts.position)
        told: list[str] = []
        if after.code != before.code:
            _require_free_code(c, head, after.code)
            told += _former_use(c, head, after, write)
        if after.position != before.position:
            told += _neighbours(c, head, after)
        revision = set_rows.write_revision(writing, head, SetChanges(changed=[(before, after)]))
        facts = facts_of((before, after))
        return Edited(head.name, revision, after, "changed", facts, tasks, tuple(told), texts.position)

    return desk.write(write, work)


def retire_waypoint(desk: Desk, reference: str, write: Write, set_reference: str | None = None) -> Edited:
    """Retire a waypoint: it leaves the set, and all its states stay. Asks where saved tasks use it, and lists them."""

    def work(writing: Writing) -> Edited:
        c = writing.connection
        head, waypoint = _in_newest(_found(c, reference, set_reference))
        tasks = task_rows.tasks_using(c, [identity_of(waypoint)])
        if tasks:
            names = [task_title(use.head) for use in tasks]
            require_confirmed(
                write,
                f"{_named(waypoint)} is used by {counted(len(names), 'saved task')}: "
                f"{', '.join(names)}. They keep their copy and become stale. Retire it?",
                tasks=names,
            )
        revision = set_rows.write_revision(writing, head, SetChanges(retired=[waypoint]))
        return Edited(head.name, revision, waypoint, "retired", None, tasks, ())

    return desk.write(write, work)


def restore_waypoint(
    desk: Desk, reference: str, write: Write, set_reference: str | None = None, code: str | None = None
) -> Edited:
    """Bring a retired waypoint back (`CODE`), or make one as it was at a revision (`SET@3:CODE`).

    `code` gives it another code, where its own is taken by now.
    """
    new_code = None if code is None else read_code(code)

    def work(writing: Writing) -> Edited:
        c = writing.connection
        head, wanted = _in_newest(_once(c, reference, set_reference))
        wanted = wanted if new_code is None else replace(wanted, code=new_code)
        identity = identity_of(wanted)
        standing = set_rows.waypoints_with_identities(c, head.id, head.newest, [identity]).get(identity)
        tasks = task_rows.tasks_using(c, [identity])
        if standing is not None and not changed_fields(standing, wanted):
            writing.abandon()
            return Edited(head.name, head.newest, standing, "unchanged", None, tasks, ())
        if standing is None or standing.code != wanted.code:
            _require_free_code(c, head, wanted.code, option="--code NEW")
        if standing is None:
            changes, facts, done = SetChanges(added=[wanted]), None, "brought back"
        else:
            changes, facts, done = SetChanges(changed=[(standing, wanted)]), facts_of((standing, wanted)), "changed"
        told = _neighbours(c, head, wanted)
        revision = set_rows.write_revision(writing, head, changes)
        return Edited(head.name, revision, wanted, done, facts, tasks, tuple(told))

    return desk.write(write, work)


# -- which waypoint is meant -------------------------------------------------------------------------------------


def _found(c: Connection, reference: str, set_reference: str | None) -> tuple[SetAt, Waypoint]:
    hit = find_reference(c, reference, sets_asked(c, set_reference))
    return hit.at, hit.waypoint


def _in_newest(seen: tuple[SetAt, T]) -> tuple[SetHead, T]:
    """Return the set that is written, and what was found in it. RefusedError where an old revision was named."""
    at, found = seen
    head = at.head
    if at.revision != head.newest:
        raise RefusedError(
            "old-revision",
            f"{at} is not the newest revision ({head.name}@{head.newest}); only that can be changed.",
            hint="Leave out @ and the number, or go back first: taskdb set restore SET@R",
        )
    return head, found


def _once(c: Connection, reference: str, set_reference: str | None) -> tuple[SetAt, Waypoint]:
    """Return the waypoint that is to come back, and the newest revision of its set."""
    prefix, rest = split_set_prefix(c, reference)
    named = set_reference if prefix is None else reference.partition(":")[0]
    sets = sets_asked(c, set_reference) if prefix is None else [prefix]
    if named is not None and split_revision(named, what="set")[1] is not None:
        (at,) = sets
        return SetAt(at.head, at.head.newest), resolve_waypoint(c, rest, at)
    reference = rest
    hits = [(at, former) for at in sets for former in past.retired_waypoints(c, at.head.id, reference)]
    if len(hits) == 1:
        return hits[0][0], hits[0][1].waypoint
    if not hits:
        raise _nothing_retired(c, reference, sets)
    choices = [_choice(at, former) for at, former in hits]
    raise RefusedError(
        "ambiguous-waypoint",
        f"{reference!r} fits {len(hits)} retired waypoints: {'; '.join(choices)}.",
        hint="Name the revision in which it stood, e.g. " + choices[0].split(" ")[0],
        details={"choices": choices},
    )


def _choice(at: SetAt, former: Former) -> str:
    waypoint = former.waypoint
    return f"{at.head.name}@{former.last_revision}:{waypoint.code} {waypoint.name}".strip()


def _nothing_retired(c: Connection, reference: str, sets: Sequence[SetAt]) -> Exception:
    for at in sets:
        for stage in waypoint_rows.Stage:
            hits = waypoint_rows.candidates(c, at.head.id, at.revision, stage, reference)
            if hits:
                name = at.head.name
                return RefusedError(
                    "not-retired",
                    f"{_named(hits[0])} stands in {at}; it is not retired.",
                    hint="To set it back to an earlier state: "
                    + command_line("waypoint restore", f"{name}@R:{hits[0].code}"),
                )
    where = ", ".join(at.head.name for at in sets) or "the store"
    return NotFoundError(
        "waypoint-not-found",
        f"No retired waypoint {reference!r} in {where}.",
        hint="`taskdb set diff SET@1 SET` lists what was retired.",
    )


# -- what is worth telling ---------------------------------------------------------------------------------------


def _require_free_code(c: Connection, head: SetHead, code: str, *, option: str = "another code") -> None:
    holder = set_rows.waypoints_with_codes(c, head.id, head.newest, [code]).get(code)
    if holder is not None:
        raise RefusedError(
            "code-in-use",
            f"The code {code} stands for {holder.name!r} in {head.name}@{head.newest}.",
            hint=f"Give {option}, or change that one: {command_line('waypoint edit', f'{head.name}:{code}')} …",
            details={"code": code, "name": holder.name},
        )


def _former_use(c: Connection, head: SetHead, waypoint: Waypoint, write: Write) -> list[str]:
    """Tell where the code stood for another place once; ask where it is the retired waypoint of this very place."""
    told = []
    formers = [f for f in past.former_holders(c, head.id, waypoint.code) if f.waypoint.identity != waypoint.identity]
    standing = set_rows.waypoints_with_identities(
        c, head.id, head.newest, [identity_of(f.waypoint) for f in formers]
    )  # fmt: skip
    for former in formers:
        was, until = former.waypoint, f"{head.name}@{former.last_revision}"
        off = format_short_distance(distance_m(was.position, waypoint.position))
        if is_same_place(was, waypoint) and was.identity not in standing:
            brings_back = command_line("waypoint restore", f"{head.name}:{was.code}")
            require_confirmed(
                write,
                f"{_named(was)} stood here ({off} away) until {until} and was retired: bring it back with "
                f"`{brings_back}`, and tasks know it again. Add a new one all the same?",
                retired=was.code,
            )
        else:
            told.append(f"the code {was.code} stood for another place until {until}: {was.name!r}, {off} away")
    return told


def _neighbours(c: Connection, head: SetHead, waypoint: Waypoint) -> list[str]:
    wanted = WaypointFilter(near=waypoint.position, within_m=ONE_PLACE_WITHIN_M)
    near = waypoint_rows.find_waypoints(c, head.id, head.newest, wanted)
    return [
        f"{_named(other)} lies {format_short_distance(distance_m(other.position, waypoint.position))} away"
        for other in near
        if other.identity != waypoint.identity
    ]


def _named(waypoint: Waypoint) -> str:
    return f"{waypoint.code} {waypoint.name}".strip()
