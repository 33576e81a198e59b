"""Handing out: tasks and sets into files with a manifest."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from taskdb.core.contests.days import day_of
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import KnownExtremes, measure_course
from taskdb.core.model import Contest, Waypoint
from taskdb.errors import NotFoundError, UsageError
from taskdb.files.held import held
from taskdb.files.pack import Difference, Pack, PackedFile, verify_pack, write_pack
from taskdb.files.safe_names import safe_name, safe_names
from taskdb.formats.exported import ExportedTask
from taskdb.formats.known import SETS_WRITTEN, SUFFIX_OF, TASKS_WRITTEN
from taskdb.formats.registry import InOrder, Profile, write_set, write_task, write_task_by_profile
from taskdb.services.desk import Desk
from taskdb.services.handing_out.points import points_files, used_points, with_those_near
from taskdb.services.references import SetAt, TaskAt, contest_of, resolve_contest, resolve_set, resolve_task
from taskdb.services.tasks.finding import TaskFindRequest, find_in
from taskdb.services.tasks.keeping import TaskShown
from taskdb.services.waypoints.waypoint import place_position
from taskdb.store import sets as set_rows, task_lines, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.store.engine import Connection


@dataclass(frozen=True)
class TaskChoice:
    """Which tasks: by name, all of a contest (of one day of it), all that a search finds, or all that stand."""

    references: tuple[str, ...] = ()
    contest: str | None = None
    day: int | None = None
    everything: bool = False
    wanted: TaskFindRequest | None = None


@dataclass(frozen=True)
class SetPart:
    """Which waypoints of a set: those within a distance of a place, and those that tasks use; empty: all."""

    near: str | None = None
    within_m: float | None = None
    used_by: tuple[str, ...] = ()

    @property
    def is_whole(self) -> bool:
        return self == SetPart()


def export_tasks(
    desk: Desk,
    choice: TaskChoice,
    *,
    formats: Sequence[str],
    to: str,
    overwrite: bool = False,
    with_points: bool = False,
    profile: Profile | None = None,
) -> Pack:
    """Write each task in each format, and in a profile's layout, into a folder or zip, with a manifest. All or nothing.

    `with_points` adds the points that these tasks use as a set, in those of the formats that hold sets.
    """
    if formats or profile is None:
        _require_formats(formats, list(TASKS_WRITTEN))
    with desk.store.reading() as c:
        tasks = _exported(c, choose_tasks(c, choice))
        points = used_points(c, (exported.task for exported in tasks)) if with_points else {}
    ways: list[str | Profile] = [*formats] if profile is None else [*formats, profile]
    files = [
        task_file(exported, name, way) for exported, name in zip(tasks, file_names(tasks), strict=True) for way in ways
    ]
    return write_pack(to, [*files, *points_files(points, formats)], overwrite=overwrite)


def export_sets(
    desk: Desk,
    references: Sequence[str],
    *,
    formats: Sequence[str],
    to: str,
    overwrite: bool = False,
    part: SetPart | None = None,
) -> Pack:
    """Write each set, or a part of it, in each format into a folder or zip, with a manifest. All or nothing."""
    _require_formats(formats, list(SETS_WRITTEN))
    part = part or SetPart()
    if not references:
        raise UsageError("nothing-named", "No set is named.", hint="taskdb export set SET[@R]… --format csv --to DIR")
    if (part.near is None) != (part.within_m is None):
        raise UsageError("near-and-within", "--near and --within go together.", hint="E.g. --near HOME --within 150km.")
    files = []
    with desk.store.reading() as c:
        sets = [resolve_set(c, reference) for reference in references]
        for at, name in zip(sets, safe_names(at.head.name for at in sets), strict=True):
            chosen = None if part.is_whole else _part_of(c, at, part)
            for format_name in formats:
                waypoints = chosen or InOrder(set_rows.each_waypoint_at(c, at.head.id, at.revision))
                content, lost = held(partial(write_set, waypoints=waypoints, format=format_name))
                path = name + SUFFIX_OF[format_name]
                files.append(PackedFile(path, content, format_name, set=str(at), lost=tuple(lost)))
    return write_pack(to, files, overwrite=overwrite)


def _part_of(c: Connection, at: SetAt, part: SetPart) -> Sequence[Waypoint]:
    """Return the waypoints of a set's part. NotFoundError where nothing is left of it."""
    whole = set_rows.waypoints_at(c, at.head.id, at.revision)
    tasks = [resolve_task(c, reference) for reference in part.used_by]
    used = {
        point.place.identity for task in tasks for point in task_rows.task_at(c, task.head.id, task.revision).points
    }
    found = [waypoint for waypoint in whole if waypoint.identity in used]
    if part.near is not None and part.within_m is not None:
        found = with_those_near(found, whole, place_position(c, part.near, [at]), part.within_m)
    if not found:
        raise NotFoundError(
            "no-waypoints", f"Nothing of {at} is near there or used there.", hint="Give a greater --within."
        )
    return found


