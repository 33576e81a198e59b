"""Tasks: making, editing, showing, listing, copying and comparing them; each is a complete copy of its basis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from taskdb.core.contests.days import DayChange
from taskdb.core.course import assembly
from taskdb.core.course.assembly import Chosen, ZoneChoice
from taskdb.core.course.compare import PointDifference, compare_points
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.model import Status, Task, TaskType
from taskdb.core.names import require_name
from taskdb.core.pasted import command_line
from taskdb.core.revision_words import task_changes
from taskdb.errors import NotFoundError, RefusedError, UsageError
from taskdb.services.desk import Desk, Write
from taskdb.services.ground import open_terrain
from taskdb.services.references import contest_of, resolve_contest, resolve_task, set_under
from taskdb.services.tasks.basis import basis_for, optional_place, resolve_place, saved_defaults
from taskdb.services.tasks.building import (
    NewTask as NewTask,
    PointRequest as PointRequest,
    built_task,
    class_of,
    require_free_name,
)
from taskdb.services.tasks.covers import CoverAsked
from taskdb.services.tasks.free_points import FreeRequest, chosen_free
from taskdb.services.tasks.keeping import TaskShown, keep_task, reviewed
from taskdb.services.tasks.review import Together
from taskdb.store import task_lines, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.core.kept import RevisionInfo, TaskHead, TaskSummaryRow
    from taskdb.services.references import SetAt
    from taskdb.store.engine import Connection, Writing


@dataclass(frozen=True)
class TaskEdit:
    """What to change: at most one of insert, move, drop; then points and zones by the numbers of the result."""

    insert: tuple[int, PointRequest] | None = None
    move: tuple[int, int] | None = None
    drop: int | None = None
    reverse: bool = False
    start_at: int | None = None
    points: tuple[tuple[int, str], ...] = ()
    zones: tuple[ZoneChoice, ...] = ()
    values: Mapping[str, object] = field(default_factory=dict)
    """Fields of the task to set: name, type, day, class_name, variant, time_s, speed_kmh, tags; to empty: with None."""
    take_off: str | None = None
    landing: str | None = None
    free: FreeRequest | None = None


def new_task(desk: Desk, request: NewTask, write: Write) -> TaskShown:
    """Make a task from references in order. RefusedError where its name is taken or a reference is ambiguous."""
    name = require_name(request.name, what="task", colon=True)

    def work(writing: Writing) -> TaskShown:
        c = writing.connection
        basis = basis_for(c, request.contest, request.set_reference)
        require_free_name(c, name, basis.contest_id)
        task = replace(built_task(c, request, basis), name=name)
        return keep_task(writing, None, basis.contest_id, task)

    return desk.write(write, work)


def edit_task(desk: Desk, reference: str, edit: TaskEdit, write: Write, contest: str | None = None) -> TaskShown:
    """Change a task as a new revision, on the set revision and defaults that it was saved with."""
    moves = (edit.insert, edit.move, edit.drop, edit.start_at, edit.reverse or None)
    if sum(move is not None for move in moves) > 1:
        raise UsageError(
            "one-move-at-a-time",
            "One command takes at most one of --insert, --move, --drop, --reverse and --start-at: each renumbers.",
            hint="Give them in separate commands.",
        )

    def work(writing: Writing) -> TaskShown:
        c = writing.connection
        head, before = _at_newest(c, reference, contest)
        at = set_under(c, before)
        chosen = _edited_points(c, assembly.chosen_of(before.points), edit, at)
        values = dict(edit.values)
        task_type = TaskType(str(values.get("type", before.type)))
        chosen = assembly.with_zones(chosen, edit.zones, task_type)
        if values.get("class_name") not in (None, before.class_name):
            class_of(contest_of(c, head.contest_name), str(values["class_name"]))
        if "name" in values:
            values["name"] = require_name(str(values["name"]), what="task", colon=True)
            if values["name"] != before.name:
                require_free_name(c, str(values["name"]), head.contest_id)
        for label in ("take_off", "landing"):
            if getattr(edit, label) is not None:
                values[label] = optional_place(c, getattr(edit, label), at)
        after = replace(before, **values)  # type: ignore[arg-type]
        # The class and day that the task is to have say which defaults are its own.
        defaults = saved_defaults(c, head, after)
        free = chosen_free(c, edit.free, task_type, at, defaults, before.free)
        after = replace(after, points=assembly.assemble(chosen, task_type, defaults), free=free)
        if after == before:
            writing.abandon()
            return reviewed(c, head, head.newest)
        return keep_task(writing, head, head.contest_id, after)

    return desk.write(write, work)


def _edited_points(c: Connection, chosen: list[Chosen], edit: TaskEdit, at: SetAt) -> list[Chosen]:
    if edit.insert is not None:
        number, point = edit.insert
        chosen = assembly.insert(chosen, number, Chosen(resolve_place(c, point.reference, at, number), point.zone))
    elif edit.move is not None:
        chosen = assembly.move(chosen, *edit.move)
    elif edit.drop is not None:
        chosen = assembly.drop(chosen, edit.drop)
    elif edit.reverse:
        chosen = assembly.turned_round(chosen)
    elif edit.start_at is not None:
        chosen = assembly.started_at(chosen, edit.start_at)
    for number, reference in edit.points:
        chosen = assembly.substitute(chosen, number, resolve_place(c, reference, at, number))
    return chosen


def show_task(desk: Desk, reference: str, contest: str | None = None, given_day: DayChange | None = None) -> TaskShown:
    """Return a task with all that is computed of it; `given_day` goes before what its contest's day has."""
    with desk.store.reading() as c:
        at = resolve_task(c, reference, contest)
        return reviewed(c, at.head, at.revision, given_day=given_day)


