"""Waypoint sets: listing, showing, their log, and writing them out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.model import Waypoint
from taskdb.services.desk import Desk
from taskdb.services.references import resolve_set
from taskdb.store import sets as set_rows

if TYPE_CHECKING:
    from taskdb.core.kept import SetRevisionInfo, SetSummary


@dataclass(frozen=True)
class SetShown:
    info: SetRevisionInfo
    waypoints: tuple[Waypoint, ...]


def list_sets(desk: Desk) -> tuple[SetSummary, ...]:
    """Return every set with its newest revision, in code-point order of names; empty for an empty store."""
    with desk.store.reading() as c:
        return tuple(set_rows.list_sets(c))


def show_set(desk: Desk, reference: str) -> SetShown:
    """Return a set at a revision with all its waypoints in order of code. NotFoundError where it is not there."""
    with desk.store.reading() as c:
        at = resolve_set(c, reference)
        info = set_rows.revision_info(c, at.head.id, at.revision)
        assert info is not None  # resolve_set vouches for the revision
        return SetShown(info, tuple(set_rows.waypoints_at(c, at.head.id, at.revision)))


def set_log(desk: Desk, reference: str) -> tuple[str, tuple[SetRevisionInfo, ...]]:
    """Return the set's name and its revisions, newest first."""
    with desk.store.reading() as c:
        at = resolve_set(c, reference)
        return at.head.name, tuple(set_rows.set_log(c, at.head.id))


@dataclass(frozen=True)
class SetExported:
    set_name: str
    revision: int
    path: str
    format: str
    count: int
    bytes: int
    lost: tuple[str, ...]


def export_set_file(
    desk: Desk,
    reference: str,
    *,
    format_name: str,
    path: str,
    with_identity: bool = False,
    profile: str | None = None,
    overwrite: bool = False,
) -> SetExported:
    """Write one set to one file, in a format or by the text of a profile. RefusedError where the file exists.

    `overwrite` writes over a file that exists.
    """
    from taskdb.files.held import held
    from taskdb.files.writing import require_new, write_chunks
    from taskdb.formats.registry import InOrder, write_set, write_set_by_profile
    from taskdb.formats.text.profiles import parse_profile

    with desk.store.reading() as c:
        at = resolve_set(c, reference)
        info = set_rows.revision_info(c, at.head.id, at.revision)
        assert info is not None  # resolve_set vouches for the revision
        require_new(path, overwrite=overwrite, details={"path": path})
        waypoints = InOrder(set_rows.each_waypoint_at(c, at.head.id, at.revision))
        if profile is not None:
            layout = parse_profile(profile)
            content, lost = held(lambda stream: write_set_by_profile(stream, waypoints, layout))
        else:
            content, lost = held(lambda stream: write_set(stream, waypoints, format_name, identity=with_identity))
    write_chunks(path, content.chunks())
    return SetExported(info.set_name, info.number, path, format_name, info.count, len(content), tuple(lost))
