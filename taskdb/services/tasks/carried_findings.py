"""What reviews say of a task before it is carried over and after; the checks of each set run once for a whole season.

Sun, wind and times of a contest's day are left out on both sides: what is compared are the points and the course.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from taskdb.core.course.measure import Course, KnownExtremes, measure_course
from taskdb.core.model import Finding, Task
from taskdb.services.tasks.review import TaskAsShown, Together, review_task
from taskdb.store import tasks as task_rows

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from taskdb.core.kept import TaskHead
    from taskdb.services.references import TaskAt


class Reviews:
    """The reviews of one command."""

    def __init__(self, c: Connection) -> None:
        self.c, self.together = c, Together(c)

    def before(self, at: TaskAt, task: Task, stale: tuple[str, ...]) -> tuple[Course, tuple[Finding, ...]]:
        """Return the saved course, its extremes not searched for anew, and what is open about it."""
        known = KnownExtremes(*task_rows.extremes_at(self.c, at.head.id, at.revision))
        course = measure_course(task, touching=False, known=known)
        return course, review_task(self.c, TaskAsShown(at.head, task, course, stale, None), self.together).open

    def after(self, head: TaskHead, task: Task, course: Course, origin: TaskHead) -> tuple[Finding, ...]:
        """Return what is open about a task that was made from `origin`."""
        return review_task(self.c, TaskAsShown(head, task, course, (), None), self.together, origin=origin).open


def new_findings(
    before: tuple[Finding, ...], after: tuple[Finding, ...], codes: Mapping[str, str]
) -> tuple[Finding, ...]:
    """Return those findings after carrying over that were not there before; `codes` are the new ones by the old."""

    def key(finding: Finding, renamed: Mapping[str, str]) -> tuple[str, tuple[str, ...]]:
        return finding.rule, tuple(sorted(renamed.get(code, code) for code in finding.codes))

    known = {key(finding, codes) for finding in before}
    return tuple(finding for finding in after if key(finding, {}) not in known)