def list_tasks(desk: Desk, contest: str | None = None) -> tuple[TaskSummaryRow, ...]:
    """Return the tasks that stand, of one contest or of the store, in order of contest and name."""
    with desk.store.reading() as c:
        contest_id = resolve_contest(c, contest).id if contest is not None else None
        return tuple(task_lines.list_tasks(c, contest_id=contest_id))


@dataclass(frozen=True)
class TaskLogged:
    """A revision of a task: its status, distance and fingerprint, and what it changed in a few words each."""

    info: RevisionInfo
    status: Status
    task_m: float
    fingerprint: str
    changes: tuple[str, ...]


def task_log(desk: Desk, reference: str, contest: str | None = None) -> tuple[str, tuple[TaskLogged, ...]]:
    """Return the task's name and its revisions, newest first, each with what it changed."""
    with desk.store.reading() as c:
        head = resolve_task(c, reference, contest).head
        infos = task_rows.task_log(c, head.id)
        states = [task_rows.task_at(c, head.id, info.number) for info in infos]
        lengths = task_rows.lengths_of(c, head.id)
        logged = []
        for at, (info, state) in enumerate(zip(infos, states, strict=True)):
            is_first = at + 1 == len(infos)
            changes = task_changes(None if is_first else states[at + 1], state)
            was_retired = not is_first and infos[at + 1].retired
            if info.retired != was_retired:
                changes = ("retired" if info.retired else "brought back", *changes)
            found = fingerprint(state)
            logged.append(TaskLogged(info, state.status, lengths[info.number], found, changes))
        return head.name, tuple(logged)


def copy_task(
    desk: Desk,
    reference: str,
    new_name: str,
    write: Write,
    contest: str | None = None,
    values: Mapping[str, Any] | None = None,
) -> TaskShown:
    """Copy a task under a new name in the same contest; the copy is proposed, whatever the original's status.

    `values` are the day, class and variant of the copy, where they are others. UsageError for a class that is none.
    """
    name = require_name(new_name, what="task", colon=True)

    def work(writing: Writing) -> TaskShown:
        c = writing.connection
        at = resolve_task(c, reference, contest)
        require_free_name(c, name, at.head.contest_id)
        task = task_rows.task_at(c, at.head.id, at.revision)
        given = dict(values or {})
        if "class_name" in given:
            class_of(contest_of(c, at.head.contest_name), given["class_name"])
        copied = replace(task, name=name, status=Status.PROPOSED, issued_at=None, **given)
        if (copied.class_name, copied.day) != (task.class_name, task.day):
            # Another class or day can have other zone defaults.
            chosen = assembly.chosen_of(task.points)
            defaults = saved_defaults(c, at.head, copied)
            copied = replace(copied, points=assembly.assemble(chosen, task.type, defaults))
        return keep_task(writing, None, at.head.contest_id, copied)

    return desk.write(write, work)


def retire_task(desk: Desk, reference: str, write: Write, contest: str | None = None) -> TaskShown:
    """Retire a task: it leaves lists and keeps its name, its revisions and its records."""

    def work(writing: Writing) -> TaskShown:
        c = writing.connection
        head, task = _at_newest(c, reference, contest)
        if head.retired:
            raise RefusedError(
                "already-retired",
                f"The task {head.name!r} is retired already.",
                hint=f"`{command_line('task restore', head.name)}` brings it back.",
            )
        return keep_task(writing, head, head.contest_id, task, retired=True)

    return desk.write(write, work)


