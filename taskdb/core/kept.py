"""What a store says of the things it keeps: heads, lines of lists, who wrote what and when. Values, and nothing else.

The store makes them, services hand them on, the command line draws them: so they stand below all three.
"""

from __future__ import annotations

from dataclasses import dataclass

from taskdb.core.model import ShapeKind, Status, TaskType


@dataclass(frozen=True, slots=True)
class SetSummary:
    """A line of the list of sets: its newest revision, how many waypoints it has, who wrote it when (UTC)."""

    name: str
    revision: int
    count: int
    label: str | None
    changed_at: str
    author: str


@dataclass(frozen=True, slots=True)
class SetRevisionInfo:
    """One revision of a set: what it did, its label, who, when (UTC), why."""

    set_name: str
    number: int
    count: int
    added: int
    changed: int
    retired: int
    label: str | None
    valid_from: str | None
    author: str
    at: str
    note: str | None


@dataclass(frozen=True, slots=True)
class AirspaceInfo:
    """One revision of an airspace: how many volumes it holds, what it did, from which file, who, when (UTC), why."""

    name: str
    number: int
    count: int
    added: int
    changed: int
    retired: int
    source: str | None
    author: str
    at: str
    note: str | None


@dataclass(frozen=True, slots=True)
class ContestSummary:
    """A line of the list of contests, from each one's newest revision."""

    name: str
    revision: int
    set_name: str
    set_revision: int
    site: str | None
    from_date: str | None
    to_date: str | None
    changed_at: str
    author: str


@dataclass(frozen=True, slots=True)
class RevisionInfo:
    """Who wrote a revision of a contest or a task, when (UTC) and why; its name as it was then."""

    name: str
    number: int
    retired: bool
    author: str
    at: str
    note: str | None


@dataclass(frozen=True, slots=True)
class TaskHead:
    """A task, its contest if any, the number of its newest revision, and whether that one retires it."""

    id: int
    contest_id: int | None
    contest_name: str | None
    name: str
    newest: int
    retired: bool


@dataclass(frozen=True, slots=True)
class TaskUse:
    """A task whose newest revision uses some of the waypoints asked for, and their codes in it, in point order."""

    head: TaskHead
    codes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TaskSummaryRow:
    """A line of a list of tasks, from a task's newest revision; `flown` counts the days on which it was flown."""

    task: str
    revision: int
    contest: str | None
    day: int | None
    class_name: str | None
    variant: str | None
    status: Status
    type: TaskType
    task_m: float
    minimum_m: float | None
    maximum_m: float | None
    shape: ShapeKind
    codes: tuple[str, ...]
    flown: int
    time_s: int | None
    speed_kmh: float | None
    fai_triangle: bool
    first_course_deg: float | None
    tags: tuple[str, ...]
    fingerprint: str
    set_name: str
    set_revision: int
    head: TaskHead


@dataclass(frozen=True, slots=True)
class OperationHead:
    """An operation: when (UTC), who, which command, why, and what it undoes."""

    number: int
    at: str
    author: str
    command: str
    note: str | None
    undoes: int | None


@dataclass(frozen=True, slots=True)
class LoggedOperation:
    """A row of the journal. `wrote` names what it made: `set Wold@3`, `task Vale Cup:A@1`, in code-point order."""

    number: int
    at: str
    author: str
    command: str
    note: str | None
    undoes: int | None
    is_undone: bool
    wrote: tuple[str, ...]
