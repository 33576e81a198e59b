"""Finding tasks: a `TaskFilter` as SQL over the newest revisions, exact but for nearness, which geodesics decide."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, case, func, or_, select, true

from taskdb.core.filters.tasks import Order, Range, Sector, TaskFilter
from taskdb.core.geodesy import distance_m
from taskdb.core.kept import TaskSummaryRow
from taskdb.core.model import Position
from taskdb.store.bulk import IN_LIST, among
from taskdb.store.flown import flown_figures, is_newest, who_finished
from taskdb.store.rows import to_json
from taskdb.store.schema import contest, flown_record, task, task_point, task_revision
from taskdb.store.task_lines import tasks_in_order
from taskdb.store.tasks import IS_NEWEST, ON_NEWEST
from taskdb.store.waypoints import box_of

_REVISION, _POINT, _FLOWN = task_revision.c, task_point.c, flown_record.c
_OWN = task.alias("own")
_POINTS_ON_NEWEST = select(_POINT.task_id).join(
    _OWN, and_(_OWN.c.id == _POINT.task_id, _OWN.c.newest == _POINT.revision)
)


def tasks_through(c: Connection, codes: Collection[str], but: Collection[int] = ()) -> tuple[TaskSummaryRow, ...]:
    """Return the tasks that stand and have points of all these codes, in order of contest (none first) and name.

    Those with the ids `but` are left out.
    """
    wanted = sorted(set(codes))
    # Led by the code that the fewest tasks have: where all begin at home, that one would lead through all of them.
    count = func.count()
    used = c.execute(select(_POINT.code, count).where(_POINT.code.in_(wanted)).group_by(_POINT.code)).all()
    if len(used) < len(wanted):
        return ()
    rarest = min(used, key=lambda row: (row[1], row[0]))[0]
    ids = set(c.scalars(select(_POINT.task_id).where(_POINT.code == rarest))).difference(but)
    query = (
        select(task.c.id)
        .join_from(task, task_point, ON_NEWEST)
        .join(task_revision, IS_NEWEST)
        .where(_POINT.code.in_(wanted), _REVISION.retired.is_(False))
        .group_by(task.c.id)
        .having(func.count(_POINT.code.distinct()) == len(wanted))
    )
    found = [i for some in among(task.c.id, sorted(ids), most=len(ids)) for i in c.scalars(query.where(some))]
    return tasks_in_order(c, found)


def ids_by_codes(c: Connection) -> dict[tuple[str, ...], list[int]]:
    """Return the ids of all tasks that stand, by the codes of their points: sorted, each once."""
    query = (
        select(_POINT.task_id, _POINT.code)
        .join_from(task, task_point, ON_NEWEST)
        .join(task_revision, IS_NEWEST)
        .where(_REVISION.retired.is_(False))
        .order_by(_POINT.task_id)
    )
    found: dict[tuple[str, ...], list[int]] = {}
    for task_id, points in groupby(c.execute(query), itemgetter(0)):
        found.setdefault(tuple(sorted({code for _, code in points})), []).append(task_id)
    return found


def found_ids(
    c: Connection, wanted: TaskFilter, order: Order = Order.NAME, ids: Sequence[int] | None = None
) -> list[int]:
    """Return the ids of the tasks that stand and that a search wants, sorted; with `ids` only those among them.

    By likeness they are sorted by who knows how like they are: here by contest (none first) and name.
    """
    query = _sorted_ids(wanted, order)
    # One condition, so that one statement sorts them all: where there are too many to name, all are read.
    parts = [true()] if ids is None else among(task.c.id, ids, most=IN_LIST)
    found = [row[0] for part in parts for row in c.execute(query.where(part))]
    if ids is not None:
        chosen = set(ids)
        found = [i for i in found if i in chosen]
    if wanted.near is not None and wanted.within_m is not None:
        near, within = wanted.near, wanted.within_m
        positions = positions_of(c, found)
        found = [i for i in found if any(distance_m(near, p) <= within for p in positions.get(i, ()))]
    return found


def first_ids(c: Connection, wanted: TaskFilter, order: Order, limit: int) -> tuple[list[int], int]:
    """Return the first `limit` of what `found_ids` returns, and how many that would be; not for nearness."""
    total = c.scalar(_standing(wanted, func.count())) or 0
    return [row[0] for row in c.execute(_sorted_ids(wanted, order).limit(limit))], total


def _standing(wanted: TaskFilter, *columns: ColumnElement[Any]) -> Select[Any]:
    return (
        select(*columns)
        .join_from(task, task_revision, IS_NEWEST)
        .join(contest, contest.c.id == task.c.contest_id, isouter=True)
        .where(_REVISION.retired.is_(False), *_conditions(wanted))
    )


def _sorted_ids(wanted: TaskFilter, order: Order) -> Select[Any]:
    by_name = (func.coalesce(contest.c.name, ""), task.c.name, task.c.id)
    query = _standing(wanted, task.c.id)
    if order is Order.DISTANCE:
        return query.order_by(_REVISION.task_m, *by_name)
    if order in _BY_DAYS:
        figures = flown_figures()
        query = query.join(figures, figures.c.task_id == task.c.id, isouter=True)
        by = figures.c[_BY_DAYS[order]]
        return query.order_by(by.is_(None), by.desc(), *by_name)
    return query.order_by(*by_name)


_BY_DAYS = {Order.TIMES_FLOWN: "times", Order.LAST_FLOWN: "last", Order.FINISH_RATE: "rate_percent"}


def _conditions(wanted: TaskFilter) -> list[ColumnElement[bool]]:
    plain = (
        (contest.c.name, wanted.contest),
        (_REVISION.day, wanted.day),
        (_REVISION["class"], wanted.class_name),
        (_REVISION.status, wanted.status),
        (_REVISION.type, wanted.type),
        (_REVISION.shape, wanted.shape),
        (_REVISION.fai_triangle, wanted.is_fai_triangle),
    )
    found: list[ColumnElement[bool]] = [
        column == getattr(asked, "value", asked) for column, asked in plain if asked is not None
    ]
    duration = func.coalesce(
        _REVISION.time_s, case((_REVISION.speed_kmh > 0, _REVISION.task_m * 3.6 / _REVISION.speed_kmh))
    )
    for column, asked in ((_REVISION.task_m, wanted.distance_m), (duration, wanted.duration_s)):
        found += _within(column, asked)
    found += _towards(_REVISION.first_course_deg, wanted.heading)
    found += [_has_point(_POINT.code == code) for code in wanted.through]
    found += [_has_tag(tag) for tag in wanted.tags]
    # Words are folded: no signs, no capitals, so that LIKE means the same on each engine.
    found += [_REVISION.words.contains(f" {word}", autoescape=True) for word in wanted.words]
    if wanted.signs:
        found.append(_holds(task.c.name, wanted.signs))
    if wanted.near is not None and wanted.within_m is not None:
        box = box_of(_POINT.latitude_e7, _POINT.longitude_e7, wanted.near, wanted.within_m)
        found.append(_has_point(box))
    if wanted.asks_for_flown:
        found.append(_flown_as(wanted))
    return found


def _holds(column: ColumnElement[str], part: str) -> ColumnElement[bool]:
    """Return the condition that a text holds a part as it stands; LIKE knows signs, and on SQLite no capitals."""
    return func.replace(column, part, "") != column


def _has_tag(tag: str) -> ColumnElement[bool]:
    """Return the condition of a tag: in its JSON list it stands as its own JSON text, between brackets or commas."""
    told = to_json(tag)
    return or_(*(_holds(_REVISION.tags, before + told + after) for before in "[," for after in ",]"))


def _has_point(condition: ColumnElement[bool]) -> ColumnElement[bool]:
    """Return the condition of a point in the newest revision: led by the index on points, not by each task's points."""
    return task.c.id.in_(_POINTS_ON_NEWEST.where(condition))