def restore_task(desk: Desk, reference: str, write: Write, contest: str | None = None) -> TaskShown:
    """Bring a retired task back (`NAME`), or make a new revision equal to an earlier one (`NAME@R`)."""

    def work(writing: Writing) -> TaskShown:
        c = writing.connection
        at = resolve_task(c, reference, contest)
        head = at.head
        if at.revision == head.newest and not head.retired:
            writing.abandon()
            return reviewed(c, head, head.newest)
        task = task_rows.task_at(c, head.id, at.revision)
        if task.name != head.name:
            require_free_name(c, task.name, head.contest_id)
        return keep_task(writing, head, head.contest_id, task)

    return desk.write(write, work)


@dataclass(frozen=True)
class Compared:
    """Tasks side by side; `differences` holds one entry for every task but the first, the baseline."""

    tasks: tuple[TaskShown, ...]
    differences: tuple[tuple[PointDifference, ...], ...]


def compare_tasks(
    desk: Desk, references: Sequence[str], contest: str | None = None, airspace: Sequence[str] = ()
) -> Compared:
    """Hold two to six tasks (or revisions of one) against the first. UsageError for another number.

    `airspace` names what they are held against in place of their contests' own.
    """
    if not 2 <= len(references) <= 6:
        raise UsageError(
            "two-to-six",
            f"Two to six tasks can be compared; {len(references)} named.",
            hint="taskdb task compare A B [C…]",
        )
    with desk.store.reading() as c:
        resolved = [resolve_task(c, reference, contest) for reference in references]
        together = Together(c, airspace=airspace)
        tasks = tuple(reviewed(c, at.head, at.revision, together) for at in resolved)
    first = tasks[0].task
    differences = (
        compare_points(first.points, other.task.points, between_sets=other.task.set_name != first.set_name)
        for other in tasks[1:]
    )
    return Compared(tasks, tuple(differences))


def review_tasks(
    desk: Desk,
    references: Sequence[str],
    contest: str | None = None,
    airspace: Sequence[str] = (),
    terrain: str | None = None,
    *,
    cover: CoverAsked | None = None,
    day: int | None = None,
) -> tuple[TaskShown, ...]:
    """Review tasks, each with every check of its set; without names all that stand in the contest, or on its `day`.

    `airspace` names what they are held against in place of their contests' own, `terrain` a folder of heights of the
    ground, `cover` what landable cover reckons with in place of the contest's limits. UsageError where it is not said
    which tasks, NotFoundError where there is none on the day.
    """
    ground = open_terrain(terrain) if terrain is not None else None
    if references and day is not None:
        hint = "Name tasks, or give --contest C --day N."
        raise UsageError("names-and-a-day", "Tasks are named, and a day of a contest too.", hint=hint)
    with desk.store.reading() as c:
        together = Together(c, any_set=True, airspace=airspace, ground=ground, cover=cover)
        if references:
            wanted = [resolve_task(c, reference, contest) for reference in references]
            return tuple(reviewed(c, at.head, at.revision, together) for at in wanted)
        rows = _rows_to_review(c, contest, day)
        return tuple(reviewed(c, row.head, row.revision, together) for row in rows)


def _rows_to_review(c: Connection, contest: str | None, day: int | None) -> tuple[TaskSummaryRow, ...]:
    if contest is None:
        hint = "taskdb task review NAME… or --contest C [--day N]"
        raise UsageError("nothing-named", "No task is named.", hint=hint)
    head = resolve_contest(c, contest)
    if day is None:
        return task_lines.list_tasks(c, contest_id=head.id)
    rows = task_lines.tasks_of_day(c, head.id, day)
    if not rows:
        raise NotFoundError(
            "no-tasks",
            f"There is no task on day {day} of {head.name!r}.",
            hint=f"`{command_line('task list', options=['--contest', head.name])}` shows what there is.",
        )
    return rows


def _at_newest(c: Connection, reference: str, contest: str | None) -> tuple[TaskHead, Task]:
    """Return the task that is to be changed, at its newest revision. RefusedError for an old one."""
    at = resolve_task(c, reference, contest)
    if at.revision != at.head.newest:
        raise RefusedError(
            "old-revision",
            f"{reference!r} is an old revision; only the newest can be changed.",
            hint=f"`{command_line('task restore', reference)}` makes a new revision equal to it.",
        )
    return at.head, task_rows.task_at(c, at.head.id, at.head.newest)
