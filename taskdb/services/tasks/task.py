"""Tasks: making, editing, showing, listing, copying and comparing them; each is a complete copy of its basis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from typing import TYPE_CHECKING, Any

from taskdb.core.contests.days import DayChange
from taskdb.core.course import assembly
from taskdb.core.course.assembly import Chosen, ZoneChoice
from taskdb.core.course.compare import PointDifference, compare_points
from taskdb.core.course.day import DaySheet, magnetic_between_points
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import Course, measure_course
from taskdb.core.flown import FlownSummary, flown_summary
from taskdb.core.model import Role, Status, Task, TaskType
from taskdb.core.names import require_name
from taskdb.core.pasted import command_line
from taskdb.core.revision_words import task_changes
from taskdb.errors import NotFoundError, RefusedError, UsageError
from taskdb.services.desk import Desk, Write
from taskdb.services.ground import open_terrain
from taskdb.services.references import contest_of, resolve_contest, resolve_task, set_under
from taskdb.services.tasks.basis import basis_for, optional_place, resolve_place, saved_defaults, staleness
from taskdb.services.tasks.building import (
    NewTask as NewTask,
    PointRequest as PointRequest,
    built_task,
    class_of,
    require_free_name,
)
from taskdb.services.tasks.covers import CoverAsked
from taskdb.services.tasks.day import on_its_day
from taskdb.services.tasks.free_points import FreeRequest, chosen_free
from taskdb.services.tasks.review import Review, Together, review_task
from taskdb.store import task_lines, tasks as task_rows
from taskdb.store.flown import flown_records
from taskdb.values import dataclass

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


def new_task(desk: Desk, request: NewTask, write: Write) -> TaskShown:
    """Make a task from references in order. RefusedError where its name is taken or a reference is ambiguous."""
    name = require_name(request.name, what="task", colon=True)
    with desk.writing(write) as writing:
        c = writing.connection
        basis = basis_for(c, request.contest, request.set_reference)
        require_free_name(c, name, basis.contest_id)
        task = replace(built_task(c, request, basis), name=name)
        head = save_task(writing, None, basis.contest_id, task)
        return reviewed(c, head, head.newest)


def edit_task(desk: Desk, reference: str, edit: TaskEdit, write: Write, contest: str | None = None) -> TaskShown:
    """Change a task as a new revision, on the set revision and defaults that it was saved with."""
    moves = (edit.insert, edit.move, edit.drop, edit.start_at, edit.reverse or None)
    if sum(move is not None for move in moves) > 1:
        raise UsageError(
            "one-move-at-a-time",
            "One command takes at most one of --insert, --move, --drop, --reverse and --start-at: each renumbers.",
            hint="Give them in separate commands.",
        )
    with desk.writing(write) as writing:
        c = writing.connection
        head, before = _locked_newest(writing, reference, contest)
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
        head = save_task(writing, head, head.contest_id, after)
        return reviewed(c, head, head.newest)


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
    with desk.writing(write) as writing:
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
        head = save_task(writing, None, at.head.contest_id, copied)
        return reviewed(c, head, head.newest)


def retire_task(desk: Desk, reference: str, write: Write, contest: str | None = None) -> TaskShown:
    """Retire a task: it leaves lists and keeps its name, its revisions and its records."""
    with desk.writing(write) as writing:
        c = writing.connection
        head, task = _locked_newest(writing, reference, contest)
        if head.retired:
            raise RefusedError(
                "already-retired",
                f"The task {head.name!r} is retired already.",
                hint=f"`{command_line('task restore', head.name)}` brings it back.",
            )
        head = save_task(writing, head, head.contest_id, task, retired=True)
        return reviewed(c, head, head.newest)


def restore_task(desk: Desk, reference: str, write: Write, contest: str | None = None) -> TaskShown:
    """Bring a retired task back (`NAME`), or make a new revision equal to an earlier one (`NAME@R`)."""
    with desk.writing(write) as writing:
        c = writing.connection
        at = resolve_task(c, reference, contest)
        head = task_rows.lock_task(writing, at.head.id)
        if at.revision == head.newest and not head.retired:
            writing.abandon()
            return reviewed(c, head, head.newest)
        task = task_rows.task_at(c, head.id, at.revision)
        if task.name != head.name:
            require_free_name(c, task.name, head.contest_id)
        head = save_task(writing, head, head.contest_id, task)
        return reviewed(c, head, head.newest)


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


def shown(c: Connection, head: TaskHead, revision: int, *, given_day: DayChange | None = None) -> TaskShown:
    """Return what is shown of a task at a revision, everything measured anew from the saved copy.

    `given_day` goes before what the contest's day has.
    """
    task = task_rows.task_at(c, head.id, revision)
    info = task_rows.task_info(c, head.id, revision)
    stale, beside = staleness(c, head, task)
    if info.retired:
        beside = ("this task is retired", *beside)
    course, day = on_its_day(c, task, measure_course(task), given_day)
    flown = flown_summary(flown_records(c, head.id))
    return TaskShown(task, revision, course, fingerprint(task), stale, beside, info, day, flown=flown)


def reviewed(
    c: Connection,
    head: TaskHead,
    revision: int,
    together: Together | None = None,
    *,
    given_day: DayChange | None = None,
) -> TaskShown:
    """Return what is shown of a task with what its review says; `together` is shared by several tasks."""
    found = shown(c, head, revision, given_day=given_day)
    review = review_task(
        found.task,
        found.course,
        together or Together(c),
        but=(head,),
        stale=found.stale,
        day=found.day,
        given=given_day,
    )
    return replace(found, review=review)


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
    course = course or measure_course(task, touching=False)
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


def _locked_newest(writing: Writing, reference: str, contest: str | None) -> tuple[TaskHead, Task]:
    """Lock the task that is to be changed, and return it at its newest revision. RefusedError for an old one."""
    c = writing.connection
    at = resolve_task(c, reference, contest)
    if at.revision != at.head.newest:
        raise RefusedError(
            "old-revision",
            f"{reference!r} is an old revision; only the newest can be changed.",
            hint=f"`{command_line('task restore', reference)}` makes a new revision equal to it.",
        )
    head = task_rows.lock_task(writing, at.head.id)
    return head, task_rows.task_at(c, head.id, head.newest)
