"""Taking tasks from files into a contest or onto a set: placed on the set, each distinct task kept once.

What cannot be taken is told with its reason; a point that the set does not have stays the task's own and is told.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from taskdb.core.course import assembly
from taskdb.core.course.assembly import Chosen
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.zones import same_geometry
from taskdb.core.matching.placed import FilePoint, Placement, place_points
from taskdb.core.model import FreeChoice, Place, Role, Shape, Task, TaskType, Zone, ZoneFrom
from taskdb.core.names import NAME_LIMIT, code_problem, require_name
from taskdb.core.plain import problem_plain
from taskdb.errors import InputError, TaskdbError, UsageError
from taskdb.formats.known import TASK_SUFFIXES
from taskdb.formats.registry import Profile, ReadPoint, TaskReading
from taskdb.services.desk import Desk, Write, require_confirmed
from taskdb.services.tasks.basis import Basis, basis_for, place_of
from taskdb.services.tasks.files import Read, Skipped, read_all
from taskdb.services.tasks.task import save_task
from taskdb.store import sets as set_rows, task_lines, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.core.model import Waypoint
    from taskdb.store.engine import Writing


MOST_LINES = 20
"""A file of more lines is rather a map than a season."""


@dataclass(frozen=True)
class TaskImportRequest:
    """Which file or folder goes where. `pattern` makes the names from `{name}`, `{file}` and `{date}`."""

    path: str
    contest: str | None = None
    set_reference: str | None = None
    pattern: str | None = None
    """None takes `{name}`, and makes no task again that stands already in the same place."""
    profile: Profile | None = None
    """The layout of delimited text of a person's own."""


@dataclass(frozen=True)
class PlacedPoint:
    """A point of a task that was made. `off_m`: the most that a file's position was off the set's."""

    number: int | None
    label: str
    code: str
    name: str
    matched_by: str | None
    off_m: float | None
    reason: str | None


@dataclass(frozen=True)
class ImportedTask:
    """A task that files declare. `equals`: a task that stood already and is the same; `made`: whether this is new."""

    task: str
    contest: str | None
    revision: int
    fingerprint: str
    files: tuple[str, ...]
    points: tuple[PlacedPoint, ...]
    equals: str | None
    renamed_from: str | None
    notes: tuple[str, ...]
    made: bool = True

    @property
    def unmatched(self) -> tuple[PlacedPoint, ...]:
        return tuple(point for point in self.points if point.matched_by is None)


@dataclass(frozen=True)
class TaskImported:
    """What came of a path, tasks in order of their first file."""

    set_at: str
    contest: str | None
    tasks: tuple[ImportedTask, ...]
    skipped: tuple[Skipped, ...]


@dataclass
class _Distinct:
    """A task with every reading that declares it."""

    task: Task
    found: list[tuple[Read, Task]]


@dataclass(frozen=True)
class _Ground:
    """What readings are put onto: the basis, the set's waypoints, and what each file's point is among them."""

    basis: Basis
    codes: frozenset[str]
    placements: Mapping[FilePoint, Placement]

    def of(self, point: ReadPoint) -> Placement:
        return self.placements[_file_point(point)]


def import_tasks(desk: Desk, request: TaskImportRequest, write: Write) -> TaskImported:
    """Make the distinct tasks of a file or folder. `write.confirmed` takes waypoints over 1 km from a file's point, and
    many lines of one file.

    Raises NotFoundError for a path that is not there, InputError where nothing can be taken (a single file: with
    every problem of it), UsageError for a bad name pattern.
    """
    pattern = request.pattern if request.pattern is not None else "{name}"
    _require_pattern(pattern)
    read, skipped = read_all(request.path, request.profile)
    _confirm_many(read, write)
    with desk.writing(write) as writing:
        c = writing.connection
        basis = basis_for(c, request.contest, request.set_reference)
        ground = _ground(basis, read, set_rows.waypoints_at(c, basis.at.head.id, basis.at.revision), write.confirmed)
        distinct, refused = _distinct(read, ground)
        skipped += refused
        if not distinct:
            raise _nothing_taken(request.path, skipped)
        keeper = _Keeper(writing, ground, pattern, again=request.pattern is not None)
        tasks = tuple(keeper.keep(one) for one in distinct)
        if not any(task.made for task in tasks):
            writing.abandon()
    contest = basis.contest.name if basis.contest is not None else None
    return TaskImported(str(basis.at), contest, tasks, tuple(skipped))


