"""The task sheet and its map, written to files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from taskdb.core.contests.days import DayChange
from taskdb.core.quantities import Units, Wind
from taskdb.errors import RefusedError, UsageError
from taskdb.files.standing import is_there
from taskdb.files.writing import unwritable, write_file
from taskdb.services.desk import Desk
from taskdb.services.ground import open_terrain
from taskdb.services.handing_out.exporting import TaskChoice, as_exported, choose_tasks, file_names
from taskdb.services.handing_out.pages import groups_of_variants, map_text, page_materials, sheet_page
from taskdb.services.tasks.keeping import TaskShown, reviewed
from taskdb.services.tasks.review import Together

if TYPE_CHECKING:
    from taskdb.report.sheet_page import SheetPage
    from taskdb.store.engine import Connection


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
    airspace: tuple[str, ...] = ()
    """What the tasks are held against, in place of their contests' own."""
    variants: bool = False
    """Put a page before the others on which the two to four tasks of a class stand at one scale."""
    terrain: str | None = None
    """A folder of the user's own heights: for the relief under the map and the profile of the course."""


@dataclass(frozen=True)
class SheetWritten:
    """A sheet or map that was written; `tasks` are the tasks on it, as NAME@R."""

    path: str
    format: str
    tasks: tuple[str, ...]
    bytes: int


def write_sheet(desk: Desk, request: SheetRequest) -> tuple[SheetWritten, ...]:
    """Write the task sheet: one page a task as HTML or PDF, or a map alone as SVG; into a folder one sheet a task.

    A task that was handed out says on its page what it shows otherwise now. RefusedError where a file exists and
    `overwrite` is not given, and where what writes PDF is not installed.
    """
    suffix = Path(request.to).suffix.lower()
    if suffix == ".pdf":
        from taskdb.report.pdf import require_pdf

        require_pdf()
    with desk.store.reading() as c:
        tasks, pages = _tasks_and_pages(c, request)
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
    contents = [_content(path, some, request) for path, _, some in targets]
    return tuple(_write_one(path, some, content) for (path, some, _), content in zip(targets, contents, strict=True))


_FILES = (".html", ".svg", ".pdf")


def _tasks_and_pages(c: Connection, request: SheetRequest) -> tuple[list[TaskShown], list[SheetPage]]:
    from taskdb.services.handing_out.changes import since_handed_out

    ground = open_terrain(request.terrain) if request.terrain is not None else None
    given = DayChange(date=request.date, wind=request.wind)
    chosen = choose_tasks(c, request.choice)
    together = Together(c, airspace=request.airspace, ground=ground)
    tasks = [reviewed(c, at.head, at.revision, together, given_day=given) for at in chosen]
    pages = [
        sheet_page(task, material, date=request.date, units=request.units, ground=ground)
        for task, material in zip(tasks, page_materials(c, tasks), strict=True)
    ]
    return tasks, [since_handed_out(c, at.head, page) for at, page in zip(chosen, pages, strict=True)]


def _content(path: str, pages: Sequence[SheetPage], request: SheetRequest) -> bytes:
    from taskdb.report.sheet import render_sheet

    suffix = Path(path).suffix.lower()
    if suffix == ".svg":
        return map_text(pages[0]).encode("utf-8")
    text = render_sheet(pages, variants_of=groups_of_variants(pages) if request.variants else ())
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


def _require_new(paths: Sequence[str], overwrite: bool) -> None:
    existing = [path for path in paths if is_there(path)]
    if existing and not overwrite:
        raise RefusedError(
            "file-exists",
            f"{', '.join(existing[:5])} exists already.",
            hint="Give --yes to write over it.",
            details={"files": existing},
        )
