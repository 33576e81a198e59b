"""Which saved tasks a log may have flown: those that are named, else those of its date in a contest."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.contests.days import day_of
from taskdb.core.flights.fixes import Log
from taskdb.core.model import Contest, Status, Task
from taskdb.errors import NotFoundError, UsageError
from taskdb.reference.sun import find_timezone
from taskdb.services.references import newest_contest, resolve_task, task_title
from taskdb.store import task_lines, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.core.kept import TaskHead, TaskSummaryRow
    from taskdb.store.engine import Connection

_DECIDED = (Status.ISSUED, Status.FLOWN)
_NOT_FLOWN = (Status.CANCELLED, Status.REPLACED)


@dataclass(frozen=True)
class Candidate:
    """A saved task, the date of its day where it has one (ISO, local), and the zone in which its dates count."""

    head: TaskHead
    revision: int
    task: Task
    date: str | None
    timezone: datetime.tzinfo

    @property
    def title(self) -> str:
        return task_title(self.head)

    def local_date(self, date: str, at_s: float) -> str:
        """Return the local date (ISO) of a moment: seconds from the UTC midnight with which a date begins."""
        midnight = datetime.datetime.fromisoformat(date).replace(tzinfo=datetime.UTC)
        return (midnight + datetime.timedelta(seconds=at_s)).astimezone(self.timezone).date().isoformat()


def candidates_of(c: Connection, contest: str | None, day: int | None, tasks: Sequence[str]) -> tuple[Candidate, ...]:
    """Return the tasks that logs are held against.

    Of a contest the issued and flown ones of each day and class; where none of them is, all but those that were
    cancelled or replaced. UsageError where neither contest nor task is named, NotFoundError for what is not there.
    """
    if tasks:
        return tuple(_named(c, reference, contest) for reference in tasks)
    if contest is None:
        raise UsageError(
            "no-contest", "Neither a contest nor a task is named.", hint="Give --contest NAME, or --task NAME."
        )
    head, value = newest_contest(c, contest)
    rows = [row for row in task_lines.list_tasks(c, contest_id=head.id) if day is None or row.day == day]
    rows = [row for row in rows if row.status not in _NOT_FLOWN]
    decided = {(row.day, row.class_name) for row in rows if row.status in _DECIDED}
    chosen = [row for row in rows if row.status in _DECIDED or (row.day, row.class_name) not in decided]
    if not chosen:
        on = "" if day is None else f" on day {day}"
        raise NotFoundError(
            "no-tasks",
            f"The contest {value.name!r} has no task{on} that may have been flown.",
            hint="taskdb task list --contest NAME shows what it has.",
        )
    return tuple(_of_contest(c, row, value) for row in chosen)


def _named(c: Connection, reference: str, contest: str | None) -> Candidate:
    at = resolve_task(c, reference, contest)
    of = newest_contest(c, at.head.contest_name)[1] if at.head.contest_name is not None else None
    task = task_rows.task_at(c, at.head.id, at.revision)
    # Who names a task says that it was flown, whatever the day that it was set for.
    return Candidate(at.head, at.revision, task, None, _timezone(of))


def _of_contest(c: Connection, row: TaskSummaryRow, contest: Contest) -> Candidate:
    day = day_of(contest, row.day)
    task = task_rows.task_at(c, row.head.id, row.revision)
    return Candidate(row.head, row.revision, task, day.date if day is not None else None, _timezone(contest))


def _timezone(contest: Contest | None) -> datetime.tzinfo:
    """Return the contest's time zone; UTC where it has none."""
    found = find_timezone(contest.timezone) if contest is not None and contest.timezone is not None else None
    return found or datetime.UTC


def of_the_date(candidates: Sequence[Candidate], log: Log) -> tuple[Candidate, ...]:
    """Return those that a log may have flown by its date: of its day, else those whose day has no date.

    A log without a date may have flown any of them.
    """
    if log.date is None or not len(log.track):
        return tuple(candidates)
    first_s, last_s = float(log.track.time_s[0]), float(log.track.time_s[-1])
    dated = tuple(
        one for one in candidates if one.date in {one.local_date(log.date, first_s), one.local_date(log.date, last_s)}
    )
    return dated or tuple(one for one in candidates if one.date is None)