def _confirm_many(read: Sequence[Read], write: Write) -> None:
    """Ask before the lines of a map become as many tasks."""
    for file, count in Counter(one.file for one in read if one.reading.is_line).items():
        if count > MOST_LINES:
            question = f"{file} holds {count:,} lines, and each becomes a task: is it no map? Go ahead?"
            require_confirmed(write, question, file=file, count=count)


def _nothing_taken(path: str, skipped: Sequence[Skipped]) -> TaskdbError:
    if len(skipped) == 1 and skipped[0].error is not None:
        return skipped[0].error
    lines = [f"{one.file}: {one.reason}" for one in skipped]
    hint = f"Read are {', '.join(sorted(TASK_SUFFIXES))}; a single file is read whatever its suffix."
    problems = [problem_plain(problem) for one in skipped for problem in one.problems]
    details = {"lines": lines, "rejected": problems, "total": len(problems)}
    return InputError("no-tasks", f"No task of {path} can be taken in.", hint=hint, details=details)


# -- putting together --------------------------------------------------------------------------------------------


def _file_point(point: ReadPoint) -> FilePoint:
    return FilePoint(point.code, point.name, point.position)


def _ground(basis: Basis, read: Sequence[Read], waypoints: Sequence[Waypoint], confirm_far: bool) -> _Ground:
    points = [
        _file_point(point)
        for one in read
        for point in (*one.reading.points, one.reading.take_off, one.reading.landing)
        if point is not None
    ]
    placements = place_points(points, waypoints, confirm_far=confirm_far)
    return _Ground(basis, frozenset(waypoint.code for waypoint in waypoints), placements)


def _distinct(read: Sequence[Read], ground: _Ground) -> tuple[list[_Distinct], list[Skipped]]:
    """Return the distinct tasks in order of their first file, and those that cannot be put together."""
    found: dict[str, _Distinct] = {}
    refused = []
    for one in read:
        one = replace(one, reading=_without_repeated_ends(one.reading, ground))
        try:
            task = _assembled(one.reading, ground)
        except TaskdbError as error:
            refused.append(Skipped(one.file, one.reading.name or None, error.message, error=error))
            continue
        # Some formats have no time: what differs in nothing else is the same task.
        key = fingerprint(replace(task, time_s=None))
        found.setdefault(key, _Distinct(task, [])).found.append((one, task))
    parted = []
    for distinct in found.values():
        times = {task.time_s for _, task in distinct.found if task.time_s is not None}
        parted += [distinct] if len(times) < 2 else _by_time(distinct)
    for distinct in parted:
        distinct.task = max((task for _, task in distinct.found), key=_says)
    return parted, refused


def _without_repeated_ends(reading: TaskReading, ground: _Ground) -> TaskReading:
    """Return a reading whose ends stand once: a leg without length gives their lines no direction, and is told.

    Points with zones of their own stay as they are: whoever set them knows the direction.
    """
    points = [*reading.points]
    told = []

    def is_repeated(one: ReadPoint, other: ReadPoint) -> bool:
        here, there = ground.of(one), ground.of(other)
        same = here.waypoint.identity if here.waypoint is not None else None
        is_same = same is not None and there.waypoint is not None and same == there.waypoint.identity
        return (is_same or here.position == there.position) and one.zone is None and other.zone is None

    while len(points) > 2 and is_repeated(points[-2], points[-1]):
        told.append(
            f"its last two points are one place ({_label(points[-1])}): the leg of 0 km between them is left out"
        )
        points.pop()
    while len(points) > 2 and is_repeated(points[0], points[1]):
        told.append(
            f"its first two points are one place ({_label(points[0])}): the leg of 0 km between them is left out"
        )
        points.pop(0)
    return replace(reading, points=tuple(points), notes=(*reading.notes, *told)) if told else reading


def _label(point: ReadPoint) -> str:
    return point.code or point.name or f"{point.position.latitude_deg:.5f},{point.position.longitude_deg:.5f}"


def _by_time(distinct: _Distinct) -> list[_Distinct]:
    """Return one course flown for several times as several tasks."""
    found: dict[int | None, _Distinct] = {}
    for one, task in distinct.found:
        found.setdefault(task.time_s, _Distinct(task, [])).found.append((one, task))
    return list(found.values())


def _says(task: Task) -> tuple[bool, ...]:
    return (task.time_s is not None, task.take_off is not None, task.landing is not None, bool(task.tags))


