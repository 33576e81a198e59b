"""The task sheet and its map: what a page needs from the store, and the files that they are written to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from taskdb.core.contest_scopes import what_holds
from taskdb.core.model import Contest, Task, Waypoint
from taskdb.core.quantities import Units, Wind
from taskdb.errors import RefusedError, UsageError
from taskdb.files.standing import is_there
from taskdb.files.writing import unwritable, write_file
from taskdb.services.day import DayChange, contest_of
from taskdb.services.desk import Desk
from taskdb.services.handout import TaskChoice, as_exported, chosen_tasks, file_names
from taskdb.services.handout_points import places_of
from taskdb.services.references import resolve_set
from taskdb.services.tasks import TaskShown, reviewed
from taskdb.store import sets as set_rows

if TYPE_CHECKING:
    from sqlalchemy import Connection


@dataclass(frozen=True)
class SheetRequest:
    choice: TaskChoice
    to: str
    date: str | None = None
    units: Units | None = None
    """Units of distances; None: those of each task's contest."""
    overwrite: bool = False
    wind: Wind | None = None
    paper: str = "a4"
    """Paper of a PDF, `a4` or `letter`; a browser asks its printer."""
    variants: bool = False
    """Put a page before the others on which two to four tasks stand at one scale."""


@dataclass(frozen=True)
class SheetWritten:
    """A sheet or map that was written; `tasks` are the tasks on it, as NAME@R."""

    path: str
    format: str
    tasks: tuple[str, ...]
    bytes: int


def write_sheet(desk: Desk, request: SheetRequest) -> tuple[SheetWritten, ...]:
    """Write the task sheet: one page a task as HTML or PDF, or a map alone as SVG; into a folder one sheet a task.

    RefusedError where a file exists and `overwrite` is not given, and where what writes PDF is not installed.
    """
    look = partial(reviewed, given_day=DayChange(date=request.date, wind=request.wind))
    suffix = Path(request.to).suffix.lower()
    if suffix == ".pdf":
        from taskdb.report.pdf import require_pdf

        require_pdf()
    with desk.store.reading() as c:
        tasks = chosen_tasks(c, request.choice, look)
        pages = page_materials(c, tasks)
    if suffix == ".svg" and len(tasks) != 1:
        raise UsageError("one-map", "An SVG file holds the map of one task.", hint="Name one task, or a folder.")
    if suffix in _FILES:
        targets = [(request.to, tasks, pages)]
    else:
        names = file_names([as_exported(task) for task in tasks])
        targets = [
            (str(Path(request.to) / f"{name}.html"), [task], [page])
            for name, task, page in zip(names, tasks, pages, strict=True)
        ]
    _require_new([path for path, _, _ in targets], request.overwrite)
    # All is drawn before anything is written, so that what cannot be drawn leaves every file as it was.
    contents = [_content(path, some, material, request) for path, some, material in targets]
    return tuple(_write_one(path, some, content) for (path, some, _), content in zip(targets, contents, strict=True))


_FILES = (".html", ".svg", ".pdf")


def _content(path: str, tasks: Sequence[TaskShown], material: Sequence[Material], request: SheetRequest) -> bytes:
    suffix = Path(path).suffix.lower()
    if suffix == ".svg":
        return map_text(tasks[0], material[0], units=request.units).encode("utf-8")
    text = sheet_text(tasks, material, date=request.date, units=request.units, with_variants=request.variants)
    if suffix != ".pdf":
        return text.encode("utf-8")
    from taskdb.report.pdf import Paper, sheet_pdf

    return sheet_pdf(text, Paper(request.paper))


def _write_one(path: str, tasks: Sequence[TaskShown], content: bytes) -> SheetWritten:
    try:
        Path(path).parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise unwritable(path, error) from None
    write_file(path, content)
    names = tuple(f"{task.task.name}@{task.revision}" for task in tasks)
    return SheetWritten(path, Path(path).suffix.lower().removeprefix("."), names, len(content))


@dataclass(frozen=True)
class Material:
    """What a page needs besides its task: the catalogue round it, its own points' waypoints, its contest."""

    catalogue: tuple[Waypoint, ...]
    waypoints: dict[str, Waypoint]
    contest: Contest | None


def page_materials(c: Connection, tasks: Sequence[TaskShown]) -> list[Material]:
    """Return what the pages of tasks need from the store; tasks of one set revision share its catalogue."""
    catalogues: dict[str, tuple[Waypoint, ...]] = {}
    for task in tasks:
        reference = f"{task.task.set_name}@{task.task.set_revision}"
        if reference not in catalogues:
            at = resolve_set(c, reference)
            catalogues[reference] = tuple(set_rows.waypoints_at(c, at.head.id, at.revision))
    return [_material(c, task.task, catalogues[f"{task.task.set_name}@{task.task.set_revision}"]) for task in tasks]


def _material(c: Connection, value: Task, catalogue: tuple[Waypoint, ...]) -> Material:
    used = {place.identity for place in places_of(value)}
    own = {waypoint.code: waypoint for waypoint in catalogue if waypoint.identity in used}
    # Procedure, channels and the day are those of the morning, not those of the time at which the task was saved.
    return Material(catalogue, own, contest_of(c, value.contest))


def sheet_text(
    tasks: Sequence[TaskShown],
    material: Sequence[Material],
    *,
    date: str | None = None,
    units: Units | None = None,
    with_variants: bool = False,
) -> str:
    """Return the sheet of some tasks as HTML, distances in `units`, else in those of each task's contest."""
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
            date=date,
            stale=task.stale,
            # What the set's own note says already is not told twice.
            findings=tuple(f for f in task.review.open if f.rule != "points-changed") if task.review else (),
            day=task.day,
            units=units or units_of(page.contest),
        )
        for task, page in zip(tasks, material, strict=True)
    ]
    return render_sheet(pages, with_variants=with_variants)


def units_of(contest: Contest | None) -> Units:
    """Return the units in which a contest shows distances."""
    told = what_holds(contest, None, None).get("units_distance")
    return Units(told) if told in set(Units) else Units.KM


def map_text(task: TaskShown, material: Material, *, units: Units | None = None) -> str:
    """Return the map of a task as SVG, distances in `units`, else in those of its contest."""
    from taskdb.report.map import draw_map

    wanted = units or units_of(material.contest)
    return draw_map(task.task, task.course, catalogue=material.catalogue, units=wanted) + "\n"


def _require_new(paths: Sequence[str], overwrite: bool) -> None:
    existing = [path for path in paths if is_there(path)]
    if existing and not overwrite:
        raise RefusedError(
            "file-exists",
            f"{', '.join(existing[:5])} exists already.",
            hint="Give --yes to write over it.",
            details={"files": existing},
        )
