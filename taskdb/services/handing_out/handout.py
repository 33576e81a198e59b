"""One command on the morning: a day's tasks in every format, their sheet and maps, the points, and what changed.

What was handed out is kept in the store, so that a later hand-out can tell every value that differs from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.model import Severity, Status, Waypoint
from taskdb.core.pasted import command_line
from taskdb.core.quantities import Units
from taskdb.core.shown import ValueChange, Withdrawn
from taskdb.errors import NotFoundError, RefusedError
from taskdb.files.pack import Pack, PackedFile, Written, write_pack, written
from taskdb.formats.known import SETS_HANDED_OUT, TASKS_HANDED_OUT
from taskdb.report.sheet import render_sheet
from taskdb.report.sheet_changes import change_note
from taskdb.report.sheet_page import SheetPage
from taskdb.report.sheet_variants import FEWEST, MOST
from taskdb.services.desk import Desk, Write, require_confirmed
from taskdb.services.ground import open_terrain
from taskdb.services.handing_out.changes import PROPOSED, ChangedSheet, Editions, marked_as_before, said_on
from taskdb.services.handing_out.exporting import as_exported, file_names, task_file
from taskdb.services.handing_out.pages import Material, map_text, page_materials, sheet_page
from taskdb.services.handing_out.points import points_files, used_points, with_those_near
from taskdb.services.references import resolve_contest, resolve_task
from taskdb.services.tasks.keeping import TaskShown, reviewed
from taskdb.services.tasks.review import Together
from taskdb.store import handouts as handout_rows, task_lines

if TYPE_CHECKING:
    from taskdb.core.kept import TaskHead, TaskSummaryRow
    from taskdb.store.engine import Connection, Writing
    from taskdb.store.handouts import HandedOut

DECIDED = (Status.ISSUED, Status.FLOWN)


@dataclass(frozen=True)
class HandoutRequest:
    contest: str
    day: int | None
    to: str
    to_whom: str | None = None
    within_m: float | None = None
    """Besides the tasks' own points, hand out every waypoint within this of the contest's site."""
    airspace: tuple[str, ...] = ()
    """What the tasks are held against, in place of the contest's own."""
    overwrite: bool = False
    units: Units | None = None
    proposed: bool = False
    """Hand out the proposed tasks of a day and class for which none is issued, each marked as that."""
    terrain: str | None = None
    """A folder of the user's own heights: for relief and profile on the sheet and the maps."""


@dataclass(frozen=True)
class Handout:
    """What was handed out: the pack, each task's page with what changed on it, and what holds no more."""

    pack: Pack
    sheets: tuple[ChangedSheet, ...]
    withdrawn: tuple[Withdrawn, ...]
    number: int | None
    to_whom: str | None
    unissued: tuple[str, ...]
    """Tasks that went out as the only ones of their day and class although nobody issued them."""
    at_home: tuple[str, ...]
    """Proposals that stayed at home because the task of their day and class was cancelled or replaced."""

    @property
    def tasks(self) -> tuple[str, ...]:
        """Return the tasks that were handed out, as NAME@R."""
        return tuple(named(sheet) for sheet in self.sheets)


def named(sheet: ChangedSheet) -> str:
    """Return what names a page's task: NAME@R."""
    return f"{sheet.page.task.name}@{sheet.page.revision}"