def verify_export(target: str) -> list[Difference]:
    """Return what differs between an export and its manifest; empty where nothing does."""
    return verify_pack(target)


def choose_tasks(c: Connection, choice: TaskChoice) -> list[TaskAt]:
    """Return the chosen tasks. UsageError where nothing is chosen, NotFoundError where there are none."""
    ways = bool(choice.references) + choice.everything + (choice.wanted is not None)
    ways += choice.contest is not None and not choice.references and choice.wanted is None
    if ways != 1:
        raise UsageError(
            "which-tasks",
            "It is not said which tasks." if ways == 0 else "Tasks are chosen in two ways at once.",
            hint="Name tasks, or give --contest C [--day N], a filter of `task find`, or --all.",
        )
    if choice.references:
        return [resolve_task(c, reference, choice.contest) for reference in choice.references]
    if choice.wanted is not None:
        found = [TaskAt(hit.row.head, hit.row.revision) for hit in find_in(c, choice.wanted).tasks]
    else:
        contest_id = resolve_contest(c, choice.contest).id if choice.contest is not None else None
        rows = task_lines.list_tasks(c, contest_id=contest_id)
        found = [TaskAt(row.head, row.revision) for row in rows if choice.day is None or row.day == choice.day]
    if not found:
        where = f"day {choice.day} of {choice.contest!r}" if choice.day is not None else repr(choice.contest)
        raise NotFoundError(
            "no-tasks",
            f"There is no task in {where}." if choice.contest and choice.wanted is None else "There is no such task.",
            hint="`taskdb task list` shows what there is.",
        )
    return found


def _exported(c: Connection, chosen: Sequence[TaskAt]) -> list[ExportedTask]:
    """Return tasks as writers take them: measured for files only, which is many times quicker than to be shown."""
    contests: dict[str | None, Contest | None] = {}
    found = []
    for at in chosen:
        task = task_rows.task_at(c, at.head.id, at.revision)
        if task.contest not in contests:
            contests[task.contest] = contest_of(c, task.contest)
        day = day_of(contests[task.contest], task.day)
        known = KnownExtremes(*task_rows.extremes_at(c, at.head.id, at.revision))
        course = measure_course(task, touching=False, known=known)
        info = task_rows.task_info(c, at.head.id, at.revision)
        date = None if day is None else day.date
        found.append(ExportedTask(task, course, at.revision, fingerprint(task), info.at, date))
    return found


def as_exported(task: TaskShown, mark: str | None = None) -> ExportedTask:
    """Return a task that was looked at as writers take it."""
    date = None if task.day is None else task.day.date
    return ExportedTask(task.task, task.course, task.revision, task.fingerprint, task.info.at, date, mark)


def file_names(tasks: Sequence[ExportedTask]) -> tuple[str, ...]:
    """Return a safe file name for each task, its mark in it, no suffix; all different, and none that of the points."""
    labels = [f"{s.task.contest} {s.task.name}" if s.task.contest else s.task.name for s in tasks]
    labels = [f"{label} ({s.mark})" if s.mark else label for label, s in zip(labels, tasks, strict=True)]
    is_points = [safe_name(label).casefold().startswith("points") for label in labels]
    return safe_names(f"task {label}" if clashes else label for label, clashes in zip(labels, is_points, strict=True))


def task_file(exported: ExportedTask, name: str, way: str | Profile) -> PackedFile:
    """Return one task in one format, or in a profile's layout, as a pack takes it."""
    buffer = io.BytesIO()
    if isinstance(way, Profile):
        lost = write_task_by_profile(buffer, exported, way)
    else:
        lost = write_task(buffer, exported, way)
    task = exported.task
    return PackedFile(
        path=name + (".txt" if isinstance(way, Profile) else SUFFIX_OF[way]),
        content=buffer.getvalue(),
        format="profile" if isinstance(way, Profile) else way,
        task=f"{task.name}@{exported.revision}",
        lost=tuple(lost),
        fingerprint=exported.fingerprint,
        on_set=f"{task.set_name}@{task.set_revision}",
    )


def _require_formats(formats: Sequence[str], known: Sequence[str]) -> None:
    unknown = [name for name in formats if name not in known]
    if unknown or not formats:
        said = f"{', '.join(unknown)} is no format that can be written here" if unknown else "No format is named"
        raise UsageError("unknown-format", f"{said}.", hint=f"Formats: {', '.join(known)}.", details={"known": known})
