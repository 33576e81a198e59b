"""Airspace: finding it, reading one revision whole, writing the next.

A revision is complete in itself: it holds every volume that stood in it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Select, func, insert, select, update

from taskdb.core.airspace.heights import parse_limit
from taskdb.core.airspace.volume import Kind, Volume
from taskdb.core.kept import AirspaceInfo
from taskdb.store.engine import Writing
from taskdb.store.rows import to_json
from taskdb.store.schema import airspace, airspace_revision, airspace_volume, operation

_REVISION = airspace_revision.c
_VOLUME = airspace_volume.c


@dataclass(frozen=True, slots=True)
class AirspaceHead:
    """An airspace and the number of its newest revision."""

    id: int
    name: str
    newest: int


@dataclass(frozen=True, slots=True)
class AirspaceRevision:
    """What the next revision holds, what it did in numbers, and from which file it is (None: made by hand)."""

    volumes: tuple[Volume, ...]
    added: int
    changed: int
    retired: int
    source: str | None = None


# -- reading -----------------------------------------------------------------------------------------------------


def find_airspace(c: Connection, name: str) -> AirspaceHead | None:
    """Return the airspace of exactly this name, or None."""
    query = select(airspace.c.id, airspace.c.name, airspace.c.newest).where(airspace.c.name == name)
    row = c.execute(query).one_or_none()
    return None if row is None else AirspaceHead(*row)


def _infos() -> Select[Any]:
    count = (
        select(func.count())
        .select_from(airspace_volume)
        .where(_VOLUME.airspace_id == _REVISION.airspace_id, _VOLUME.number == _REVISION.number)
        .scalar_subquery()
    )
    return (
        select(
            airspace.c.name, _REVISION.number, count, _REVISION.added, _REVISION.changed, _REVISION.retired,
            _REVISION.source, operation.c.author, operation.c.at, operation.c.note,
        )
        .join_from(airspace, airspace_revision, _REVISION.airspace_id == airspace.c.id)
        .join(operation, operation.c.id == _REVISION.operation_id)
    )  # fmt: skip


def list_airspaces(c: Connection) -> tuple[AirspaceInfo, ...]:
    """Return every airspace at its newest revision, in code-point order of names."""
    query = _infos().where(_REVISION.number == airspace.c.newest).order_by(airspace.c.name)
    return tuple(AirspaceInfo(*row) for row in c.execute(query))


def airspace_log(c: Connection, airspace_id: int) -> tuple[AirspaceInfo, ...]:
    """Return an airspace's revisions, newest first."""
    query = _infos().where(airspace.c.id == airspace_id).order_by(_REVISION.number.desc())
    return tuple(AirspaceInfo(*row) for row in c.execute(query))


def airspace_info(c: Connection, airspace_id: int, number: int) -> AirspaceInfo:
    """Return what a revision did and who wrote it. The revision must be there."""
    query = _infos().where(airspace.c.id == airspace_id, _REVISION.number == number)
    return AirspaceInfo(*c.execute(query).one())


def volumes_at(c: Connection, airspace_id: int, number: int) -> tuple[Volume, ...]:
    """Return the volumes of a revision in code-point order of names; none for revision 0.

    ValueError, KeyError, TypeError or UsageError where the store holds what is no volume.
    """
    query = select(airspace_volume).where(_VOLUME.airspace_id == airspace_id, _VOLUME.number == number)
    return tuple(_volume(row) for row in c.execute(query.order_by(_VOLUME.name)))


def _volume(row: Any) -> Volume:
    polygons = json.loads(row.polygons)
    return Volume(
        row.name,
        Kind(row.kind),
        parse_limit(row.floor),
        parse_limit(row.ceiling),
        tuple(tuple(tuple((int(x), int(y)) for x, y in ring) for ring in rings) for rings in polygons),
        row.times,
        row.frequency,
    )


def every_revision(c: Connection) -> list[tuple[int, str, int]]:
    """Return the id, name and number of each revision of each airspace, in order."""
    query = select(airspace.c.id, airspace.c.name, _REVISION.number).join_from(
        airspace, airspace_revision, _REVISION.airspace_id == airspace.c.id
    )
    rows = c.execute(query.order_by(airspace.c.id, _REVISION.number)).all()
    return [(airspace_id, name, number) for airspace_id, name, number in rows]


# -- writing -----------------------------------------------------------------------------------------------------


def create_airspace(w: Writing, name: str) -> AirspaceHead:
    """Make an airspace without a revision; the caller writes one in the same write."""
    values = {"name": name, "newest": 0, "operation_id": w.operation_id}
    made = w.connection.execute(insert(airspace).returning(airspace.c.id), values).scalar_one()
    return AirspaceHead(made, name, 0)


def airspace_head(c: Connection, airspace_id: int) -> AirspaceHead:
    """Return an airspace as it is now."""
    query = select(airspace.c.id, airspace.c.name, airspace.c.newest).where(airspace.c.id == airspace_id)
    return AirspaceHead(*c.execute(query).one())


def write_airspace(w: Writing, head: AirspaceHead, revision: AirspaceRevision) -> AirspaceHead:
    """Write the next revision of an airspace, and return its head."""
    c, number = w.connection, head.newest + 1
    w.begin()
    c.execute(update(airspace).where(airspace.c.id == head.id).values(newest=number))
    key = {"airspace_id": head.id, "number": number}
    c.execute(
        insert(airspace_revision),
        {
            **key,
            "operation_id": w.operation_id,
            "name": head.name,
            "added": revision.added,
            "changed": revision.changed,
            "retired": revision.retired,
            "source": revision.source,
        },
    )
    rows = [
        {
            **key,
            "name": volume.name,
            "kind": volume.kind.value,
            "floor": volume.floor.text,
            "ceiling": volume.ceiling.text,
            "times": volume.times,
            "frequency": volume.frequency,
            "polygons": to_json(volume.polygons),
        }
        for volume in revision.volumes
    ]
    if rows:
        c.execute(insert(airspace_volume), rows)
    return AirspaceHead(head.id, head.name, number)
