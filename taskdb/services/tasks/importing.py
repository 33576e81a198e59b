"""Taking tasks from files into a contest or onto a set: placed on the set, each distinct task kept once.

What cannot be taken is told with its reason; a point that the set does not have stays the task's own and is told.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.matching.placed import Placement
from taskdb.core.model import Place, Task
from taskdb.core.names import NAME_LIMIT, require_name
from taskdb.core.plain import problem_plain
from taskdb.errors import InputError, TaskdbError, UsageError
from taskdb.formats.known import TASK_SUFFIXES
from taskdb.formats.registry import Profile, TaskReading
from taskdb.services.desk import Desk, Write, require_confirmed
from taskdb.services.tasks.basis import basis_for
from taskdb.services.tasks.files import Read, Skipped, read_all
from taskdb.services.tasks.keeping import measured, save_task
from taskdb.services.tasks.placing import DistinctTask, Target, distinct_tasks, target_of, unknown_free
from taskdb.store import sets as set_rows, task_lines, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.store.engine import Writing


MOST_LINES = 20
"""A file of more lines is rather a map than a season."""


@dataclass(frozen=True)
class TaskImportRequest:
    """Which file or folder goes where. `pattern` makes the names from `{name}`, `{file}` and `{date}`."""

    path: str
    contest: str | None = None
    set_reference: str | None = None
    pattern: str | None = None
    """None takes `{name}`, and makes no task again that stands already in the same place."""
    profile: Profile | None = None
    """The layout of delimited text of a person's own."""


@dataclass(frozen=True)
class PlacedPoint:
    """A point of a task that was made. `off_m`: the most that a file's position was off the set's."""

    number: int | None
    label: str
    code: str
    name: str
    matched_by: str | None
    off_m: float | None
    reason: str | None


@dataclass(frozen=True)
class ImportedTask:
    """A task that files declare. `equals`: a task that stood already and is the same; `made`: whether this is new."""

    task: str
    contest: str | None
    revision: int
    fingerprint: str
    files: tuple[str, ...]
    points: tuple[PlacedPoint, ...]
    equals: str | None
    renamed_from: str | None
    notes: tuple[str, ...]
    made: bool = True

    @property
    def unmatched(self) -> tuple[PlacedPoint, ...]:
        return tuple(point for point in self.points if point.matched_by is None)


@dataclass(frozen=True)
class TaskImported:
    """What came of a path, tasks in order of their first file."""

    set_at: str
    contest: str | None
    tasks: tuple[ImportedTask, ...]
    skipped: tuple[Skipped, ...]


def import_tasks(desk: Desk, request: TaskImportRequest, write: Write) -> TaskImported:
    """Make the distinct tasks of a file or folder. `write.confirmed` takes waypoints over 1 km from a file's point, and
    many lines of one file.

    Raises NotFoundError for a path that is not there, InputError where nothing can be taken (a single file: with
    every problem of it), UsageError for a bad name pattern.
    """
    pattern = request.pattern if request.pattern is not None else "{name}"
    _require_pattern(pattern)
    read, skipped = read_all(request.path, request.profile)
    _confirm_many(read, write)

    def work(writing: Writing) -> TaskImported:
        c = writing.connection
        basis = basis_for(c, request.contest, request.set_reference)
        target = target_of(basis, read, set_rows.waypoints_at(c, basis.at.head.id, basis.at.revision), write.confirmed)
        distinct, refused = distinct_tasks(read, target)
        not_taken = (*skipped, *refused)
        if not distinct:
            raise _nothing_taken(request.path, not_taken)
        keeper = _Keeper(writing, target, pattern, again=request.pattern is not None)
        keeper.measure(distinct)
        tasks = tuple(keeper.keep(one) for one in distinct)
        if not any(task.made for task in tasks):
            writing.abandon()
        contest = basis.contest.name if basis.contest is not None else None
        return TaskImported(str(basis.at), contest, tasks, not_taken)

    return desk.write(write, work)


def _confirm_many(read: Sequence[Read], write: Write) -> None:
    """Ask before the lines of a map become as many tasks."""
    for file, count in Counter(one.file for one in read if one.reading.is_line).items():
        if count > MOST_LINES:
            question = f"{file} holds {count:,} lines, and each becomes a task: is it no map? Go ahead?"
            require_confirmed(write, question, file=file, count=count)


def _nothing_taken(path: str, skipped: Sequence[Skipped]) -> TaskdbError:
    if len(skipped) == 1 and skipped[0].error is not None:
        return skipped[0].error
    lines = [f"{one.file}: {one.reason}" for one in skipped]
    hint = f"Read are {', '.join(sorted(TASK_SUFFIXES))}; a single file is read whatever its suffix."
    problems = [problem_plain(problem) for one in skipped for problem in one.problems]
    details = {"lines": lines, "rejected": problems, "total": len(problems)}
    return InputError("no-tasks", f"No task of {path} can be taken in.", hint=hint, details=details)


# -- keeping -----------------------------------------------------------------------------------------------------


