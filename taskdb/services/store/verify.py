"""Holding a store against its own rules: its file, its rows, and what every saved task measures to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import chain
from typing import TYPE_CHECKING

from taskdb.core.course.contains import contains
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import Course, KnownExtremes, measure_course
from taskdb.core.model import Role, Task
from taskdb.errors import NotFoundError, StoreUnusableError, TaskdbError
from taskdb.store.verifying import (
    UNREADABLE,
    StoreProblem,
    checksum_problems,
    file_problems,
    rule_problems,
    saved_tasks,
    words_of_task,
)
from taskdb.store.verifying_history import history_problems, schema_problems

if TYPE_CHECKING:
    from taskdb.services.desk import Desk
    from taskdb.store.verifying import SavedTask

LISTED = 1_000
"""How many problems are listed; all are counted."""

WITHIN_M = 0.001
WITHIN_DEG = 1e-6


@dataclass(frozen=True)
class Verified:
    """What was found: the first problems, how many there are, and how many task revisions were measured anew."""

    store: str
    problems: tuple[StoreProblem, ...]
    total: int
    task_revisions: int


def verify_store(desk: Desk) -> Verified:
    """Hold the store's file and rows against the rules of the store; nothing is written.

    Where the file itself is damaged its rows are not looked at. Raises NotFoundError where there is no store,
    StoreUnusableError where it cannot be opened at all.
    """
    store = desk.store
    found = _Found()
    try:
        if not store.exists():
            raise NotFoundError(
                "no-store",
                f"{store.shown_url} does not exist: there is nothing to verify.",
                hint="Name it with --store.",
            )
        with store.reading() as c:
            found.take(file_problems(c))
            if not found.total:
                found.take(schema_problems(c))
            if not found.total:
                found.take(checksum_problems(c))
                found.take(rule_problems(c))
                found.take(history_problems(c))
                for saved in saved_tasks(c):
                    found.task_revisions += 1
                    found.take(task_problems(saved))
    except StoreUnusableError as error:
        if error.code != "damaged-store":
            raise
        found.take([StoreProblem("file-integrity", "file", error.message)])
    except UNREADABLE as error:
        if not store.is_sqlite:
            raise
        # A flipped byte can make what no reader knows of a value, of a column's name, or of SQLite's own message.
        found.take([StoreProblem("file-integrity", "file", f"it cannot be read: {str(error).partition(chr(10))[0]}")])
    return Verified(store.shown_url, tuple(found.listed), found.total, found.task_revisions)


def damage_behind(error: Exception, desk: Desk) -> StoreUnusableError | None:
    """Return that the store is damaged, where an error that nobody foresaw may come of it; None where it is a bug.

    What was written has its checksums, so the store itself says whether it is to blame.
    """
    if not isinstance(error, UNREADABLE):
        return None
    try:
        if not desk.store.exists():
            return None
        with desk.store.reading() as c:
            problem = next(chain(file_problems(c), schema_problems(c), checksum_problems(c)), None)
        told = None if problem is None else f"{problem.what}: {problem.message}"
    except UNREADABLE as broken:
        if not desk.store.is_sqlite:
            return None
        told = str(broken).partition("\n")[0]
    except TaskdbError as refused:
        return refused if isinstance(refused, StoreUnusableError) and refused.code == "damaged-store" else None
    if told is None:
        return None
    return StoreUnusableError(
        "damaged-store",
        f"{desk.store.shown_url} is damaged: {told}.",
        hint="taskdb store verify says what; restore the newest backup over it, or name another file with --store.",
        details={"store": desk.store.shown_url},
    )


@dataclass
class _Found:
    listed: list[StoreProblem] = field(default_factory=list)
    total: int = 0
    task_revisions: int = 0

    def take(self, problems: Iterable[StoreProblem]) -> None:
        for problem in problems:
            self.total += 1
            if len(self.listed) < LISTED:
                self.listed.append(problem)


def task_problems(saved: SavedTask) -> Iterator[StoreProblem]:
    """Yield where a saved revision is not what its points, zones and rules give."""
    task = saved.task
    if task is None:
        yield StoreProblem("task-readable", saved.what, f"cannot be read: {saved.unreadable}")
        return
    try:
        course = measure_course(task, touching=False)
        said = fingerprint(task)
    except (TaskdbError, ValueError, ArithmeticError, IndexError) as error:
        yield StoreProblem("task-summary", saved.what, f"cannot be measured: {error}")
        return
    if said != saved.fingerprint:
        yield StoreProblem("task-summary", saved.what, f"its fingerprint is kept as {saved.fingerprint}, it is {said}")
    for name, kept in saved.metres.items():
        now = getattr(course.distances, name)
        if (kept is None) != (now is None) or (kept is not None and not abs(kept - now) <= WITHIN_M):
            yield StoreProblem("task-summary", saved.what, f"its {name} is kept as {kept}, it measures {now}")
    yield from _shape_problems(saved, course)
    yield from _extremes_problems(saved, task, course)
    if words_of_task(task) != saved.words:
        yield StoreProblem("task-summary", saved.what, "its search words are not those of its name, tags and points")


def _shape_problems(saved: SavedTask, course: Course) -> Iterator[StoreProblem]:
    for name, kept, now in (
        ("shape", saved.shape, course.shape.kind.value),
        ("fai_triangle", bool(saved.is_fai_triangle), course.shape.is_fai_triangle),
    ):
        if kept != now:
            yield StoreProblem("task-summary", saved.what, f"its {name} is kept as {kept}, it is {now}")
    if not _same_axis(saved.first_course_deg, course.legs[0].course_true_deg):
        message = f"its first course is kept as {saved.first_course_deg}, it is {course.legs[0].course_true_deg}"
        yield StoreProblem("task-summary", saved.what, message)


def _extremes_problems(saved: SavedTask, task: Task, course: Course) -> Iterator[StoreProblem]:
    """Walk the kept paths again: each meets every area, and is as long as the shortest or longest there is.

    Not held against the paths found now: two of one length may stand in for each other.
    """
    for name, path in zip(("minimum", "maximum"), saved.extremes, strict=True):
        if path is None:
            continue
        kept = KnownExtremes(**{f"{name}_at": path})
        if len(path) != len(task.points):
            yield StoreProblem("task-summary", saved.what, f"its {name} path meets {len(path)} points")
            continue
        walked_m = getattr(measure_course(task, touching=False, known=kept).distances, f"{name}_m")
        wanted_m = getattr(course.distances, f"{name}_m")
        if wanted_m is None or not abs(walked_m - wanted_m) <= WITHIN_M:
            message = f"its {name} path is {walked_m} m long, its {name} is {wanted_m}"
            yield StoreProblem("task-summary", saved.what, message)
        for number, (point, at) in enumerate(zip(task.points, path, strict=True)):
            if point.role is Role.AREA and not contains(point.zone, point.place.position, at, tolerance_m=0.1):
                message = f"its {name} path passes area {number} at {at}, outside of it"
                yield StoreProblem("task-summary", saved.what, message)


def _same_axis(a: float | None, b: float | None) -> bool:
    if a is None or b is None:
        return a is b
    return abs((a - b + 180) % 360 - 180) <= WITHIN_DEG
