"""A contest's day after a coordinate was mended: pin the contest to the mended set and refresh the day's tasks.

One operation, so that one `undo` takes all of it back. What it would do can be looked at first; what is then done is
held against what was looked at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.course.compare import PointChange, PointDifference, compare_points
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import measure_course
from taskdb.core.model import Contest, Status, Task
from taskdb.errors import NotFoundError, RefusedError
from taskdb.services.contests.contest import pin_into
from taskdb.services.desk import Desk, Write
from taskdb.services.references import SetAt, TaskAt, newest_contest, resolve_set
from taskdb.services.tasks.basis import stale_tasks_of
from taskdb.services.tasks.carrying import CarriedTask, refresh_into
from taskdb.store import task_lines, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.store.engine import Connection, Writing

OUT_OF_DAY = (Status.REPLACED, Status.CANCELLED)


@dataclass(frozen=True)
class UpdateRequest:
    """Which day of which contest; `to` is the set revision, None the newest of the contest's set."""

    contest: str
    day: int | None = None
    to: str | None = None


@dataclass(frozen=True)
class UpdatedTask:
    """A task before and after; `after` None where it was left undone, `carried` says why."""

    before: Task
    before_revision: int
    carried: CarriedTask
    after: Task | None
    points: tuple[PointDifference, ...]
    fingerprints: tuple[str, str | None]
    task_m: tuple[float, float | None]


@dataclass(frozen=True)
class Updated:
    """What became of a day: the set before and after, its tasks that changed, those elsewhere that are stale now."""

    contest: str
    day: int | None
    set_before: str
    set_after: str
    tasks: tuple[UpdatedTask, ...]
    unchanged: tuple[str, ...]
    stale_elsewhere: tuple[str, ...]
    told: tuple[str, ...] = ()
    """What a person should know beside it: a site that is not there any more."""

    @property
    def is_nothing(self) -> bool:
        return not self.tasks and self.set_before == self.set_after

    def is_as(self, other: Updated) -> bool:
        """Say whether the same is done to the same."""
        seen = [
            (u.contest, u.set_before, u.set_after, [(t.before, t.after, t.before_revision) for t in u.tasks])
            for u in (self, other)
        ]
        return seen[0] == seen[1]


def update_day(desk: Desk, request: UpdateRequest, write: Write, looked_at: Updated | None = None) -> Updated:
    """Pin a contest and refresh the stale tasks of its day. Points may move over 1 km where `write` is confirmed.

    RefusedError where something else would be done than was `looked_at`; NotFoundError where the day has no tasks.
    """

    def work(writing: Writing) -> Updated:
        done = _update(writing, request, confirm_far=write.confirmed)
        if looked_at is not None and not done.is_as(looked_at):
            raise RefusedError(
                "changed-meanwhile",
                f"{request.contest!r} or its set was changed while you were looking.",
                hint="Give the command again and look at the new table.",
            )
        if done.is_nothing:
            writing.abandon()
        return done

    return desk.write(write, work)


def _update(writing: Writing, request: UpdateRequest, *, confirm_far: bool) -> Updated:
    c = writing.connection
    head, contest = newest_contest(c, request.contest)
    target = _target(c, contest, request.to)
    rows = task_lines.list_tasks(c, contest_id=head.id)
    chosen = [
        TaskAt(row.head, row.revision)
        for row in rows
        if (request.day is None or row.day == request.day) and row.status not in OUT_OF_DAY
    ]
    if not chosen:
        where = f"day {request.day} of " if request.day is not None else ""
        raise NotFoundError("no-tasks", f"There is no task in {where}{contest.name!r}.", hint="`taskdb task list`.")
    before = {at.head.id: task_rows.task_at(c, at.head.id, at.revision) for at in chosen}
    pinned = pin_into(writing, contest.name, str(target))
    outcomes = {o.task: o for o in refresh_into(writing, chosen, confirm_far=confirm_far)}
    touched = [at for at in chosen if before[at.head.id].name in outcomes]
    tasks = tuple(_updated(c, at, before[at.head.id], outcomes[before[at.head.id].name]) for at in touched)
    names = {task.before.name for task in tasks}
    return Updated(
        contest=contest.name,
        day=request.day,
        set_before=f"{contest.set_name}@{contest.set_revision}",
        set_after=str(target),
        tasks=tasks,
        unchanged=tuple(task.name for task in before.values() if task.name not in names),
        stale_elsewhere=tuple(name for name in stale_tasks_of(c, head) if name not in names),
        told=(pinned.told,) if pinned is not None and pinned.told is not None else (),
    )


def _target(c: Connection, contest: Contest, to: str | None) -> SetAt:
    at = resolve_set(c, to or contest.set_name)
    if at.head.name != contest.set_name:
        raise RefusedError(
            "other-set",
            f"{contest.name!r} stands on the set {contest.set_name!r}, not on {at.head.name!r}.",
            hint="`taskdb task carry --from-contest …` carries tasks to another set.",
        )
    return at


def _updated(c: Connection, at: TaskAt, before: Task, carried: CarriedTask) -> UpdatedTask:
    after = None if carried.revision is None else task_rows.task_at(c, at.head.id, carried.revision)
    return UpdatedTask(
        before=before,
        before_revision=at.revision,
        carried=carried,
        after=after,
        points=() if after is None else _changed(before, after),
        fingerprints=(fingerprint(before), None if after is None else fingerprint(after)),
        task_m=(_task_m(before), None if after is None else _task_m(after)),
    )


def _changed(before: Task, after: Task) -> tuple[PointDifference, ...]:
    return tuple(d for d in compare_points(before.points, after.points) if d.change is not PointChange.SAME)


def _task_m(task: Task) -> float:
    return measure_course(task, extremes=False).distances.task_m
