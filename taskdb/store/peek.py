"""A quick look into an SQLite store for shell completion, with the standard library alone. Never raises, never writes.

Other stores answer nothing: a connection to a server costs more than a person waits for a completion.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from urllib.parse import quote

from taskdb.errors import TaskdbError
from taskdb.store.address import parse_address

_QUERIES = {
    "set": "SELECT name FROM waypoint_set WHERE name >= ? AND name < ? AND newest > 0 ORDER BY name LIMIT ?",
    "airspace": "SELECT name FROM airspace WHERE name >= ? AND name < ? AND newest > 0 ORDER BY name LIMIT ?",
    "volume": (
        "SELECT DISTINCT v.name FROM airspace_volume v"
        " JOIN airspace ON airspace.id = v.airspace_id AND v.number = airspace.newest"
        " WHERE v.name >= ? AND v.name < ? ORDER BY v.name LIMIT ?"
    ),
    "contest": (
        "SELECT contest.name FROM contest"
        " JOIN contest_revision r ON r.contest_id = contest.id AND r.number = contest.newest"
        " WHERE contest.name >= ? AND contest.name < ? AND NOT r.retired ORDER BY contest.name LIMIT ?"
    ),
}
# Each name once, with the contests that have it, an empty one for a task without.
_TASKS = (
    "SELECT task.name, group_concat(coalesce(contest.name, ''), char(31)) FROM task"
    " JOIN task_revision r ON r.task_id = task.id AND r.number = task.newest"
    " LEFT JOIN contest ON contest.id = task.contest_id"
    " WHERE task.name >= ? AND task.name < ? AND NOT r.retired GROUP BY task.name ORDER BY task.name LIMIT ?"
)
_TASKS_OF_CONTEST = (
    "SELECT contest.name || ':' || task.name FROM contest"
    " JOIN task ON task.contest_id = contest.id"
    " JOIN task_revision r ON r.task_id = task.id AND r.number = task.newest"
    " WHERE contest.name = ? AND task.name >= ? AND task.name < ? AND NOT r.retired ORDER BY task.name LIMIT ?"
)
# Set by set, since only within a set is there an index that is in order of code.
_CODES = (
    "SELECT code FROM waypoint_state WHERE set_id = ? AND code >= ? AND code < ? AND valid_to IS NULL"
    " ORDER BY code LIMIT ?"
)
_LAST = chr(0x10FFFF)
_WAIT_S = 0.2


def peek_names(url: str, kind: str, prefix: str, limit: int = 100) -> tuple[str, ...]:
    """Return names of a kind in order: `set`, `waypoint` (codes), `airspace`, `volume`, `contest`, `task`.

    Those that begin with `prefix`, at most `limit`; a task that its name alone does not tell from others as
    `CONTEST:TASK`. Nothing for a store that is missing, busy, damaged, not ours, or not an SQLite file.
    """
    with contextlib.suppress(TaskdbError, sqlite3.Error, OSError, ValueError, KeyError):
        path = parse_address(url).path
        if path is None or not path.is_file():
            return ()
        uri = f"file:{quote(os.fspath(path.absolute()))}?mode=rw"
        with contextlib.closing(sqlite3.connect(uri, uri=True, timeout=_WAIT_S)) as raw:
            raw.execute("PRAGMA query_only = ON")
            return tuple(_names(raw, kind, prefix, limit))
    return ()


def _names(raw: sqlite3.Connection, kind: str, prefix: str, limit: int) -> list[str]:
    if kind == "task":
        return _tasks(raw, prefix, limit)
    if kind != "waypoint":
        return [name for (name,) in raw.execute(_QUERIES[kind], (prefix, prefix + _LAST, limit))]
    found: set[str] = set()
    for (set_id,) in raw.execute("SELECT id FROM waypoint_set"):
        found.update(code for (code,) in raw.execute(_CODES, (set_id, prefix, prefix + _LAST, limit)))
    return sorted(found)[:limit]


def _tasks(raw: sqlite3.Connection, prefix: str, limit: int) -> list[str]:
    found = []
    for name, held_by in raw.execute(_TASKS, (prefix, prefix + _LAST, limit)):
        contests = sorted(held_by.split("\x1f"))
        found += [f"{contest}:{name}" if contest and len(contests) > 1 else name for contest in contests]
    contest, colon, begun = prefix.partition(":")
    if colon:
        found += [name for (name,) in raw.execute(_TASKS_OF_CONTEST, (contest, begun, begun + _LAST, limit))]
    return list(dict.fromkeys(found))[:limit]
