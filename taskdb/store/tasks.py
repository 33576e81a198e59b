"""Tasks: finding them, reading one revision whole, listing, writing the next.

A revision holds copies of its points and zones: it is read without looking at any set. What is computed from it
(fingerprint, lengths, shape) is kept beside it for finding, and handed in by the caller.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Select, and_, insert, or_, select, update

from taskdb.core.filters.tasks import task_words
from taskdb.core.kept import RevisionInfo, TaskHead, TaskUse
from taskdb.core.model import (
    Place,
    Position,
    Role,
    ShapeKind,
    Status,
    Task,
    TaskPoint,
    TaskType,
    ZoneFrom,
)
from taskdb.store.bulk import IN_LIST, batches
from taskdb.store.engine import Writing
from taskdb.store.rows import (
    decimetres,
    free_json,
    free_of,
    from_json,
    metres_of,
    place_json,
    place_of,
    rules_json,
    rules_of,
    to_json,
    zone_json,
    zone_of,
)
from taskdb.store.schema import (
    contest,
    operation,
    task,
    task_point,
    task_revision,
    waypoint_set,
)

_REVISION = task_revision.c
_POINT = task_point.c


@dataclass(frozen=True, slots=True)
class TaskSummary:
    """What is computed from a task when it is written: for finding, never shown as the task's own values."""

    fingerprint: str
    centres_m: float
    task_m: float
    minimum_m: float | None
    maximum_m: float | None
    shape: ShapeKind
    fai_triangle: bool
    first_course_deg: float | None
    minimum_at: tuple[Position, ...] | None = None
    maximum_at: tuple[Position, ...] | None = None
    """Where the shortest and the longest path meet each point, where a task has areas."""


# -- reading -----------------------------------------------------------------------------------------------------


HEAD_COLUMNS = (task.c.id, task.c.contest_id, contest.c.name, task.c.name, task.c.newest, _REVISION.retired)
IS_NEWEST = and_(_REVISION.task_id == task.c.id, _REVISION.number == task.c.newest)
ON_NEWEST = and_(_POINT.task_id == task.c.id, _POINT.revision == task.c.newest)


def _heads() -> Select[Any]:
    return (
        select(*HEAD_COLUMNS)
        .join_from(task, task_revision, IS_NEWEST)
        .join(contest, contest.c.id == task.c.contest_id, isouter=True)
    )


def find_task(c: Connection, name: str, contest_id: int | None) -> TaskHead | None:
    """Return the task of exactly this name in a contest, or among those without one; retired or not; or None."""
    place = task.c.contest_id.is_(None) if contest_id is None else task.c.contest_id == contest_id
    row = c.execute(_heads().where(task.c.name == name, place)).one_or_none()
    return None if row is None else TaskHead(*row)


def tasks_named(c: Connection, name: str) -> list[TaskHead]:
    """Return the tasks of exactly this name in any contest and in none (first), then in order of contest."""
    heads = [TaskHead(*row) for row in c.execute(_heads().where(task.c.name == name))]
    return sorted(heads, key=lambda head: (head.contest_name or "", head.id))


def _infos(task_id: int) -> Select[Any]:
    return (
        select(
            _REVISION.name, _REVISION.number, _REVISION.retired, operation.c.author, operation.c.at, operation.c.note
        )
        .join_from(task_revision, operation, operation.c.id == _REVISION.operation_id)
        .where(_REVISION.task_id == task_id)
    )  # fmt: skip


def task_info(c: Connection, task_id: int, number: int) -> RevisionInfo:
    """Return who wrote a revision, when and why. The revision must be there."""
    return RevisionInfo(*c.execute(_infos(task_id).where(_REVISION.number == number)).one())


def task_log(c: Connection, task_id: int) -> tuple[RevisionInfo, ...]:
    """Return a task's revisions, newest first."""
    return tuple(RevisionInfo(*row) for row in c.execute(_infos(task_id).order_by(_REVISION.number.desc())))


