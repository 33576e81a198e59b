"""What a command leaves behind in a session of the server, which a pooler would hand on to somebody else: nothing."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any

from sqlalchemy import event
from sqlalchemy.pool import Pool

# PostgreSQL documentation: pg_prepared_statements, pg_settings.source, pg_locks, pg_cursors, pg_my_temp_schema.
_LEFT = """
SELECT 'a prepared statement: ' || statement FROM pg_prepared_statements
UNION ALL SELECT 'a setting: ' || name FROM pg_settings WHERE source = 'session' AND name NOT LIKE 'transaction_%'
UNION ALL SELECT 'an advisory lock' FROM pg_locks WHERE locktype = 'advisory' AND pid = pg_backend_pid()
UNION ALL SELECT 'a cursor: ' || statement FROM pg_cursors WHERE is_holdable
UNION ALL SELECT 'a temporary table: ' || relname FROM pg_class WHERE relnamespace = pg_my_temp_schema()
UNION ALL SELECT 'a channel: ' || channel FROM pg_listening_channels() channel
"""


@contextlib.contextmanager
def nothing_left_in_sessions() -> Iterator[list[str]]:
    """Yield a list, to which each session that ends meanwhile adds what its transactions left in it.

    Raises AssertionError at the end where that is anything, or where no session of a server ended at all.
    """
    left: list[str] = []
    sessions = 0

    def look(raw: Any, _: object) -> None:
        nonlocal sessions
        if type(raw).__module__.startswith("psycopg") and not raw.closed and not raw.autocommit:
            sessions += 1
            left.extend(said for (said,) in raw.execute(_LEFT, prepare=False))
            raw.rollback()

    event.listen(Pool, "checkin", look)
    try:
        yield left
    finally:
        event.remove(Pool, "checkin", look)
    assert sessions, "no session was looked into"
    assert left == [], left[:5]
