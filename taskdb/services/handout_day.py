"""One command on the morning: a day's tasks in every format, their sheet and maps, the points, and what changed.

What was handed out is kept in the store, so that a later look can say what differs from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.course.compare import PointChange, PointDifference, compare_points
from taskdb.core.model import Severity, Status, Waypoint
from taskdb.core.quantities import Units, format_short_distance
from taskdb.errors import NotFoundError, RefusedError
from taskdb.files.pack import Pack, PackedFile, Written, write_pack, written
from taskdb.formats.registry import SET_FORMATS, TASK_FORMATS
from taskdb.report.sheet_variants import FEWEST, MOST
from taskdb.services.desk import Desk, Write, require_confirmed
from taskdb.services.handout import as_exported, file_names, task_file
from taskdb.services.handout_points import points_files, used_points, with_those_near
from taskdb.services.references import resolve_contest, resolve_task
from taskdb.services.sheets import Material, map_text, page_materials, sheet_text
from taskdb.services.tasks import TaskShown, reviewed, shown
from taskdb.store import handouts as handout_rows, task_lines, tasks as task_rows

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from taskdb.store.handouts import HandedOut
    from taskdb.store.tasks import TaskHead

OUT_OF_DAY = (Status.REPLACED, Status.CANCELLED)


@dataclass(frozen=True)
class HandoutRequest:
    contest: str
    day: int | None
    to: str
    to_whom: str | None = None
    within_m: float | None = None
    """Besides the tasks' own points, hand out every waypoint within this of the contest's site."""
    overwrite: bool = False
    units: Units | None = None


@dataclass(frozen=True)
class Handout:
    """What was handed out: the pack, the tasks as NAME@R, and sentences about what changed since the last time."""

    pack: Pack
    tasks: tuple[str, ...]
    changes: tuple[str, ...]
    number: int | None
    to_whom: str | None


def hand_out(desk: Desk, request: HandoutRequest, write: Write) -> Handout:
    """Write a day's hand-out and keep what was in it. Tasks that are replaced or cancelled are left out.

    Asks (RefusedError without a confirmation) while a task is stale or has an open error. All or nothing.
    """
    with desk.writing(write) as writing:
        c = writing.connection
        contest = resolve_contest(c, request.contest)
        rows = task_lines.list_tasks(c, contest_id=contest.id)
        heads = [
            row.head for row in rows if (request.day is None or row.day == request.day) and row.status not in OUT_OF_DAY
        ]
        if not heads:
            where = f"day {request.day} of " if request.day is not None else ""
            raise NotFoundError(
                "no-tasks", f"There is no task in {where}{contest.name!r} to hand out.", hint="`taskdb task list`."
            )
        tasks = [reviewed(c, head, head.newest) for head in heads]
        _require_sound(tasks, write)
        changes = _changes(c, contest.id, request.day, heads, tasks)
        files = _files(c, tasks, changes, request)
        if write.preview:
            pack = Pack(request.to, tuple(_as_written(files)))
        else:
            pack = write_pack(request.to, files, overwrite=request.overwrite or write.confirmed)
        kept = [(head.id, head.newest, task.fingerprint) for head, task in zip(heads, tasks, strict=True)]
        number = handout_rows.write_handout(writing, contest.id, request.day, request.to, request.to_whom, kept)
    names = tuple(f"{task.task.name}@{task.revision}" for task in tasks)
    return Handout(pack, names, changes, None if write.preview else number, request.to_whom)


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
    c: Connection, tasks: Sequence[TaskShown], changes: Sequence[str], request: HandoutRequest
) -> list[PackedFile]:
    exported = [as_exported(task) for task in tasks]
    names = file_names(exported)
    material = page_materials(c, tasks)
    files = [task_file(task, name, f) for task, name in zip(exported, names, strict=True) for f in TASK_FORMATS]
    sheet = sheet_text(tasks, material, units=request.units, with_variants=FEWEST <= len(tasks) <= MOST).encode("utf-8")
    files.append(PackedFile("task-sheet.html", sheet, "html", task=", ".join(_names(tasks))))
    for task, name, page in zip(tasks, names, material, strict=True):
        chart = map_text(task, page, units=request.units).encode("utf-8")
        files.append(PackedFile(f"{name}.svg", chart, "svg", task=f"{task.task.name}@{task.revision}"))
    files += points_files(_points(c, tasks, material, request.within_m), SET_FORMATS)
    note = "\r\n".join([*(changes or ("First hand-out of this day.",)), "", CAUTION, ""])
    files.append(PackedFile("CHANGES.txt", note.encode("utf-8"), "text"))
    return files


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


def _names(tasks: Sequence[TaskShown]) -> list[str]:
    return [f"{task.task.name}@{task.revision}" for task in tasks]


def _changes(
    c: Connection, contest_id: int, day: int | None, heads: Sequence[TaskHead], tasks: Sequence[TaskShown]
) -> tuple[str, ...]:
    """Return what changed since the last hand-out of the day, one sentence a task; empty where there was none."""
    before = {entry.task_id: entry for entry in handout_rows.last_handout(c, contest_id, day)}
    if not before:
        return ()
    said = []
    for head, task in zip(heads, tasks, strict=True):
        entry = before.pop(head.id, None)
        said.append(f"{task.task.name}@{task.revision}: {_since(c, entry, task)}")
    for entry in before.values():
        said.append(f"a task that was handed out at {entry.at} (fingerprint {entry.fingerprint}) is no longer in")
    return tuple(said)


def _since(c: Connection, entry: HandedOut | None, task: TaskShown) -> str:
    if entry is None:
        return "new"
    if entry.fingerprint == task.fingerprint:
        return f"unchanged since {entry.at} (fingerprint {task.fingerprint})"
    old = task_rows.task_at(c, entry.task_id, entry.revision)
    return f"{differing(compare_points(old.points, task.task.points))} from what was handed out at {entry.at}"


def differing(differences: Sequence[PointDifference]) -> str:
    """Return `3 points differ: …` with what became of each, or that only the time or type does."""
    # A start that is the finish too is one place.
    places = {(d.code, d.change, d.distance_m): d for d in differences if d.change is not PointChange.SAME}
    changed = list(places.values())
    if not changed:
        return "the points are the same, the time or the type differs"
    words = ", ".join(_difference(d) for d in changed)
    return f"{len(changed)} point{'s' if len(changed) != 1 else ''} differ{'s' if len(changed) == 1 else ''} ({words})"


def _difference(d: PointDifference) -> str:
    if d.change is PointChange.MOVED and d.distance_m is not None:
        return f"{d.code} moved {format_short_distance(d.distance_m)}"
    words = {
        PointChange.ZONE: "has another zone",
        PointChange.REPLACED: f"instead of {d.baseline_code}",
        PointChange.ADDED: "is new",
        PointChange.DROPPED: "is left out",
    }
    return f"{d.code} {words.get(d.change, d.change.value)}"


@dataclass(frozen=True)
class TaskHandedOut:
    """A hand-out that a task was in, and how the task differs from it now."""

    entry: HandedOut
    since: str


def handouts_of_task(desk: Desk, reference: str, contest: str | None = None) -> tuple[TaskHandedOut, ...]:
    """Return the hand-outs that a task was in, newest first, each with what differs from it now."""
    with desk.store.reading() as c:
        head = resolve_task(c, reference, contest).head
        now = shown(c, head, head.newest)
        return tuple(TaskHandedOut(entry, _since(c, entry, now)) for entry in handout_rows.handouts_of(c, head.id))
