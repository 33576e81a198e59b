"""Airspace: listing, showing, its log, what differs between two revisions, and writing it out."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from taskdb.core.airspace.changes import AirspaceChanges, airspace_changes
from taskdb.errors import UsageError
from taskdb.formats.known import AIRSPACE_WRITTEN, SUFFIX_OF
from taskdb.services.references import AirspaceAt, resolve_airspace
from taskdb.store import airspaces as airspace_rows

if TYPE_CHECKING:
    from taskdb.core.airspace.volume import Volume
    from taskdb.core.kept import AirspaceInfo
    from taskdb.services.desk import Desk


@dataclass(frozen=True)
class AirspaceShown:
    info: AirspaceInfo
    volumes: tuple[Volume, ...]


def list_airspaces(desk: Desk) -> tuple[AirspaceInfo, ...]:
    """Return every airspace at its newest revision, in code-point order of names; empty for an empty store."""
    with desk.store.reading() as c:
        return airspace_rows.list_airspaces(c)


def show_airspace(desk: Desk, reference: str) -> AirspaceShown:
    """Return an airspace at a revision with all its volumes in order of name. NotFoundError where it is not there."""
    with desk.store.reading() as c:
        at = resolve_airspace(c, reference)
        info = airspace_rows.airspace_info(c, at.head.id, at.revision)
        return AirspaceShown(info, airspace_rows.volumes_at(c, at.head.id, at.revision))


def airspace_log(desk: Desk, name: str) -> tuple[str, tuple[AirspaceInfo, ...]]:
    """Return the airspace's name and its revisions, newest first."""
    with desk.store.reading() as c:
        at = resolve_airspace(c, name)
        return at.head.name, airspace_rows.airspace_log(c, at.head.id)


@dataclass(frozen=True)
class AirspaceDiffered:
    """What turns one revision into another, in the order old, new."""

    old: AirspaceAt
    new: AirspaceAt
    changes: AirspaceChanges


def diff_airspace(desk: Desk, old: str, new: str | None = None) -> AirspaceDiffered:
    """Return what differs between two revisions, of one airspace or of two; volumes are matched by name.

    With one reference: `NAME@3` against the newest, `NAME` its newest revision against the one before.
    """
    with desk.store.reading() as c:
        first = resolve_airspace(c, old)
        if new is not None:
            second = resolve_airspace(c, new)
        elif first.revision < first.head.newest:
            second = AirspaceAt(first.head, first.head.newest)
        elif first.revision > 1:
            first, second = AirspaceAt(first.head, first.revision - 1), first
        else:
            raise UsageError(
                "one-revision",
                f"The airspace {first.head.name!r} has one revision; there is none before it to compare with.",
                hint="Name two: taskdb airspace diff NAME@1 NAME@2",
            )
        before, after = (airspace_rows.volumes_at(c, at.head.id, at.revision) for at in (first, second))
    return AirspaceDiffered(first, second, airspace_changes(before, after))


def revision_after(
    before: Sequence[Volume], volumes: Sequence[Volume], *, source: str | None
) -> airspace_rows.AirspaceRevision:
    """Return the revision that makes `volumes` stand after `before`, with what that did in numbers."""
    changes = airspace_changes(before, volumes)
    counts = len(changes.added), len(changes.changed), len(changes.retired)
    return airspace_rows.AirspaceRevision(tuple(volumes), *counts, source)


@dataclass(frozen=True)
class AirspaceExported:
    """A file that was written; `lost` says what its format cannot hold."""

    airspace: str
    revision: int
    path: str
    format: str
    count: int
    bytes: int
    lost: tuple[str, ...]


def export_airspace(
    desk: Desk, reference: str, *, path: str, format_name: str | None = None, overwrite: bool = False
) -> AirspaceExported:
    """Write one airspace to one file, in a format or in that of the file's suffix. RefusedError where it exists.

    UsageError where neither says the format.
    """
    from taskdb.files.writing import require_new, write_new
    from taskdb.formats.registry import write_airspace

    format_name = format_name or _format_of(path)
    shown = show_airspace(desk, reference)
    require_new(path, overwrite=overwrite, details={"path": path})
    buffer = io.BytesIO()
    lost = write_airspace(buffer, shown.volumes, format_name)
    written = write_new(path, buffer.getvalue(), overwrite=overwrite)
    return AirspaceExported(
        shown.info.name, shown.info.number, path, format_name, len(shown.volumes), written, tuple(lost)
    )


def _format_of(path: str) -> str:
    suffix = Path(path).suffix.lower()
    for name in AIRSPACE_WRITTEN:
        if suffix == SUFFIX_OF[name]:
            return name
    raise UsageError(
        "no-format",
        f"{path!r} does not say in which format airspace is to be written.",
        hint=f"Give --format with one of: {', '.join(AIRSPACE_WRITTEN)}.",
    )
