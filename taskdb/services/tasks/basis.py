"""What a task is built on and held against: the set revision and contest defaults behind it, and what has moved on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from taskdb.core.contests.scopes import zone_defaults
from taskdb.core.course.staleness import stale_reasons
from taskdb.core.model import Contest, Place, Role, Rules, Task, Zone, ZoneFrom
from taskdb.core.notation import looks_like_position, parse_position
from taskdb.core.pasted import quoted
from taskdb.errors import RefusedError, UsageError
from taskdb.services.references import (
    SetAt,
    newest_contest,
    only_set,
    resolve_set,
    resolve_waypoint,
    set_under,
    split_set_prefix,
)
from taskdb.services.tasks.free_points import free_places
from taskdb.store import contests as contest_rows, sets as set_rows, task_lines, tasks as task_rows
from taskdb.store.may_be_stale import Held, may_be_stale

if TYPE_CHECKING:
    from taskdb.core.kept import TaskHead
    from taskdb.store.contests import ContestHead
    from taskdb.store.engine import Connection


@dataclass(frozen=True)
class Basis:
    """What a task is built on: the set revision, and the contest with its defaults where there is one."""

    at: SetAt
    contest_head: ContestHead | None
    contest: Contest | None

    @property
    def rules(self) -> Rules:
        return self.contest.rules if self.contest is not None else Rules()

    @property
    def contest_id(self) -> int | None:
        return self.contest_head.id if self.contest_head is not None else None

    def task(self, **values: Any) -> Task:
        """Return a task on this basis; `values` are its other fields."""
        return Task(
            set_name=self.at.head.name,
            set_revision=self.at.revision,
            rules=self.rules,
            contest=self.contest.name if self.contest is not None else None,
            contest_revision=self.contest_head.newest if self.contest_head is not None else None,
            **values,
        )

    def defaults_for(self, class_name: str | None, day: int | None) -> Mapping[Role, tuple[Zone, ZoneFrom]]:
        """Return the zone defaults that count for a class on a day."""
        return zone_defaults(self.contest, class_name, day)


def basis_for(c: Connection, contest: str | None, set_reference: str | None) -> Basis:
    """Return what a new task is built on: the contest's pinned set, the set named, or the only set of the store."""
    if contest is not None and set_reference is not None:
        raise UsageError(
            "contest-and-set", "--contest brings its pinned set; --set cannot go with it.", hint="Give one of the two."
        )
    if contest is None:
        at = resolve_set(c, set_reference) if set_reference is not None else only_set(c)
        return Basis(at, None, None)
    head, value = newest_contest(c, contest)
    return Basis(set_under(c, value), head, value)


def resolve_place(c: Connection, reference: str, at: SetAt, number: int = 0) -> Place:
    """Return the place that a typed point means: a waypoint of the set, or a position of the task's own.

    A point of its own has no identity; its code is P and the number that it was given at.
    """
    if looks_like_position(reference):
        return Place(code=f"P{number}", name=reference.strip(), position=parse_position(reference))
    other, rest = split_set_prefix(c, reference)
    if other is not None and other.head.id != at.head.id:
        raise RefusedError(
            "other-set",
            f"{reference!r} is a point of {other}; the task stands on {at}.",
            hint=f"Use a point of {at.head.name}, or make the task with --set {quoted(other.head.name)}",
        )
    return Place.of(resolve_waypoint(c, rest, at))


def stale_tasks_of(c: Connection, head: ContestHead) -> tuple[str, ...]:
    """Return the names of a contest's tasks that are stale now, in code-point order."""
    # The head may be from before a change that is under way.
    contest = newest_contest(c, head.name)[1]
    at = set_under(c, contest)

    def is_default(role: Role, text: str, class_name: str | None, day: int | None) -> bool:
        return zone_defaults(contest, class_name, day)[role][0].text == text

    ids = sorted(may_be_stale(c, head.id, Held(at.head.id, at.revision, is_default)))
    rows = sorted(task_lines.tasks_with_ids(c, ids).values(), key=lambda row: row.task)
    return tuple(row.task for row in rows if staleness(c, row.head, task_rows.task_at(c, row.head.id, row.revision))[0])


def staleness(c: Connection, head: TaskHead, task: Task) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return why a task is stale, and what is worth saying beside it.

    In a contest it is held against the set revision that the contest pins and its newest defaults, else against the
    newest revision of its set.
    """
    newest = resolve_set(c, task.set_name)
    defaults = contest_at = None
    at = newest
    beside: tuple[str, ...] = ()
    if head.contest_name is not None:
        contest_head, contest = newest_contest(c, head.contest_name)
        at = set_under(c, contest)
        defaults = zone_defaults(contest, task.class_name, task.day)
        contest_at = f"{contest.name}@{contest_head.newest}"
        newest = resolve_set(c, contest.set_name)
        if newest.revision > at.revision:
            beside = (f"the contest stands on {at}; the set has moved on to {newest}",)
    free = free_places(c, task)
    identities = [place.identity for place in (*task.places, *free) if place.identity is not None]
    standing = None
    if at.head.name == task.set_name:
        standing = set_rows.waypoints_with_identities(c, at.head.id, at.revision, identities)
    reasons = stale_reasons(
        task, standing=standing, standing_at=str(at), defaults=defaults, contest_at=contest_at, free=free
    )
    return reasons, beside


def saved_defaults(c: Connection, head: TaskHead, task: Task) -> Mapping[Role, tuple[Zone, ZoneFrom]]:
    """Return the defaults of the contest revision that a task was saved with, for its class and day as they are now.

    Those built in where there is no contest behind it.
    """
    if head.contest_id is None or task.contest_revision is None:
        return zone_defaults(None, None, None)
    contest = contest_rows.contest_at(c, head.contest_id, task.contest_revision)
    return zone_defaults(contest, task.class_name, task.day)


def optional_place(c: Connection, reference: str | None, at: SetAt) -> Place | None:
    """Return the place that an optional reference means."""
    return resolve_place(c, reference, at) if reference is not None else None