def _assembled(reading: TaskReading, ground: _Ground) -> Task:
    """Return a reading as a task on the ground, under the name that it has in its file."""
    basis = ground.basis
    task_type = reading.type or assembly.default_type([point.zone for point in reading.points])
    roles = assembly.roles_of(len(reading.points), task_type)
    chosen = [
        Chosen(_place(point, f"P{number}", ground), _own_zone(point, role, basis, reading))
        for number, (point, role) in enumerate(zip(reading.points, roles, strict=True))
    ]
    return Task(
        name=reading.name,
        type=task_type,
        points=assembly.assemble(chosen, task_type, basis.defaults_for(None, None)),
        set_name=basis.at.head.name,
        set_revision=basis.at.revision,
        rules=basis.rules,
        contest=basis.contest.name if basis.contest is not None else None,
        contest_revision=basis.contest_head.newest if basis.contest_head is not None else None,
        time_s=reading.time_s,
        speed_kmh=reading.speed_kmh,
        free=_free(reading, task_type, basis),
        take_off=None if reading.take_off is None else _place(reading.take_off, "TAKE-OFF", ground),
        landing=None if reading.landing is None else _place(reading.landing, "LANDING", ground),
        tags=tuple(sorted(set(reading.tags))),
    )


def _place(point: ReadPoint, own_code: str, ground: _Ground) -> Place:
    """Return the set's place, or the task's own: never under a code by which the set has another place."""
    placement = ground.of(point)
    if placement.waypoint is not None:
        return place_of(placement.waypoint)
    label = point.code or point.name
    code = own_code if code_problem(label) is not None or label in ground.codes else label
    return Place(code, point.name or point.code or code, placement.position, point.elevation_m)


def _free(reading: TaskReading, task_type: TaskType, basis: Basis) -> FreeChoice | None:
    """Return a modified task's free choice; its zone is a default again where it was one and is the same here."""
    if task_type is not TaskType.MODIFIED:
        return None
    free = reading.free or FreeChoice()
    if free.zone is None:
        return replace(free, zone_from=None)
    default, origin = basis.defaults_for(None, None)[Role.TURN]
    is_default = free.zone_from not in (None, ZoneFrom.OWN) and same_geometry(free.zone, default)
    return replace(free, zone_from=origin if is_default else ZoneFrom.OWN)


def _unknown_free(reading: TaskReading, ground: _Ground) -> tuple[str, ...]:
    """Return a note on free points that the set has not: a file names them by their codes alone."""
    codes = () if reading.free is None else reading.free.from_codes
    unknown = [code for code in codes if code not in ground.codes]
    if not unknown:
        return ()
    return (f"the points that may be chosen are codes, and {ground.basis.at} has no {', '.join(unknown)}",)


def _has_areas(reading: TaskReading) -> bool:
    return any(point.zone is not None and point.zone.shape is Shape.AREA for point in reading.points)


def _own_zone(point: ReadPoint, role: Role, basis: Basis, reading: TaskReading) -> Zone | None:
    """Return the zone that a point has of its own; None where the default of its role counts."""
    # A task from a file has no class and no day yet.
    zone, defaults = point.zone, basis.defaults_for(None, None)
    if zone is None:
        # A turn point between areas is one, and no area of a size that nobody named.
        return defaults[Role.TURN][0] if role is Role.AREA and _has_areas(reading) else None
    was_default = point.zone_from not in (None, ZoneFrom.OWN)
    is_default = was_default and same_geometry(zone, defaults[role][0])
    return None if is_default else zone


# -- keeping -----------------------------------------------------------------------------------------------------


