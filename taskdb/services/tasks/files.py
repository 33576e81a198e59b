"""Reading tasks from a file or a folder of files: what can be read as a task, and why the rest cannot.

Nothing is looked up in a store here, and nothing kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from taskdb.core.model import RowProblem
from taskdb.core.numbers import counted
from taskdb.core.pasted import command_line
from taskdb.core.plain import problem_plain
from taskdb.errors import InputError, TaskdbError
from taskdb.files import standing
from taskdb.files.reading import open_input
from taskdb.files.walking import files_below
from taskdb.formats.known import PLACES_ONLY, TASK_SUFFIXES
from taskdb.formats.registry import MOST_POINTS, Profile, TaskReading, read_tasks, read_tasks_by_profile

TEXT_SUFFIXES = frozenset({".csv", ".tsv", ".txt"})
"""Those that a profile is for."""
_NOT_TASKS = frozenset({"manifest.json"})


@dataclass(frozen=True)
class Read:
    """A task as a file has it."""

    file: str
    reading: TaskReading


@dataclass(frozen=True)
class Skipped:
    """A file, or a task of it (`name`), that was not taken, and why."""

    file: str
    name: str | None
    reason: str
    problems: tuple[RowProblem, ...] = ()
    error: TaskdbError | None = None


def read_all(path: str, profile: Profile | None = None) -> tuple[list[Read], list[Skipped]]:
    """Return every task that can be read and what cannot; with a profile what is delimited text by its layout."""
    is_folder = standing.is_folder(path)
    read: list[Read] = []
    skipped: list[Skipped] = []
    for name, file in _files(path, is_folder, TASK_SUFFIXES | TEXT_SUFFIXES if profile is not None else TASK_SUFFIXES):
        by = profile if not is_folder or file.suffix.lower() in TEXT_SUFFIXES else None
        try:
            readings = read_file(str(file), by)
        except TaskdbError as error:
            skipped.append(Skipped(name, None, error.message, error=error))
            continue
        for reading in readings:
            problem = _unusable(name, str(file), reading, is_folder)
            if problem is None:
                read.append(Read(name, reading))
            else:
                skipped.append(problem)
    return read, skipped


def _files(path: str, is_folder: bool, suffixes: frozenset[str]) -> Iterator[tuple[str, Path]]:
    """Yield the files with the names under which they are told: below the folder, or the file's own."""
    if not is_folder:
        yield Path(path).name, Path(path)
        return
    for file in files_below(path, suffixes):
        if file.name.lower() not in _NOT_TASKS:
            yield file.relative_to(path).as_posix(), file


def read_file(path: str, profile: Profile | None = None) -> tuple[TaskReading, ...]:
    """Return the tasks of a file, by a profile's layout where one is given.

    Raises NotFoundError, or InputError for one that cannot be used as a whole.
    """
    with open_input(path) as stream:
        try:
            if profile is not None:
                return read_tasks_by_profile(stream, profile)
            return read_tasks(stream)
        except InputError as error:
            if profile is None and "--column" in (error.hint or ""):  # an option of reading sets
                error.hint = "Name its columns in the first line: code,name,latitude_deg,longitude_deg,zone."
            raise


def _unusable(file: str, path: str, reading: TaskReading, is_folder: bool) -> Skipped | None:
    name = reading.name or None
    if reading.problems:
        return Skipped(file, name, _problems_said(reading.problems), reading.problems, rejected(file, reading.problems))
    if len(reading.points) < 2:
        message = f"{file} has {counted(len(reading.points), 'point')}; a task needs at least a start and a finish."
        return Skipped(file, name, message, error=InputError("too-few-points", message, hint="Give another file."))
    # Way points in some order are no task; someone who names the file by itself says that they are.
    has_zones = any(p.role is not None or p.zone is not None for p in reading.points)
    says_task = reading.type is not None or reading.is_line or has_zones or reading.format == "profile"
    if len(reading.points) > MOST_POINTS and not (says_task and not reading.is_line):
        message = (
            f"{file} has {len(reading.points):,} points: a list of places, and no task: those have up to {MOST_POINTS}."
        )
        hint = f"Take them in as waypoints: {command_line('set import', path, options=['--into', 'SET'])}"
        return Skipped(file, name, message, error=InputError("too-many-points", message, hint=hint))
    if is_folder and reading.format in PLACES_ONLY and not says_task:
        return Skipped(file, name, "it is a list of points, and does not say that it is a task")
    return None


def _problems_said(problems: Sequence[RowProblem]) -> str:
    first, more = problems[0], len(problems) - 1
    value = f" {first.value!r}" if first.value else ""
    rest = f"; and {more} more" if more else ""
    return f"line {first.line}{f', {first.field}' if first.field else ''}{value}: {first.message}{rest}"


def rejected(file: str, problems: Sequence[RowProblem]) -> InputError:
    """Return the refusal for a file with problems, all of them in its details."""
    is_track = all(problem.code == "a-track" for problem in problems)
    return InputError(
        "rows-rejected",
        f"{file} cannot be read as a task: {counted(len(problems), 'problem')}.",
        hint="Give the route that was set." if is_track else "Mend the lines named, or export the task anew.",
        details={"rejected": [problem_plain(problem) for problem in problems], "total": len(problems)},
    )
