"""The tasks that may be flown on one day beside each other, and where two of them meet."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from taskdb.core.contests.days import DayChange
from taskdb.core.contests.scopes import speeds_expected, what_holds
from taskdb.core.course.day import DaySheet
from taskdb.core.course.measure import Course, KnownExtremes, measure_course
from taskdb.core.judgement.meeting import DayTask, Meeting
from taskdb.core.judgement.presence import presences
from taskdb.core.judgement.together import meetings
from taskdb.core.model import Contest, Role, Status, Task
from taskdb.core.quantities import Wind
from taskdb.core.review.limits import Limits, limits_of
from taskdb.services.references import resolve_contest
from taskdb.services.tasks.day import day_sheet
from taskdb.store import task_lines, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.core.kept import TaskSummaryRow
    from taskdb.store.engine import Connection

DECIDED = (Status.ISSUED, Status.FLOWN)


@dataclass
class OfDay:
    """What the reviews of several tasks share of their day, looked up and computed once; good for one look.

    A look may go on over another connection, as drafts of a task do: each question brings its own.
    """

    _rows: dict[tuple[str, int], tuple[TaskSummaryRow, ...]] = field(default_factory=dict)
    _tasks: dict[tuple[int, int, str | None, Wind | None], DayTask] = field(default_factory=dict)
    _meetings: dict[tuple[str, str], tuple[tuple[DayTask, DayTask], tuple[Meeting, ...]]] = field(default_factory=dict)

    def meetings(
        self,
        c: Connection,
        task: Task,
        course: Course,
        contest: Contest | None,
        day: DaySheet | None,
        *,
        but: Collection[int] = (),
        given: DayChange | None = None,
    ) -> tuple[Meeting, ...]:
        """Return where a task meets those of other classes on its day, in order of their names.

        Of a class of which one is issued it is that one that is met, else each that is proposed. Tasks of one class
        are each other's variants, and so are those without one. A task that was cancelled or replaced meets none.
        `but` are ids of tasks that it is, or was made from; of what is `given` for this look, date and wind hold for
        the others too. The limits are those of the contest on that day, not of a class.
        """
        if contest is None or task.day is None or task.status in (Status.CANCELLED, Status.REPLACED):
            return ()
        others = self._others(c, contest, task, but)
        if not others:
            return ()
        limits, _ = limits_of(what_holds(contest, None, task.day).settings)
        own = day_task(contest, task, course, day)
        found: list[Meeting] = []
        for row in others:
            first, second = sorted((own, self._other(c, contest, row, given)), key=_order)
            found += self._between(first, second, limits)
        return tuple(found)

    def _between(self, first: DayTask, second: DayTask, limits: Limits) -> tuple[Meeting, ...]:
        """Return where two tasks meet: reviewed one after the other, both ask for the same."""
        key = first.label, second.label
        if key not in self._meetings or self._meetings[key][0] != (first, second):
            found = meetings(first, second, limits.separation_m, limits.separation_s)
            self._meetings[key] = (first, second), found
        return self._meetings[key][1]

    def _others(self, c: Connection, contest: Contest, task: Task, but: Collection[int]) -> list[TaskSummaryRow]:
        assert task.day is not None
        key = contest.name, task.day
        if key not in self._rows:
            self._rows[key] = task_lines.tasks_of_day(c, resolve_contest(c, contest.name).id, task.day)
        groups: dict[str | None, list[TaskSummaryRow]] = {}
        for row in self._rows[key]:
            if row.class_name != task.class_name and row.head.id not in but:
                groups.setdefault(row.class_name, []).append(row)
        going = []
        for rows in groups.values():
            decided = [row for row in rows if row.status in DECIDED]
            going += decided or [row for row in rows if row.status is Status.PROPOSED]
        return sorted(going, key=lambda row: row.task)

    def _other(self, c: Connection, contest: Contest, row: TaskSummaryRow, given: DayChange | None) -> DayTask:
        day_given = DayChange(date=given.date, wind=given.wind) if given is not None else DayChange()
        key = row.head.id, row.revision, day_given.date, day_given.wind
        if key not in self._tasks:
            task = task_rows.task_at(c, row.head.id, row.revision)
            known = KnownExtremes(*task_rows.extremes_at(c, row.head.id, row.revision))
            # Only areas have other ways than the one through the points.
            has_areas = any(point.role is Role.AREA for point in task.points)
            course = measure_course(task, extremes=has_areas, touching=False, known=known)
            self._tasks[key] = day_task(contest, task, course, day_sheet(c, task, course, day_given, starts_only=True))
        return self._tasks[key]


def day_task(contest: Contest, task: Task, course: Course, day: DaySheet | None) -> DayTask:
    """Return a task as it meets others on its day."""
    who = f"{task.class_name} ({task.name})" if task.class_name else task.name
    return DayTask(
        task.name, who, task, presences(task, course, day, speeds_expected(contest, task.class_name, task.day))
    )


def _order(one: DayTask) -> tuple[str, str]:
    return one.task.class_name or "", one.task.name