class _Keeper:
    """Keeps tasks in one write: each under a free name, and told where an equal one stood before."""

    def __init__(self, writing: Writing, target: Target, pattern: str, *, again: bool) -> None:
        self.writing, self.target, self.pattern, self.again = writing, target, pattern, again
        self.numbers: dict[str, int] = {}
        self.contest_id = target.basis.contest_id
        rows = task_lines.list_tasks(writing.connection, contest_id=self.contest_id)
        self.standing = {row.fingerprint: row for row in reversed(rows) if row.head.contest_id == self.contest_id}

    def measure(self, distinct: Sequence[DistinctTask]) -> None:
        """Measure all that are to be written, before the first one is."""
        for one in distinct:
            if self.again or fingerprint(one.task) not in self.standing:
                measured(self.writing, one.task)

    def keep(self, distinct: DistinctTask) -> ImportedTask:
        """Write a task's first revision; where it stands already and no other name is asked for, say so instead."""
        wanted = _wanted_name(distinct, self.pattern)
        stands = self.standing.get(fingerprint(distinct.task))
        made = stands is None or self.again
        task = replace(distinct.task, name=self._free_name(wanted) if stands is None or made else stands.task)
        revision = (
            save_task(self.writing, None, self.contest_id, task).newest if stands is None or made else stands.revision
        )
        notes = (
            note
            for one, _ in distinct.found
            for note in (*one.reading.notes, *_defaulted(one.reading), *unknown_free(one.reading, self.target))
        )
        return ImportedTask(
            task=task.name,
            contest=task.contest,
            revision=revision,
            fingerprint=fingerprint(task),
            files=tuple(dict.fromkeys(one.file for one, _ in distinct.found)),
            points=_points(distinct, task, self.target),
            equals=None if stands is None else stands.task,
            renamed_from=wanted if made and wanted != task.name else None,
            notes=tuple(dict.fromkeys(notes)),
            made=made,
        )

    def _free_name(self, wanted: str) -> str:
        # Many lines bear one name: the numbers that are taken are not all asked for again.
        number = self.numbers.get(wanted, 1)
        name = wanted if number == 1 else _numbered(wanted, number)
        while task_rows.find_task(self.writing.connection, name, self.contest_id) is not None:
            number += 1
            name = _numbered(wanted, number)
        self.numbers[wanted] = number
        return name


def _numbered(wanted: str, number: int) -> str:
    suffix = f" ({number})"
    return wanted[: NAME_LIMIT - len(suffix)] + suffix


def _defaulted(reading: TaskReading) -> tuple[str, ...]:
    """Return a note on points whose zone a file lacks, where it has those of others."""
    lacking = [str(number) for number, point in enumerate(reading.points) if point.zone is None]
    if not lacking or len(lacking) == len(reading.points):
        return ()
    which = f"points {', '.join(lacking[:-1])} and {lacking[-1]}" if len(lacking) > 1 else f"point {lacking[0]}"
    return (f"the file has no zone for {which}: there the defaults count",)


def _points(distinct: DistinctTask, task: Task, target: Target) -> tuple[PlacedPoint, ...]:
    readings = [one.reading for one, _ in distinct.found]
    points = [
        _placed(number, f"point {number}", point.place, [target.of(r.points[number]) for r in readings])
        for number, point in enumerate(task.points)
    ]
    for label, place, given in (
        ("take-off", task.take_off, [r.take_off for r in readings]),
        ("landing", task.landing, [r.landing for r in readings]),
    ):
        if place is not None:
            seen = [target.of(point) for point in given if point is not None]
            same = [s for s in seen if (s.waypoint.identity if s.waypoint is not None else None) == place.identity]
            points.append(_placed(None, label, place, same))
    return tuple(points)


def _placed(number: int | None, label: str, place: Place, seen: Sequence[Placement]) -> PlacedPoint:
    furthest = max(seen, key=lambda one: one.off_m or 0.0)
    off_m, reason = furthest.off_m, furthest.reason
    return PlacedPoint(number, label, place.code, place.name, seen[0].matched_by, off_m, reason)


_FIELD = re.compile(r"\{([^{}]*)\}")


def _require_pattern(pattern: str) -> None:
    unknown = [name for name in _FIELD.findall(pattern) if name not in ("name", "file", "date")]
    if unknown or not pattern.strip():
        raise UsageError(
            "bad-pattern",
            f"--name {pattern!r}: {f'there is no {{{unknown[0]}}}' if unknown else 'a name is wanted'}.",
            hint="Name tasks from {name}, {file} and {date}, e.g. --name '{date} {name}'.",
        )


def _wanted_name(distinct: DistinctTask, pattern: str) -> str:
    """Return the name by the pattern; `{name}` is the commonest that its files have, else that of the first file."""
    stem = Path(distinct.found[0][0].file).stem
    named = Counter(one.reading.name for one, _ in distinct.found if one.reading.name)
    dates = (one.reading.flight_date or (one.reading.declared_at or "")[:10] for one, _ in distinct.found)
    values = {
        "name": named.most_common(1)[0][0] if named else stem,
        "file": stem,
        "date": next((date for date in dates if date), ""),
    }
    text = _FIELD.sub(lambda match: values[match[1]], pattern)
    # A file may hold what a task's name may not.
    plain = " ".join("".join(letter if letter.isprintable() and letter != "@" else " " for letter in text).split())
    return require_name(plain[:NAME_LIMIT] or "task", what="task", colon=True)