def lengths_of(c: Connection, task_id: int) -> dict[int, float]:
    """Return the task distance of each revision of a task, metres, by number."""
    query = select(_REVISION.number, _REVISION.task_m).where(_REVISION.task_id == task_id)
    return {row[0]: row[1] for row in c.execute(query)}


def task_at(c: Connection, task_id: int, number: int) -> Task:
    """Return a task as it was saved at a revision, without looking at any waypoint. The revision must be there."""
    row = c.execute(
        select(contest.c.name.label("contest_name"), waypoint_set.c.name.label("set_name"), task_revision)
        .join_from(task_revision, task, task.c.id == _REVISION.task_id)
        .join(waypoint_set, waypoint_set.c.id == _REVISION.set_id)
        .join(contest, contest.c.id == task.c.contest_id, isouter=True)
        .where(_REVISION.task_id == task_id, _REVISION.number == number)
    ).one()
    values = row._mapping
    points = c.execute(
        select(task_point).where(_POINT.task_id == task_id, _POINT.revision == number).order_by(_POINT.number)
    )
    return Task(
        name=row.name,
        type=TaskType(row.type),
        points=tuple(_point_of(point) for point in points),
        set_name=row.set_name,
        set_revision=row.set_revision,
        rules=rules_of(row.rules),
        contest=row.contest_name,
        contest_revision=row.contest_revision,
        day=row.day,
        class_name=values["class"],
        variant=row.variant,
        status=Status(row.status),
        time_s=row.time_s,
        speed_kmh=row.speed_kmh,
        free=free_of(row.free),
        take_off=place_of(row.take_off),
        landing=place_of(row.landing),
        tags=tuple(from_json(row.tags)),
        issued_at=row.issued_at,
    )


def _point_of(row: Any) -> TaskPoint:
    place = Place(
        code=row.code,
        name=row.name,
        position=Position.from_e7(row.latitude_e7, row.longitude_e7),
        elevation_m=metres_of(row.elevation_dm),
        identity=row.identity,
    )
    return TaskPoint(place, Role(row.role), zone_of(row.zone_resolved), ZoneFrom(row.zone_from))


def words_of(value: Task) -> str:
    """Return the folded words of a task between blanks, for finding: ` ab cd `."""
    codes = tuple(point.place.code for point in value.points)
    names = tuple(point.place.name for point in value.points)
    return f" {task_words(value.name, value.tags, codes, names)} "


def is_used_code(c: Connection, code: str) -> bool:
    """Say whether a task's point bears exactly this code, in any revision."""
    return c.execute(select(_POINT.task_id).where(_POINT.code == code).limit(1)).first() is not None


def tasks_using(c: Connection, identities: Iterable[str]) -> tuple[TaskUse, ...]:
    """Return the tasks that stand whose newest revision has one of the identities as a point, take-off or landing."""
    wanted = set(identities)
    used: dict[TaskHead, list[str]] = {}
    for batch in batches(sorted(wanted), IN_LIST):
        query = _heads().add_columns(_POINT.code).join(task_point, ON_NEWEST).where(_POINT.identity.in_(batch))
        for row in c.execute(query.where(_REVISION.retired.is_(False)).order_by(task.c.id, _POINT.number)):
            used.setdefault(TaskHead(*row[:6]), []).append(row[6])
    ends = (
        _heads()
        .add_columns(_REVISION.take_off, _REVISION.landing)
        .where(_REVISION.retired.is_(False), or_(_REVISION.take_off.is_not(None), _REVISION.landing.is_not(None)))
    )
    for row in c.execute(ends):
        for place in (place_of(row[6]), place_of(row[7])):
            if place is not None and place.identity in wanted:
                used.setdefault(TaskHead(*row[:6]), []).append(place.code)
    order = sorted(used, key=lambda head: (head.contest_name or "", head.name))
    return tuple(TaskUse(head, tuple(dict.fromkeys(used[head]))) for head in order)


# -- writing -----------------------------------------------------------------------------------------------------


