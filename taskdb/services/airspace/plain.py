"""The JSON form of what the services of airspace answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from taskdb.core.airspace.changes import changes_plain
from taskdb.core.airspace.volume import volume_plain
from taskdb.core.plain import fields_plain

if TYPE_CHECKING:
    from taskdb.core.kept import AirspaceInfo
    from taskdb.services.airspace.airspace import AirspaceDiffered, AirspaceShown
    from taskdb.services.airspace.importing import AirspaceImported


def imported_plain(done: AirspaceImported) -> dict[str, Any]:
    """Return what an import did, and what was decided about the file."""
    decided = {"format": done.format, "encoding": done.encoding, "properties": dict(done.properties)}
    return {**fields_plain(done, but=("format", "encoding", "properties", "backup")), "decided": decided}


def listed_plain(info: AirspaceInfo) -> dict[str, Any]:
    """Return a line of the list of airspaces."""
    return {
        "airspace": info.name,
        "revision": info.number,
        "count": info.count,
        "source": info.source,
        "changed_at": info.at,
        "author": info.author,
    }


def airspace_plain(shown: AirspaceShown) -> dict[str, Any]:
    """Return an airspace at a revision with its volumes."""
    info = shown.info
    return {
        "airspace": info.name,
        "revision": info.number,
        "count": info.count,
        "source": info.source,
        "author": info.author,
        "created_at": info.at,
        "note": info.note,
        "volumes": [volume_plain(volume) for volume in shown.volumes],
    }


def log_plain(name: str, infos: tuple[AirspaceInfo, ...]) -> dict[str, Any]:
    """Return an airspace's revisions, newest first."""
    return {
        "airspace": name,
        "revisions": [
            {
                "revision": info.number,
                "author": info.author,
                "created_at": info.at,
                "note": info.note,
                "added": info.added,
                "changed": info.changed,
                "retired": info.retired,
                "source": info.source,
            }
            for info in infos
        ],
    }


def differed_plain(differed: AirspaceDiffered) -> dict[str, Any]:
    """Return what differs between two revisions."""
    return {"from": str(differed.old), "to": str(differed.new), **changes_plain(differed.changes)}
