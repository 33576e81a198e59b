"""Finding what a reference means: `SET@3`, `CODE`, `SET:CODE`, `CONTEST:TASK@2`, a name, a position.

Never guesses: two hits at one stage are refused with the choices, a miss answers with the nearest names. What only
tasks and contests need is loaded where they are asked for: looking up a waypoint is the quickest thing there is.

What is to be changed is looked up again under the lock of its set: on SQLite a write holds the whole store and one look
is enough, but on a server others may give the set a revision between the look and the lock.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from taskdb.core.names import fold
from taskdb.core.pasted import command_line, quoted
from taskdb.errors import NotFoundError, RefusedError, UsageError
from taskdb.store import sets as set_rows, waypoints as waypoint_rows

if TYPE_CHECKING:
    from taskdb.core.kept import TaskHead
    from taskdb.core.model import Contest, Task, Waypoint
    from taskdb.store.airspaces import AirspaceHead
    from taskdb.store.contests import ContestHead
    from taskdb.store.engine import Connection
    from taskdb.store.sets import SetHead

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class SetAt:
    """A set at a revision."""

    head: SetHead
    revision: int

    def __str__(self) -> str:
        return f"{self.head.name}@{self.revision}"


@dataclass(frozen=True, slots=True)
class AirspaceAt:
    """An airspace at a revision."""

    head: AirspaceHead
    revision: int

    def __str__(self) -> str:
        return f"{self.head.name}@{self.revision}"


@dataclass(frozen=True, slots=True)
class TaskAt:
    head: TaskHead
    revision: int


def split_revision(reference: str, *, what: str) -> tuple[str, int | None]:
    """Split `NAME@3` into name and revision, None where only the name stands. UsageError for `NAME@x`."""
    name, at, number = reference.strip().rpartition("@")
    if not at:
        return reference.strip(), None
    if not name or not number.isascii() or not number.isdigit() or int(number) < 1:
        raise UsageError(
            "bad-reference",
            f"{reference!r} does not name a {what}'s revision.",
            hint="Write NAME for the newest or NAME@3 for revision 3.",
        )
    return name, int(number)


def nearest(text: str, names: Iterable[str], limit: int = 3) -> list[str]:
    """Return the names most like `text`, best first: what a mistyped reference may have meant."""
    from rapidfuzz import fuzz, process

    by_key = {name: fold(name) for name in names}
    hits = process.extract(fold(text), by_key, scorer=fuzz.WRatio, limit=limit, score_cutoff=60)
    return [name for _, _, name in hits]


def not_found(what: str, text: str, names: Iterable[str], list_command: str) -> NotFoundError:
    """Return the error for a named thing, with the nearest names."""
    near = nearest(text, names)
    hint = f"Did you mean {', '.join(near)}?" if near else f"`{list_command}` shows what there is."
    return NotFoundError(
        f"{what.replace(' ', '-')}-not-found",
        f"There is no {what} {text!r}.",
        hint=hint,
        details={"name": text, "nearest": near},
    )


def resolve_set(c: Connection, reference: str) -> SetAt:
    """Return the set at the revision that `SET` or `SET@3` names. NotFoundError with the nearest names."""
    name, number = split_revision(reference, what="set")
    head = set_rows.find_set(c, name)
    if head is None or head.newest == 0:
        raise not_found("set", name, [s.name for s in set_rows.list_sets(c)], "taskdb set list")
    if number is not None and number > head.newest:
        raise NotFoundError(
            "revision-not-found",
            f"The set {name!r} has no revision {number}; its newest is {head.newest}.",
            hint=f"`{command_line('set log', name)}` lists its revisions.",
            details={"name": name, "newest": head.newest},
        )
    return SetAt(head, number or head.newest)


def set_under(c: Connection, value: Contest | Task) -> SetAt:
    """Return the set revision on which a contest or a task stands."""
    return resolve_set(c, f"{value.set_name}@{value.set_revision}")


def sets_asked(c: Connection, reference: str | None) -> list[SetAt]:
    """Return the set that is named; every set of the store, at its newest revision, where none is."""
    names = [reference] if reference is not None else [summary.name for summary in set_rows.list_sets(c)]
    return [resolve_set(c, name) for name in names]


def only_set(c: Connection) -> SetAt:
    """Return the only set of the store; RefusedError with the choices where there are several or none."""
    sets = set_rows.list_sets(c)
    if len(sets) == 1:
        return resolve_set(c, sets[0].name)
    if not sets:
        raise NotFoundError(
            "set-not-found",
            "The store has no waypoint set yet.",
            hint="Import one: `taskdb set import FILE --into NAME`.",
        )
    names = [s.name for s in sets]
    raise RefusedError(
        "ambiguous-set",
        f"Neither a contest nor a set is given, and the store has {len(names)} sets.",
        hint=f"Give --contest NAME or --set NAME: {', '.join(map(quoted, names))}.",
        details={"choices": names},
    )


def resolve_airspace(c: Connection, reference: str) -> AirspaceAt:
    """Return the airspace at the revision that `NAME` or `NAME@3` names. NotFoundError with the nearest names."""
    from taskdb.store import airspaces as airspace_rows

    name, number = split_revision(reference, what="airspace")
    head = airspace_rows.find_airspace(c, name)
    if head is None or head.newest == 0:
        raise not_found("airspace", name, [a.name for a in airspace_rows.list_airspaces(c)], "taskdb airspace list")
    if number is not None and number > head.newest:
        raise NotFoundError(
            "revision-not-found",
            f"The airspace {name!r} has no revision {number}; its newest is {head.newest}.",
            hint=f"`{command_line('airspace log', name)}` lists its revisions.",
            details={"name": name, "newest": head.newest},
        )
    return AirspaceAt(head, number or head.newest)


def resolve_contest(c: Connection, name: str) -> ContestHead:
    """Return the contest of that name. NotFoundError with the nearest names; a retired contest is not found."""
    from taskdb.store import contests as contest_rows

    head = contest_rows.find_contest(c, name.strip())
    if head is None or head.retired:
        raise not_found("contest", name.strip(), [s.name for s in contest_rows.list_contests(c)], "taskdb contest list")
    return head


def contest_of(c: Connection, name: str | None) -> Contest | None:
    """Return the contest of that name at its newest revision; None for no name."""
    return None if name is None else newest_contest(c, name)[1]


def newest_contest(c: Connection, name: str) -> tuple[ContestHead, Contest]:
    """Return the contest of that name, with what it is at its newest revision."""
    from taskdb.store import contests as contest_rows

    head = resolve_contest(c, name)
    return head, contest_rows.contest_at(c, head.id, head.newest)


def resolve_waypoint(c: Connection, reference: str, at: SetAt) -> Waypoint:
    """Return the waypoint that `reference` means in the set at its revision, by the stages of the contract.

    Exact code, folded code, code without leading zeros, exact name, folded name, unique beginning: the first stage
    that hits decides; two hits are refused with the choices.
    """
    for stage in waypoint_rows.Stage:
        hits = waypoint_rows.candidates(c, at.head.id, at.revision, stage, reference)
        if len(hits) == 1:
            return hits[0]
        if hits:
            choices = [f"{w.code} {w.name}" for w in hits[:8]]
            raise RefusedError(
                "ambiguous-waypoint",
                f"{reference!r} fits {len(hits)} waypoints of {at}: {'; '.join(choices)}.",
                hint="Name the one that is meant by its code.",
                details={"choices": [w.code for w in hits]},
            )
    near = waypoint_rows.names_near(c, at.head.id, at.revision, reference)
    raise _no_waypoint(reference, str(at), near)


def _no_waypoint(reference: str, where: str, near: Sequence[str]) -> NotFoundError:
    hint = (
        f"Did you mean {', '.join(near)}?"
        if near
        else f"`{command_line('waypoint find', reference)}` searches all sets."
    )
    return NotFoundError(
        "waypoint-not-found",
        f"There is no waypoint {reference!r} in {where}.",
        hint=hint,
        details={"reference": reference, "nearest": list(near)},
    )


def split_set_prefix(c: Connection, reference: str) -> tuple[SetAt | None, str]:
    """Split `SET:CODE` or `SET@3:CODE` where SET is a set of the store; else the reference as it stands."""
    prefix, colon, rest = reference.partition(":")
    if colon and rest and set_rows.find_set(c, split_revision(prefix, what="set")[0]) is not None:
        return resolve_set(c, prefix), rest
    return None, reference


def resolve_task(c: Connection, reference: str, contest: str | None = None) -> TaskAt:
    """Return the task at the revision that `TASK`, `TASK@2` or `CONTEST:TASK` means.

    The exact name is tried first; `contest` narrows where it fits several; a retired task is found by its revision
    only.
    """
    from taskdb.store import task_lines, tasks as task_rows

    name, number = split_revision(reference, what="task")
    heads = task_rows.tasks_named(c, name)
    if not heads and ":" in name:
        contest_name, _, task_name = name.partition(":")
        heads = [h for h in task_rows.tasks_named(c, task_name) if h.contest_name == contest_name]
    if len(heads) > 1 and contest is not None:
        heads = [h for h in heads if h.contest_name == contest] or heads
    if number is None and len(heads) > 1:
        heads = [h for h in heads if not h.retired] or heads
    if not heads:
        raise not_found("task", name, [t.task for t in task_lines.list_tasks(c)], "taskdb task list")
    if len(heads) > 1:
        choices = [task_title(head) for head in heads]
        raise RefusedError(
            "ambiguous-task",
            f"{name!r} names {len(heads)} tasks: {', '.join(choices)}.",
            hint=f"Write CONTEST:TASK, e.g. {quoted(choices[-1])}",
            details={"choices": choices},
        )
    head = heads[0]
    if number is not None and number > head.newest:
        raise NotFoundError(
            "revision-not-found",
            f"The task {name!r} has no revision {number}; its newest is {head.newest}.",
            hint=f"`{command_line('task log', name)}` lists its revisions.",
            details={"name": name, "newest": head.newest},
        )
    return TaskAt(head, number or head.newest)


def task_title(head: TaskHead) -> str:
    """Return how a task is named where several contests may have it: `CONTEST:TASK`, or `TASK` without a contest."""
    return f"{head.contest_name}:{head.name}" if head.contest_name else head.name
