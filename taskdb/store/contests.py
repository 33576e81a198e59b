"""Contests: finding them, reading one revision whole, writing the next.

A revision is complete in itself: pinned set revision, zone defaults, classes, days, rules, and what is only shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Select, and_, insert, select, update

from taskdb.core.course.zones import parse_zone
from taskdb.core.kept import ContestSummary, RevisionInfo
from taskdb.core.model import AirspacePin, Contest, ContestClass, ContestDay, Role, Zone
from taskdb.store.engine import Writing
from taskdb.store.rows import rules_json, rules_of
from taskdb.store.schema import (
    airspace,
    contest,
    contest_airspace,
    contest_class,
    contest_day,
    contest_revision,
    contest_zone,
    operation,
    waypoint_set,
)
from taskdb.store.scope_json import kept_settings, settings_text, with_winds

_REVISION = contest_revision.c


@dataclass(frozen=True, slots=True)
class ContestHead:
    """A contest, the number of its newest revision, and whether that one retires it."""

    id: int
    name: str
    newest: int
    retired: bool


# -- reading -----------------------------------------------------------------------------------------------------


def _heads() -> Select[Any]:
    newest = and_(_REVISION.contest_id == contest.c.id, _REVISION.number == contest.c.newest)
    return select(contest.c.id, contest.c.name, contest.c.newest, _REVISION.retired).join_from(
        contest, contest_revision, newest
    )


def find_contest(c: Connection, name: str) -> ContestHead | None:
    """Return the contest of exactly this name, retired or not, or None."""
    row = c.execute(_heads().where(contest.c.name == name)).one_or_none()
    return None if row is None else ContestHead(*row)


def list_contests(c: Connection, *, with_retired: bool = False) -> tuple[ContestSummary, ...]:
    """Return the contests that stand, in code-point order of names."""
    query = (
        select(
            contest.c.name, _REVISION.number, waypoint_set.c.name, _REVISION.set_revision,
            _REVISION.site, _REVISION.from_date, _REVISION.to_date, operation.c.at, operation.c.author,
        )
        .join_from(contest, contest_revision, _REVISION.contest_id == contest.c.id)
        .join(waypoint_set, waypoint_set.c.id == _REVISION.set_id)
        .join(operation, operation.c.id == _REVISION.operation_id)
        .where(_REVISION.number == contest.c.newest)
        .order_by(contest.c.name)
    )  # fmt: skip
    if not with_retired:
        query = query.where(_REVISION.retired.is_(False))
    return tuple(ContestSummary(*row) for row in c.execute(query))


def _infos(contest_id: int) -> Select[Any]:
    return (
        select(
            _REVISION.name, _REVISION.number, _REVISION.retired, operation.c.author, operation.c.at, operation.c.note
        )
        .join_from(contest, contest_revision, _REVISION.contest_id == contest.c.id)
        .join(operation, operation.c.id == _REVISION.operation_id)
        .where(contest.c.id == contest_id)
    )  # fmt: skip


def contest_info(c: Connection, contest_id: int, number: int) -> RevisionInfo:
    """Return who wrote a revision, when and why. The revision must be there."""
    return RevisionInfo(*c.execute(_infos(contest_id).where(_REVISION.number == number)).one())


def contest_log(c: Connection, contest_id: int) -> tuple[RevisionInfo, ...]:
    """Return a contest's revisions, newest first."""
    return tuple(RevisionInfo(*row) for row in c.execute(_infos(contest_id).order_by(_REVISION.number.desc())))


def contest_at(c: Connection, contest_id: int, number: int) -> Contest:
    """Return a contest as it was at a revision, under the name it had then. The revision must be there."""
    row = c.execute(
        select(waypoint_set.c.name.label("set_name"), contest_revision)
        .join_from(contest_revision, waypoint_set, waypoint_set.c.id == _REVISION.set_id)
        .where(_REVISION.contest_id == contest_id, _REVISION.number == number)
    ).one()
    kept = kept_settings(row.settings)
    return Contest(
        name=row.name,
        set_name=row.set_name,
        set_revision=row.set_revision,
        site=row.site,
        from_date=row.from_date,
        to_date=row.to_date,
        timezone=row.timezone,
        rules=rules_of(row.rules),
        zones=_zones(c, contest_id, number),
        classes=_classes(c, contest_id, number),
        days=with_winds(_days(c, contest_id, number), kept.wind_texts),
        settings=kept.settings,
        scoped=kept.scoped,
        airspace=_airspace(c, contest_id, number),
    )


