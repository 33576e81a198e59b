"""Handing out: tasks and sets into files with a manifest, and the task sheet with its map."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from taskdb.core.model import Contest, Place, Task, Waypoint
from taskdb.core.quantities import Units, Wind
from taskdb.errors import NotFoundError, RefusedError, UsageError
from taskdb.files.pack import Difference, Pack, PackedFile, verify_pack, write_pack
from taskdb.files.safe_names import safe_names
from taskdb.files.writing import write_file
from taskdb.formats.exported import ExportedTask
from taskdb.formats.registry import SET_FORMATS, TASK_FORMATS, write_set, write_task
from taskdb.services.day import DayChange
from taskdb.services.desk import Desk
from taskdb.services.references import TaskAt, resolve_contest, resolve_set, resolve_task
from taskdb.services.tasks import TaskShown, reviewed, shown
from taskdb.store import contests as contest_rows, sets as set_rows, tasks as task_rows

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
        _task_file(task, name, format_name)
        for task, name in zip(tasks, _file_names(tasks), strict=True)
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


def _file_names(tasks: Sequence[TaskShown]) -> tuple[str, ...]:
    labels = [f"{s.task.contest} {s.task.name}" if s.task.contest else s.task.name for s in tasks]
    return safe_names(labels)


def _task_file(task: TaskShown, name: str, format_name: str) -> PackedFile:
    buffer = io.BytesIO()
    exported = ExportedTask(task.task, task.course, task.revision, task.fingerprint, task.info.at)
    lost = write_task(buffer, exported, format_name)
    reference = f"{task.task.name}@{task.revision}"
    path = name + TASK_FORMATS[format_name][0]
    return PackedFile(path, buffer.getvalue(), format_name, task=reference, lost=tuple(lost))


def _require_formats(formats: Sequence[str], known: Sequence[str]) -> None:
    unknown = [name for name in formats if name not in known]
    if unknown or not formats:
        said = f"{', '.join(unknown)} is no format that can be written here" if unknown else "No format is named"
        raise UsageError("unknown-format", f"{said}.", hint=f"Formats: {', '.join(known)}.", details={"known": known})


@dataclass(frozen=True)
class SheetRequest:
    choice: TaskChoice
    to: str
    date: str | None = None
    units: Units = Units.KM
    overwrite: bool = False
    wind: Wind | None = None


@dataclass(frozen=True)
class SheetWritten:
    """A sheet or map that was written; `tasks` are the tasks on it, as NAME@R."""

    path: str
    format: str
    tasks: tuple[str, ...]
    bytes: int


def write_sheet(desk: Desk, request: SheetRequest) -> tuple[SheetWritten, ...]:
    """Write the task sheet: one HTML page a task, or the maps alone as SVG; into a folder one sheet a task.

    UsageError for another suffix, RefusedError where a file exists and `overwrite` is not given.
    """
    look = partial(reviewed, given_day=DayChange(date=request.date, wind=request.wind))
    with desk.store.reading() as c:
        tasks = chosen_tasks(c, request.choice, look)
        pages = [_page_material(c, task) for task in tasks]
    suffix = Path(request.to).suffix.lower()
    if suffix == ".html":
        targets = [(request.to, tasks, pages)]
    elif suffix == ".svg":
        if len(tasks) != 1:
            raise UsageError("one-map", "An SVG file holds the map of one task.", hint="Name one task, or a folder.")
        targets = [(request.to, tasks, pages)]
    elif suffix in (".pdf",):
        raise UsageError(
            "no-pdf", "PDF is not written.", hint="Write the sheet as .html and print it to PDF from a browser."
        )
    else:
        names = _file_names(tasks)
        targets = [
            (str(Path(request.to) / f"{name}.html"), [task], [page])
            for name, task, page in zip(names, tasks, pages, strict=True)
        ]
    _require_new([path for path, _, _ in targets], request.overwrite)
    return tuple(_write_one(path, some, material, request) for path, some, material in targets)


def _write_one(
    path: str, tasks: Sequence[TaskShown], material: Sequence[_Material], request: SheetRequest
) -> SheetWritten:
    is_map = path.lower().endswith(".svg")
    text = _map_text(tasks[0], material[0], request) if is_map else _sheet_text(tasks, material, request)
    content = text.encode("utf-8")
    Path(path).parent.mkdir(parents=True, exist_ok=True)
    write_file(path, content)
    names = tuple(f"{task.task.name}@{task.revision}" for task in tasks)
    return SheetWritten(path, "svg" if is_map else "html", names, len(content))


@dataclass(frozen=True)
class _Material:
    """What a page needs besides its task: the catalogue round it, its own points' waypoints, its contest."""

    catalogue: tuple[Waypoint, ...]
    waypoints: dict[str, Waypoint]
    contest: Contest | None


def _page_material(c: Connection, task: TaskShown) -> _Material:
    value = task.task
    at = resolve_set(c, f"{value.set_name}@{value.set_revision}")
    catalogue = tuple(set_rows.waypoints_at(c, at.head.id, at.revision))
    used = {place.identity for place in _places(value)}
    own = {waypoint.code: waypoint for waypoint in catalogue if waypoint.identity in used}
    contest = None
    if value.contest is not None and value.contest_revision is not None:
        head = resolve_contest(c, value.contest)
        contest = contest_rows.contest_at(c, head.id, value.contest_revision)
    return _Material(catalogue, own, contest)


def _places(task: Task) -> list[Place]:
    ends = [place for place in (task.take_off, task.landing) if place is not None]
    return [*(point.place for point in task.points), *ends]


def _sheet_text(tasks: Sequence[TaskShown], material: Sequence[_Material], request: SheetRequest) -> str:
    from taskdb.report.sheet import SheetPage, render_sheet

    pages = [
        SheetPage(
            task=task.task,
            revision=task.revision,
            course=task.course,
            fingerprint=task.fingerprint,
            catalogue=page.catalogue,
            waypoints=page.waypoints,
            contest=page.contest,
            date=request.date,
            stale=task.stale,
            # What the set's own note says already is not told twice.
            findings=tuple(f for f in task.review.open if f.rule != "points-changed") if task.review else (),
            day=task.day,
        )
        for task, page in zip(tasks, material, strict=True)
    ]
    return render_sheet(pages, units=request.units)


def _map_text(task: TaskShown, material: _Material, request: SheetRequest) -> str:
    from taskdb.report.map import draw_map

    return draw_map(task.task, task.course, catalogue=material.catalogue, units=request.units) + "\n"


def _require_new(paths: Sequence[str], overwrite: bool) -> None:
    existing = [path for path in paths if Path(path).exists()]
    if existing and not overwrite:
        raise RefusedError(
            "file-exists",
            f"{', '.join(existing[:5])} exists already.",
            hint="Give --yes to write over it.",
            details={"files": existing},
        )