def task_head(c: Connection, task_id: int) -> TaskHead:
    """Return a task as it is now."""
    return TaskHead(*c.execute(_heads().where(task.c.id == task_id)).one())


def write_task(
    w: Writing,
    head: TaskHead | None,
    contest_id: int | None,
    value: Task,
    summary: TaskSummary,
    *,
    retired: bool = False,
) -> TaskHead:
    """Write the next revision of a task, or the first of a new one, and return its head.

    `contest_id` counts for a new task only; its name must be free there. The task's set must be in the store.
    """
    c = w.connection
    w.begin()
    if head is None:
        values = {"contest_id": contest_id, "name": value.name, "newest": 1, "operation_id": w.operation_id}
        task_id = c.execute(insert(task).returning(task.c.id), values).scalar_one()
        number = 1
    else:
        task_id, number = head.id, head.newest + 1
        c.execute(update(task).where(task.c.id == task_id).values(newest=number, name=value.name))
    c.execute(insert(task_revision), _revision_values(c, w, task_id, number, value, summary, retired))
    c.execute(
        insert(task_point),
        [_point_values(task_id, number, index, point) for index, point in enumerate(value.points)],
    )
    return TaskHead(*c.execute(_heads().where(task.c.id == task_id)).one())


def _revision_values(
    c: Connection, w: Writing, task_id: int, number: int, value: Task, summary: TaskSummary, retired: bool
) -> dict[str, Any]:
    set_id = c.execute(select(waypoint_set.c.id).where(waypoint_set.c.name == value.set_name)).scalar_one()
    return {
        "task_id": task_id,
        "number": number,
        "operation_id": w.operation_id,
        "retired": retired,
        "name": value.name,
        "set_id": set_id,
        "set_revision": value.set_revision,
        "contest_revision": value.contest_revision,
        "type": value.type.value,
        "day": value.day,
        "class": value.class_name,
        "variant": value.variant,
        "status": value.status.value,
        "issued_at": value.issued_at,
        "time_s": value.time_s,
        "speed_kmh": value.speed_kmh,
        "rules": rules_json(value.rules),
        "free": free_json(value.free),
        "take_off": place_json(value.take_off),
        "landing": place_json(value.landing),
        "tags": to_json(list(value.tags)),
        "words": words_of(value),
        "fingerprint": summary.fingerprint,
        "centres_m": summary.centres_m,
        "task_m": summary.task_m,
        "minimum_m": summary.minimum_m,
        "maximum_m": summary.maximum_m,
        "extremes": _extremes_json(summary),
        "shape": summary.shape.value,
        "fai_triangle": summary.fai_triangle,
        "first_course_deg": summary.first_course_deg,
    }


def _extremes_json(summary: TaskSummary) -> str | None:
    if summary.minimum_at is None:
        return None
    paths = (summary.minimum_at, summary.maximum_at)
    return to_json([None if path is None else [[p.latitude_deg, p.longitude_deg] for p in path] for path in paths])


def extremes_at(
    c: Connection, task_id: int, number: int
) -> tuple[tuple[Position, ...] | None, tuple[Position, ...] | None]:
    """Return where a revision's shortest and longest path meet its points; None where none is kept."""
    text = c.execute(
        select(_REVISION.extremes).where(_REVISION.task_id == task_id, _REVISION.number == number)
    ).scalar_one()
    paths = from_json(text, [None, None])
    shortest, longest = (None if path is None else tuple(Position(*at) for at in path) for path in paths)
    return shortest, longest


def _point_values(task_id: int, number: int, index: int, point: TaskPoint) -> dict[str, Any]:
    place = point.place
    return {
        "task_id": task_id,
        "revision": number,
        "number": index,
        "role": point.role.value,
        "identity": place.identity,
        "code": place.code,
        "name": place.name,
        "latitude_e7": place.position.latitude_e7,
        "longitude_e7": place.position.longitude_e7,
        "elevation_dm": decimetres(place.elevation_m),
        "zone_text": point.zone.text,
        "zone_resolved": zone_json(point.zone),
        "zone_from": point.zone_from.value,
    }