def _zones(c: Connection, contest_id: int, number: int) -> dict[Role, Zone]:
    table = contest_zone.c
    query = select(table.role, table.zone).where(table.contest_id == contest_id, table.number == number)
    texts = {role: zone for role, zone in c.execute(query)}  # noqa: C416
    return {role: parse_zone(texts[role.value]) for role in Role if role.value in texts}


def _classes(c: Connection, contest_id: int, number: int) -> tuple[ContestClass, ...]:
    table = contest_class.c
    query = select(table.name, table.slowest_kmh, table.fastest_kmh).where(
        table.contest_id == contest_id, table.number == number
    )
    return tuple(ContestClass(*row) for row in c.execute(query.order_by(table.name)))


def _days(c: Connection, contest_id: int, number: int) -> tuple[ContestDay, ...]:
    table = contest_day.c
    query = select(
        table.day, table.date, table.start_opens, table.wind_from_deg, table.wind_speed_kmh, table.speed_kmh
    ).where(table.contest_id == contest_id, table.number == number)
    return tuple(ContestDay(*row) for row in c.execute(query.order_by(table.day)))


def _airspace(c: Connection, contest_id: int, number: int) -> tuple[AirspacePin, ...]:
    table = contest_airspace.c
    query = (
        select(airspace.c.name, table.revision)
        .join_from(contest_airspace, airspace, airspace.c.id == table.airspace_id)
        .where(table.contest_id == contest_id, table.number == number)
        .order_by(airspace.c.name)
    )
    return tuple(AirspacePin(*row) for row in c.execute(query))


# -- writing -----------------------------------------------------------------------------------------------------


def contest_head(c: Connection, contest_id: int) -> ContestHead:
    """Return a contest as it is now."""
    return ContestHead(*c.execute(_heads().where(contest.c.id == contest_id)).one())


def write_contest(w: Writing, head: ContestHead | None, value: Contest, *, retired: bool = False) -> ContestHead:
    """Write the next revision of a contest, or the first of a new one, and return its head.

    The contest's set and airspace must be in the store; the name must be free. Classes and days are kept in order of
    name and day.
    """
    c = w.connection
    w.begin()
    if head is None:
        values = {"name": value.name, "newest": 1, "operation_id": w.operation_id}
        contest_id = c.execute(insert(contest).returning(contest.c.id), values).scalar_one()
        head = ContestHead(contest_id, value.name, 0, retired)
    else:
        changes = {"newest": head.newest + 1, "name": value.name}
        c.execute(update(contest).where(contest.c.id == head.id).values(changes))
    number = head.newest + 1
    set_id = c.execute(select(waypoint_set.c.id).where(waypoint_set.c.name == value.set_name)).scalar_one()
    c.execute(
        insert(contest_revision),
        {
            "contest_id": head.id,
            "number": number,
            "operation_id": w.operation_id,
            "retired": retired,
            "name": value.name,
            "set_id": set_id,
            "set_revision": value.set_revision,
            "site": value.site,
            "from_date": value.from_date,
            "to_date": value.to_date,
            "timezone": value.timezone,
            "rules": rules_json(value.rules),
            "settings": settings_text(value),
        },
    )
    _write_parts(c, {"contest_id": head.id, "number": number}, value)
    return ContestHead(head.id, value.name, number, retired)


def _write_parts(c: Connection, key: dict[str, Any], value: Contest) -> None:
    zones = [{**key, "role": role.value, "zone": zone.text} for role, zone in value.zones.items()]
    classes = [
        {**key, "name": item.name, "slowest_kmh": item.slowest_kmh, "fastest_kmh": item.fastest_kmh}
        for item in value.classes
    ]
    days = [
        {
            **key,
            "day": day.number,
            "date": day.date,
            "start_opens": day.start_opens,
            "wind_from_deg": day.wind_from_deg,
            "wind_speed_kmh": day.wind_speed_kmh,
            "speed_kmh": day.speed_kmh,
        }
        for day in value.days
    ]
    ids = _airspace_ids(c) if value.airspace else {}
    pins = [{**key, "airspace_id": ids[pin.name], "revision": pin.revision} for pin in value.airspace]
    kept = ((contest_zone, zones), (contest_class, classes), (contest_day, days), (contest_airspace, pins))
    for table, rows in kept:
        if rows:
            c.execute(insert(table), rows)


def _airspace_ids(c: Connection) -> dict[str, int]:
    rows = c.execute(select(airspace.c.name, airspace.c.id))
    return {name: airspace_id for name, airspace_id in rows}  # noqa: C416
