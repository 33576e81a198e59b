"""Taking a file of volumes into an airspace: read, mend where asked, decide what changes, write one revision.

All or nothing: a volume that cannot be read keeps the others out too, and every problem of every one is told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from taskdb.core.model import Position, RowProblem
from taskdb.core.names import clean_text, require_name
from taskdb.core.numbers import counted
from taskdb.core.plain import problem_plain
from taskdb.errors import InputError
from taskdb.files.reading import open_input
from taskdb.formats.airspace.reading import AirspaceOptions
from taskdb.formats.registry import AirspaceReading, read_airspace
from taskdb.services.airspace.airspace import revision_after
from taskdb.services.desk import Desk, Write, require_confirmed
from taskdb.store import airspaces as airspace_rows, sets as set_rows

if TYPE_CHECKING:
    from taskdb.core.airspace.volume import Volume
    from taskdb.store.engine import Connection, Writing

MOST_WAYPOINTS = 20_000
"""So many waypoints of the store say where the club flies; a larger catalogue says it no better."""


class Mode(StrEnum):
    MERGE = "merge"
    REPLACE = "replace"


@dataclass(frozen=True)
class AirspaceImport:
    """What is imported: the file, the airspace, how the file is read, and whether what it lacks is retired."""

    path: str
    into: str
    options: AirspaceOptions = field(default_factory=AirspaceOptions)
    mode: Mode = Mode.MERGE


@dataclass(frozen=True)
class AirspaceImported:
    """What came of it; `read` = added + changed + unchanged. `notes` say what was taken for granted."""

    airspace: str
    revision: int
    read: int
    added: int
    changed: int
    unchanged: int
    retired: int
    format: str
    encoding: str
    properties: Mapping[str, str]
    mended: tuple[str, ...]
    notes: tuple[str, ...]
    backup: str | None = None
    """Where the store was kept as it was before: in replace mode, on SQLite."""


def import_airspace(desk: Desk, request: AirspaceImport, write: Write) -> AirspaceImported:
    """Import a file of volumes, making one revision, or none where nothing differs. Volumes are matched by name.

    Raises NotFoundError for a missing file, InputError (code `volumes-rejected`) with every problem of every volume,
    RefusedError where a person has to confirm that many are retired.
    """
    into = require_name(request.into, what="airspace")

    def work(writing: Writing) -> AirspaceImported:
        c = writing.connection
        reading = writing.once("file", lambda: _read(request, _region(c)))
        if reading.problems:
            raise _rejected(request, reading.problems)
        head = airspace_rows.find_airspace(c, into)
        before = () if head is None else airspace_rows.volumes_at(c, head.id, head.newest)
        after = _after(before, reading.volumes, request.mode)
        revision = revision_after(before, after, source=clean_text(Path(request.path).name) or None)
        if revision.retired * 4 > len(before):
            require_confirmed(
                write,
                f"Replacing retires {revision.retired} of {len(before)} volumes of {into!r}. Go ahead?",
                retired=revision.retired,
            )
        newest = 0 if head is None else head.newest
        if not newest or revision.added or revision.changed or revision.retired:
            head = head or airspace_rows.create_airspace(writing, into)
            newest = airspace_rows.write_airspace(writing, head, revision).newest
        else:
            writing.abandon()
        return AirspaceImported(
            airspace=into,
            revision=newest,
            read=len(reading.volumes),
            added=revision.added,
            changed=revision.changed,
            unchanged=len(reading.volumes) - revision.added - revision.changed,
            retired=revision.retired,
            format=reading.format,
            encoding=reading.encoding,
            properties=reading.properties,
            mended=reading.mended,
            notes=reading.notes,
        )

    done, backup = desk.write_with_backup(write, work, backup=request.mode is Mode.REPLACE)
    return replace(done, backup=str(backup) if backup is not None else None)


def _read(request: AirspaceImport, region: Sequence[Position]) -> AirspaceReading:
    with open_input(request.path) as stream:
        return read_airspace(stream, options=replace(request.options, region=region))


def _after(before: Sequence[Volume], read: Sequence[Volume], mode: Mode) -> tuple[Volume, ...]:
    """Return what is to stand, in order of name."""
    standing = {} if mode is Mode.REPLACE else {volume.name: volume for volume in before}
    standing |= {volume.name: volume for volume in read}
    return tuple(standing[name] for name in sorted(standing))


def _region(c: Connection) -> list[Position]:
    """Return where the waypoints of the store lie: what lies far from all of them may have its axes exchanged."""
    found: list[Position] = []
    for summary in set_rows.list_sets(c):
        head = set_rows.find_set(c, summary.name)
        if head is not None and len(found) + summary.count <= MOST_WAYPOINTS:
            found += [waypoint.position for waypoint in set_rows.waypoints_at(c, head.id, head.newest)]
    return found


def _rejected(request: AirspaceImport, problems: Sequence[RowProblem]) -> InputError:
    mend = "" if request.options.repair else " --repair mends what can be mended without guessing, and says so."
    return InputError(
        "volumes-rejected",
        f"{request.path}: {counted(len(problems), 'problem')} of volumes; nothing was imported.",
        hint=f"Mend the file.{mend}",
        details={"rejected": [problem_plain(problem) for problem in problems], "total": len(problems)},
    )
