"""Handing out: tasks and sets into files with a manifest."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.errors import NotFoundError, UsageError
from taskdb.files.pack import Difference, Pack, PackedFile, verify_pack, write_pack
from taskdb.files.safe_names import safe_names
from taskdb.formats.exported import ExportedTask
from taskdb.formats.registry import SET_FORMATS, TASK_FORMATS, write_set, write_task
from taskdb.services.desk import Desk
from taskdb.services.references import TaskAt, resolve_contest, resolve_set, resolve_task
from taskdb.services.tasks import TaskShown, shown
from taskdb.store import sets as set_rows, tasks as task_rows

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from taskdb.store.tasks import TaskHead


@dataclass(frozen=True)
class TaskChoice:
    """Which tasks: by name, or all of a contest (of one day of it), or all that stand."""

    references: tuple[str, ...] = ()
    contest: str | None = None
    day: int | None = None
    everything: bool = False


def export_tasks(desk: Desk, choice: TaskChoice, *, formats: Sequence[str], to: str, overwrite: bool = False) -> Pack:
    """Write each task in each format into a folder or zip, with a manifest. All or nothing."""
    _require_formats(formats, list(TASK_FORMATS))
    with desk.store.reading() as c:
        tasks = chosen_tasks(c, choice)
    files = [
        task_file(task, name, format_name)
        for task, name in zip(tasks, file_names(tasks), strict=True)
        for format_name in formats
    ]
    return write_pack(to, files, overwrite=overwrite)


def export_sets(
    desk: Desk, references: Sequence[str], *, formats: Sequence[str], to: str, overwrite: bool = False
) -> Pack:
    """Write each set in each format into a folder or zip, with a manifest. All or nothing."""
    _require_formats(formats, list(SET_FORMATS))
    if not references:
        raise UsageError("nothing-named", "No set is named.", hint="taskdb export set SET[@R]… --format csv --to DIR")
    files = []
    with desk.store.reading() as c:
        sets = [resolve_set(c, reference) for reference in references]
        for at, name in zip(sets, safe_names(at.head.name for at in sets), strict=True):
            waypoints = set_rows.waypoints_at(c, at.head.id, at.revision)
            for format_name in formats:
                buffer = io.BytesIO()
                lost = write_set(buffer, waypoints, format_name)
                path = name + SET_FORMATS[format_name][0]
                files.append(PackedFile(path, buffer.getvalue(), format_name, set=str(at), lost=tuple(lost)))
    return write_pack(to, files, overwrite=overwrite)


def verify_export(target: str) -> list[Difference]:
    """Return what differs between an export and its manifest; empty where nothing does."""
    return verify_pack(target)


def chosen_tasks(
    c: Connection, choice: TaskChoice, look: Callable[[Connection, TaskHead, int], TaskShown] = shown
) -> list[TaskShown]:
    """Return the chosen tasks, as `look` shows them.

    UsageError where nothing is chosen, NotFoundError where a contest or day has none.
    """
    ways = bool(choice.references) + (choice.contest is not None and not choice.references) + choice.everything
    if ways != 1:
        raise UsageError(
            "which-tasks",
            "It is not said which tasks." if ways == 0 else "Tasks are chosen in two ways at once.",
            hint="Name tasks, or give --contest C [--day N], or --all.",
        )
    if choice.references:
        resolved = [resolve_task(c, reference, choice.contest) for reference in choice.references]
    else:
        contest_id = resolve_contest(c, choice.contest).id if choice.contest is not None else None
        rows = task_rows.list_tasks(c, contest_id=contest_id)
        resolved = [TaskAt(row.head, row.revision) for row in rows if choice.day is None or row.day == choice.day]
    if not resolved:
        where = f"day {choice.day} of {choice.contest!r}" if choice.day is not None else repr(choice.contest)
        raise NotFoundError(
            "no-tasks",
            f"There is no task in {where}." if choice.contest else "There is no task.",
            hint="`taskdb task list` shows what there is.",
        )
    return [look(c, at.head, at.revision) for at in resolved]


def file_names(tasks: Sequence[TaskShown]) -> tuple[str, ...]:
    """Return a safe file name for each task, without suffix; all different."""
    labels = [f"{s.task.contest} {s.task.name}" if s.task.contest else s.task.name for s in tasks]
    return safe_names(labels)


def task_file(task: TaskShown, name: str, format_name: str) -> PackedFile:
    """Return one task in one format, as a pack takes it."""
    buffer = io.BytesIO()
    date = None if task.day is None else task.day.date
    exported = ExportedTask(task.task, task.course, task.revision, task.fingerprint, task.info.at, date)
    lost = write_task(buffer, exported, format_name)
    reference = f"{task.task.name}@{task.revision}"
    path = name + TASK_FORMATS[format_name][0]
    on_set = f"{task.task.set_name}@{task.task.set_revision}"
    return PackedFile(
        path,
        buffer.getvalue(),
        format_name,
        task=reference,
        lost=tuple(lost),
        fingerprint=task.fingerprint,
        on_set=on_set,
    )


def _require_formats(formats: Sequence[str], known: Sequence[str]) -> None:
    unknown = [name for name in formats if name not in known]
    if unknown or not formats:
        said = f"{', '.join(unknown)} is no format that can be written here" if unknown else "No format is named"
        raise UsageError("unknown-format", f"{said}.", hint=f"Formats: {', '.join(known)}.", details={"known": known})