class _Keeper:
    """Keeps tasks in one write: each under a free name, and told where an equal one stood before."""

    def __init__(self, writing: Writing, ground: _Ground, pattern: str, *, again: bool) -> None:
        self.writing, self.ground, self.pattern, self.again = writing, ground, pattern, again
        self.numbers: dict[str, int] = {}
        head = ground.basis.contest_head
        self.contest_id = head.id if head is not None else None
        rows = task_lines.list_tasks(writing.connection, contest_id=self.contest_id)
        self.standing = {row.fingerprint: row for row in reversed(rows) if row.head.contest_id == self.contest_id}

    def keep(self, distinct: _Distinct) -> ImportedTask:
        """Write a task's first revision; where it stands already and no other name is asked for, say so instead."""
        wanted = _wanted_name(distinct, self.pattern)
        stands = self.standing.get(fingerprint(distinct.task))
        made = stands is None or self.again
        task = replace(distinct.task, name=self._free_name(wanted) if stands is None or made else stands.task)
        revision = (
            save_task(self.writing, None, self.contest_id, task).newest if stands is None or made else stands.revision
        )
        notes = (
            note
            for one, _ in distinct.found
            for note in (*one.reading.notes, *_defaulted(one.reading), *_unknown_free(one.reading, self.ground))
        )
        return ImportedTask(
            task=task.name,
            contest=task.contest,
            revision=revision,
            fingerprint=fingerprint(task),
            files=tuple(dict.fromkeys(one.file for one, _ in distinct.found)),
            points=_points(distinct, task, self.ground),
            equals=None if stands is None else stands.task,
            renamed_from=wanted if made and wanted != task.name else None,
            notes=tuple(dict.fromkeys(notes)),
            made=made,
        )

    def _free_name(self, wanted: str) -> str:
        # Many lines bear one name: the numbers that are taken are not all asked for again.
        number = self.numbers.get(wanted, 1)
        name = wanted if number == 1 else _numbered(wanted, number)
        while task_rows.find_task(self.writing.connection, name, self.contest_id) is not None:
            number += 1
            name = _numbered(wanted, number)
        self.numbers[wanted] = number
        return name


def _numbered(wanted: str, number: int) -> str:
    suffix = f" ({number})"
    return wanted[: NAME_LIMIT - len(suffix)] + suffix


def _defaulted(reading: TaskReading) -> tuple[str, ...]:
    """Return a note on points whose zone a file lacks, where it has those of others."""
    lacking = [str(number) for number, point in enumerate(reading.points) if point.zone is None]
    if not lacking or len(lacking) == len(reading.points):
        return ()
    which = f"points {', '.join(lacking[:-1])} and {lacking[-1]}" if len(lacking) > 1 else f"point {lacking[0]}"
    return (f"the file has no zone for {which}: there the defaults count",)


def _points(distinct: _Distinct, task: Task, ground: _Ground) -> tuple[PlacedPoint, ...]:
    readings = [one.reading for one, _ in distinct.found]
    points = [
        _placed(number, f"point {number}", point.place, [ground.of(r.points[number]) for r in readings])
        for number, point in enumerate(task.points)
    ]
    for label, place, given in (
        ("take-off", task.take_off, [r.take_off for r in readings]),
        ("landing", task.landing, [r.landing for r in readings]),
    ):
        if place is not None:
            seen = [ground.of(point) for point in given if point is not None]
            same = [s for s in seen if (s.waypoint.identity if s.waypoint is not None else None) == place.identity]
            points.append(_placed(None, label, place, same))
    return tuple(points)


def _placed(number: int | None, label: str, place: Place, seen: Sequence[Placement]) -> PlacedPoint:
    furthest = max(seen, key=lambda one: one.off_m or 0.0)
    off_m, reason = furthest.off_m, furthest.reason
    return PlacedPoint(number, label, place.code, place.name, seen[0].matched_by, off_m, reason)


_FIELD = re.compile(r"\{([^{}]*)\}")


def _require_pattern(pattern: str) -> None:
    unknown = [name for name in _FIELD.findall(pattern) if name not in ("name", "file", "date")]
    if unknown or not pattern.strip():
        raise UsageError(
            "bad-pattern",
            f"--name {pattern!r}: {f'there is no {{{unknown[0]}}}' if unknown else 'a name is wanted'}.",
            hint="Name tasks from {name}, {file} and {date}, e.g. --name '{date} {name}'.",
        )


def _wanted_name(distinct: _Distinct, pattern: str) -> str:
    """Return the name by the pattern; `{name}` is the commonest that its files have, else that of the first file."""
    stem = Path(distinct.found[0][0].file).stem
    named = Counter(one.reading.name for one, _ in distinct.found if one.reading.name)
    dates = (one.reading.flight_date or (one.reading.declared_at or "")[:10] for one, _ in distinct.found)
    values = {
        "name": named.most_common(1)[0][0] if named else stem,
        "file": stem,
        "date": next((date for date in dates if date), ""),
    }
    text = _FIELD.sub(lambda match: values[match[1]], pattern)
    # A file may hold what a task's name may not.
    plain = " ".join("".join(letter if letter.isprintable() and letter != "@" else " " for letter in text).split())
    return require_name(plain[:NAME_LIMIT] or "task", what="task", colon=True)