def hand_out(desk: Desk, request: HandoutRequest, write: Write) -> Handout:
    """Write a day's hand-out and keep what was in it: what was chosen, and nothing else of the day.

    Where none of a day and class is issued and several are proposed, RefusedError names them. Asks (RefusedError
    without a confirmation) while a task is stale or has an open error. All or nothing.
    """

    def work(writing: Writing) -> Handout:
        c = writing.connection
        contest = resolve_contest(c, request.contest)
        rows = task_lines.list_tasks(c, contest_id=contest.id, with_retired=True)
        chosen, at_home = _chosen(rows, contest.name, request)
        editions = Editions(c, contest, handout_rows.handed_out_before(c, contest.id, request.day))
        heads = [row.head for row in chosen]
        withdrawn = editions.withdrawn(heads, rows)
        if not heads and not withdrawn:
            raise _no_tasks(contest.name, request, at_home)
        ground = open_terrain(request.terrain) if request.terrain is not None else None
        together = Together(c, airspace=request.airspace, ground=ground)
        tasks = [reviewed(c, head, head.newest, together) for head in heads]
        _require_sound(tasks, write)
        material = page_materials(c, tasks)
        sheets = tuple(
            editions.changed(head, sheet_page(task, page, units=request.units, mark=_mark(row, request), ground=ground))
            for head, row, task, page in zip(heads, chosen, tasks, material, strict=True)
        )
        files = _files(c, tasks, sheets, material, withdrawn, request)
        # What stands in the files is what is kept: from here on nobody writes.
        writing.begin()
        if write.preview:
            pack = Pack(request.to, tuple(_as_written(files)))
        else:
            pack = write_pack(request.to, files, overwrite=request.overwrite or write.confirmed, whole=True)
        kept = [
            handout_rows.TaskToKeep(head.id, head.newest, sheet.page.fingerprint, said_on(sheet.page))
            for head, sheet in zip(heads, sheets, strict=True)
        ]
        number = handout_rows.write_handout(
            writing, contest.id, contest.newest, request.day, request.to, request.to_whom, kept
        )
        unissued = tuple(row.task for row in chosen if row.status is Status.PROPOSED and not request.proposed)
        return Handout(pack, sheets, withdrawn, None if write.preview else number, request.to_whom, unissued, at_home)

    return desk.write(write, work)


def _no_tasks(contest: str, request: HandoutRequest, at_home: Sequence[str]) -> NotFoundError:
    where = f"day {request.day} of " if request.day is not None else ""
    hint = (
        f"`{command_line('task choose', at_home[0], options=['--contest', contest])}` issues it."
        if at_home
        else "`taskdb task list`."
    )
    return NotFoundError("no-tasks", f"There is no task in {where}{contest!r} to hand out.", hint=hint)


def _mark(row: TaskSummaryRow, request: HandoutRequest) -> str | None:
    return PROPOSED if request.proposed and row.status is Status.PROPOSED else None


def _chosen(
    rows: Sequence[TaskSummaryRow], contest: str, request: HandoutRequest
) -> tuple[list[TaskSummaryRow], tuple[str, ...]]:
    """Return what goes out of each day and class, and the proposals that stay at home where a task was called off.

    What was issued goes out; else the only task of a day and class; else, asked for, all proposals. Where the task of
    a day and class was cancelled, that is the decision: no proposal takes its place unseen. Tasks of no day are
    nobody's variants: each of them goes out. RefusedError with the choices where there are several.
    """
    groups: dict[tuple[int | None, str | None, str | None], list[TaskSummaryRow]] = {}
    for row in rows:
        if not row.head.retired and (request.day is None or row.day == request.day):
            alone = row.task if row.day is None else None
            groups.setdefault((row.day, row.class_name, alone), []).append(row)
    going: list[TaskSummaryRow] = []
    at_home: list[str] = []
    undecided: list[list[TaskSummaryRow]] = []
    for group in groups.values():
        decided = [row for row in group if row.status in DECIDED]
        proposed = [row for row in group if row.status is Status.PROPOSED]
        if decided:
            going += decided
        elif len(proposed) < len(group) and not request.proposed:
            at_home += [row.task for row in proposed]
        elif len(proposed) > 1 and not request.proposed:
            undecided.append(proposed)
        else:
            going += proposed
    if undecided:
        raise _undecided(undecided, contest)
    return sorted(going, key=lambda row: row.task), tuple(sorted(at_home))


def _undecided(groups: Sequence[Sequence[TaskSummaryRow]], contest: str) -> RefusedError:
    said = []
    for group in groups:
        of_class = f" of class {group[0].class_name}" if group[0].class_name else ""
        said.append(f"day {group[0].day}{of_class}: {', '.join(row.task for row in group)}")
    first = groups[0][0].task
    return RefusedError(
        "none-issued",
        f"None is issued and several are proposed: {'; '.join(said)}.",
        hint=f"`{command_line('task choose', first, options=['--contest', contest])}` issues one; "
        "--proposed hands all out, marked so.",
        details={"choices": [[row.task for row in group] for group in groups]},
    )


def _as_written(files: Sequence[PackedFile]) -> list[Written]:
    return [written(file) for file in sorted(files, key=lambda file: file.path)]


def _require_sound(tasks: Sequence[TaskShown], write: Write) -> None:
    faults = []
    for task in tasks:
        faults += [f"{task.task.name} is stale: {reason}" for reason in task.stale]
        open_ones = task.review.open if task.review is not None else ()
        faults += [f"{task.task.name}: {f.message}" for f in open_ones if f.severity is Severity.ERROR]
    if faults:
        require_confirmed(write, f"{'; '.join(faults)}. Hand out all the same?", faults=faults)


