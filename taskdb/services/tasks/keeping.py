"""A task as it is shown, and as it is kept: measured and reviewed before the lock is had, and written under it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.core.contests.days import DayChange
from taskdb.core.course.day import DaySheet, magnetic_between_points
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import Course, KnownExtremes, measure_course
from taskdb.core.flown import FlownSummary, flown_summary
from taskdb.core.kept import RevisionInfo, TaskHead
from taskdb.core.model import Contest, Role, Task
from taskdb.services.tasks.basis import staleness
from taskdb.services.tasks.day import on_its_day
from taskdb.services.tasks.review import Review, Together, review_task
from taskdb.store import tasks as task_rows
from taskdb.store.flown import flown_records

if TYPE_CHECKING:
    from taskdb.store.engine import Connection, Writing


NOT_YET = 0
"""The id of a task that is not kept yet."""


@dataclass(frozen=True)
class TaskShown:
    """A task at a revision with all that is computed from it."""

    task: Task
    revision: int
    course: Course
    fingerprint: str
    stale: tuple[str, ...]
    beside: tuple[str, ...]
    """What is worth saying and is no staleness: the set has moved on past the pin, the task is retired."""
    info: RevisionInfo
    day: DaySheet | None = None
    """Sun, magnetic north and times of the task's day; None where nothing is known of it."""
    review: Review | None = None
    """What the review rules say; None where no person looks at the answer (exports)."""
    flown: FlownSummary | None = None
    """What the days add up to on which it was flown; None where it never was."""

    @property
    def magnetic_between_points(self) -> tuple[float | None, ...]:
        """The magnetic courses of the legs from point to point; empty where none is known."""
        return magnetic_between_points(self.course, self.day)


def shown(
    c: Connection,
    head: TaskHead,
    revision: int,
    *,
    given_day: DayChange | None = None,
    contest: Contest | None = None,
) -> TaskShown:
    """Return what is shown of a task at a revision, measured from the saved copy along the extreme paths kept with it.

    `given_day` goes before what the contest's day has. `contest` is the task's, where it was looked up already.
    """
    task = task_rows.task_at(c, head.id, revision)
    known = KnownExtremes(*task_rows.extremes_at(c, head.id, revision))
    return _shown(c, head, task, task_rows.task_info(c, head.id, revision), given_day, known, contest)


def _shown(
    c: Connection,
    head: TaskHead,
    task: Task,
    info: RevisionInfo,
    given_day: DayChange | None,
    known: KnownExtremes | None = None,
    contest: Contest | None = None,
) -> TaskShown:
    stale, beside = staleness(c, head, task)
    if info.retired:
        beside = ("this task is retired", *beside)
    course, day = on_its_day(c, task, measure_course(task, known=known), given_day, by=contest)
    flown = flown_summary(flown_records(c, head.id))
    return TaskShown(task, info.number, course, fingerprint(task), stale, beside, info, day, flown=flown)


def reviewed(
    c: Connection,
    head: TaskHead,
    revision: int,
    together: Together | None = None,
    *,
    given_day: DayChange | None = None,
) -> TaskShown:
    """Return what is shown of a task with what its review says; `together` is shared by several tasks."""
    together = together or Together(c)
    found = shown(c, head, revision, given_day=given_day, contest=together.contest(head.contest_name))
    return _with_review(head, found, together, given_day)


def _with_review(head: TaskHead, found: TaskShown, together: Together, given_day: DayChange | None = None) -> TaskShown:
    review = review_task(
        found.task, found.course, together, but=(head,), stale=found.stale, day=found.day, given=given_day
    )
    return replace(found, review=review)


def keep_task(
    writing: Writing, head: TaskHead | None, contest_id: int | None, task: Task, *, retired: bool = False
) -> TaskShown:
    """Write a revision of a task, or the first of a new one, and return what is shown of it with its review.

    What is told of its surroundings is as it was when they were last looked at, for which nobody has to wait.
    """
    c, by = writing.connection, writing.operation
    at = head or TaskHead(NOT_YET, contest_id, task.contest, task.name, 0, retired)
    info = RevisionInfo(task.name, at.newest + 1, retired, by.author, by.at, by.note)

    def look() -> TaskShown:
        return _with_review(at, _shown(c, at, task, info, None), Together(c))

    found = writing.once(("shown", at, task, retired), look)
    save_task(writing, head, contest_id, task, retired=retired, course=found.course)
    return found


def measured(writing: Writing, task: Task) -> Course:
    """Return a task's course with its extremes: what many tasks need is best measured before the first is written."""
    unnamed = replace(task, name="")
    return writing.once(("measured", unnamed), lambda: measure_course(unnamed, touching=False))


def measured_as_kept(c: Connection, head: TaskHead, revision: int, task: Task) -> Course:
    """Return the course of a task that has the points of a saved revision: its extremes are not searched for again."""
    known = KnownExtremes(*task_rows.extremes_at(c, head.id, revision))
    return measure_course(task, touching=False, known=known)


def save_task(
    writing: Writing,
    head: TaskHead | None,
    contest_id: int | None,
    task: Task,
    *,
    retired: bool = False,
    course: Course | None = None,
) -> TaskHead:
    """Write a revision of a task with the summary that finding needs; return its head.

    `course` is the task's, where it was measured already: with its extremes.
    """
    course = course or measured(writing, task)
    has_areas = any(point.role is Role.AREA for point in task.points)
    summary = task_rows.TaskSummary(
        fingerprint=fingerprint(task),
        centres_m=course.distances.centres_m,
        task_m=course.distances.task_m,
        minimum_m=course.distances.minimum_m,
        maximum_m=course.distances.maximum_m,
        shape=course.shape.kind,
        fai_triangle=course.shape.is_fai_triangle,
        first_course_deg=course.legs[0].course_true_deg,
        minimum_at=course.distances.minimum_at if has_areas else None,
        maximum_at=course.distances.maximum_at if has_areas else None,
    )
    return task_rows.write_task(writing, head, contest_id, task, summary, retired=retired)