def _within(column: ColumnElement[float], asked: Range | None) -> list[ColumnElement[bool]]:
    if asked is None:
        return []
    low = [column >= asked.low] if asked.low is not None else []
    high = [column <= asked.high] if asked.high is not None else []
    return [column.is_not(None), *low, *high]


def _towards(column: ColumnElement[float], asked: Sector | None) -> list[ColumnElement[bool]]:
    if asked is None:
        return []
    if asked.from_deg <= asked.to_deg:
        return [and_(column >= asked.from_deg, column <= asked.to_deg)]
    return [or_(column >= asked.from_deg, column <= asked.to_deg)]


def _flown_as(wanted: TaskFilter) -> ColumnElement[bool]:
    """Return the condition of one flown day that fits all that is asked; the newest record of a day counts."""
    asked: list[ColumnElement[bool]] = [_FLOWN.withdrawn.is_(False)]
    if wanted.flown_after is not None:
        asked.append(_FLOWN.flown_on > wanted.flown_after)
    asked += _towards(_FLOWN.wind_from_deg, wanted.wind_from)
    if wanted.finish_rate_percent is not None:
        starters, finishers = who_finished()
        rate = case((starters > 0, finishers * 100.0 / starters))
        asked += _within(rate, wanted.finish_rate_percent)
    return task.c.id.in_(select(_FLOWN.task_id).where(*asked, is_newest()))


def positions_of(c: Connection, ids: Sequence[int]) -> Mapping[int, tuple[Position, ...]]:
    """Return the positions of the points of tasks' newest revisions, in order of points, by task id."""
    query = select(_POINT.task_id, _POINT.latitude_e7, _POINT.longitude_e7).join_from(task, task_point, ON_NEWEST)
    found: dict[int, list[Position]] = {}
    for wanted in among(task.c.id, ids):
        for task_id, latitude, longitude in c.execute(query.where(wanted).order_by(_POINT.task_id, _POINT.number)):
            found.setdefault(task_id, []).append(Position.from_e7(latitude, longitude))
    return {task_id: tuple(positions) for task_id, positions in found.items()}


def tasks_passing(c: Connection, course: Sequence[Position], within_m: float = 1000.0) -> list[int]:
    """Return the ids of the standing tasks that have a point in a box of `within_m` round some point of the course."""
    boxes = [box_of(_POINT.latitude_e7, _POINT.longitude_e7, position, within_m) for position in dict.fromkeys(course)]
    if not boxes:
        return []
    return list(c.scalars(select(task.c.id).join_from(task, task_point, ON_NEWEST).where(or_(*boxes)).distinct()))


@dataclass(frozen=True, slots=True)
class PrintOf:
    """A revision of a task, and the task's newest one."""

    task_id: int
    task: str
    contest: str | None
    revision: int
    newest: int


def revisions_with(c: Connection, fingerprint: str) -> tuple[PrintOf, ...]:
    """Return the revisions with a fingerprint, newest revisions of tasks first, then by contest, name and revision."""
    query = (
        select(task.c.id, task.c.name, contest.c.name, task_revision.c.number, task.c.newest)
        .join_from(task_revision, task, task.c.id == task_revision.c.task_id)
        .join(contest, contest.c.id == task.c.contest_id, isouter=True)
        .where(task_revision.c.fingerprint == fingerprint)
    )
    found = [PrintOf(*row) for row in c.execute(query)]
    return tuple(sorted(found, key=lambda p: (p.revision != p.newest, p.contest or "", p.task, -p.revision)))