def _files(
    c: Connection,
    tasks: Sequence[TaskShown],
    sheets: Sequence[ChangedSheet],
    material: Sequence[Material],
    withdrawn: Sequence[Withdrawn],
    request: HandoutRequest,
) -> list[PackedFile]:
    exported = [as_exported(task, sheet.page.mark) for task, sheet in zip(tasks, sheets, strict=True)]
    names = file_names(exported)
    files = [task_file(task, name, f) for task, name in zip(exported, names, strict=True) for f in TASKS_HANDED_OUT]
    pages = [sheet.page for sheet in sheets]
    of_day = (request.contest, *([f"day {request.day}"] if request.day is not None else []))
    text = render_sheet(pages, variants_of=_variants(sheets), withdrawn=withdrawn, above_withdrawn=of_day)
    of = ", ".join(map(named, sheets)) or None
    files.append(PackedFile("task-sheet.html", text.encode("utf-8"), "html", task=of))
    for name, sheet in zip(names, sheets, strict=True):
        files.append(PackedFile(f"{name}.svg", map_text(sheet.page).encode("utf-8"), "svg", task=named(sheet)))
    if tasks:
        files += points_files(_points(c, tasks, material, request.within_m), SETS_HANDED_OUT)
    told = [(named(sheet), None if sheet.is_new else sheet.changes) for sheet in sheets]
    note = change_note(told, withdrawn, closing=CAUTION)
    files.append(PackedFile("CHANGES.txt", note.encode("utf-8"), "text"))
    return files


def _variants(sheets: Sequence[ChangedSheet]) -> list[list[SheetPage]]:
    """Return the pages of each day and class of which several go out, as long as a page has room for them."""
    groups: dict[tuple[int | None, str | None], list[SheetPage]] = {}
    for sheet in sheets:
        task = sheet.page.task
        if task.day is not None:
            groups.setdefault((task.day, task.class_name), []).append(sheet.page)
    return [group for group in groups.values() if FEWEST <= len(group) <= MOST]


CAUTION = (
    "The files bring the points, the task sheet brings the zones. Not for primary navigation: check current airspace, "
    "NOTAM, weather and local rules; the pilot in command and the contest's officials decide. A declaration file is no "
    "badge declaration until it is in the recorder before take-off."
)


def _points(
    c: Connection, tasks: Sequence[TaskShown], material: Sequence[Material], within_m: float | None
) -> dict[str, list[Waypoint]]:
    """Return the waypoints that the tasks use, and those round the site where asked for, by set revision."""
    found = used_points(c, (task.task for task in tasks))
    if within_m is None:
        return found
    for page, task in zip(material, tasks, strict=True):
        on_set = f"{task.task.set_name}@{task.task.set_revision}"
        site = page.contest.site if page.contest is not None else None
        centre = next((w for w in page.catalogue if w.code == site), None)
        if centre is None:
            raise RefusedError(
                "no-site",
                "The contest has no site round which points could be taken.",
                hint="`taskdb contest edit NAME --site CODE`, or leave out --points-within.",
            )
        found[on_set] = with_those_near(found[on_set], page.catalogue, centre.position, within_m)
    return found


@dataclass(frozen=True)
class TaskHandedOut:
    """A hand-out that a task was in, and every value that its sheet would show otherwise now."""

    entry: HandedOut
    values: tuple[ValueChange, ...]


def handouts_of_task(desk: Desk, reference: str, contest: str | None = None) -> tuple[TaskHandedOut, ...]:
    """Return the hand-outs that a task was in, newest first, each with what differs from it now."""
    with desk.store.reading() as c:
        head = resolve_task(c, reference, contest).head
        entries = handout_rows.handouts_of(c, head.id)
        if not entries or head.contest_name is None:
            return ()
        editions = Editions(c, resolve_contest(c, head.contest_name), entries)
        page = marked_as_before(_page_now(c, head), entries)
        return tuple(TaskHandedOut(entry, editions.values_since(entry, page)) for entry in entries)


def _page_now(c: Connection, head: TaskHead) -> SheetPage:
    task = reviewed(c, head, head.newest)
    return sheet_page(task, page_materials(c, [task])[0])
