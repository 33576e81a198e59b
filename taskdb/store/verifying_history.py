"""Is a store's history whole? Codes at every revision, operations, pointers, copies in tasks, tables and indexes.

Reads only, and says what is wrong; each rule is a query that gives the values for its sentence.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, create_engine, inspect, text
from sqlalchemy.pool import StaticPool

from taskdb.store import schema
from taskdb.store.schema_making import make_schema
from taskdb.store.verifying import StoreProblem

_ABSENT = -(2**31)  # stands for no elevation where two are held against each other

_NUMBERED = (("set", "waypoint_set"), ("airspace", "airspace"), ("contest", "contest"), ("task", "task"))

_QUERIES: tuple[tuple[str, str, str, str], ...] = (
    (
        "code-unique", "set {0}", "the code {1} names two waypoints at revision {2}",
        """
        SELECT w.name, s.code, s.following FROM (
            SELECT set_id, code, valid_to, LEAD(valid_from) OVER (PARTITION BY set_id, code ORDER BY valid_from, id)
                   AS following FROM waypoint_state) s
          JOIN waypoint_set w ON w.id = s.set_id
         WHERE s.following IS NOT NULL AND (s.valid_to IS NULL OR s.valid_to > s.following)
         ORDER BY s.set_id, s.code, s.following
        """,
    ),
    (
        "operation", "set {0}, waypoint {1}",
        "its state from revision {2} is of operation {3}, the revision of operation {4}",
        """
        SELECT w.name, s.code, s.valid_from, s.operation_id, r.operation_id
          FROM waypoint_state s JOIN set_revision r ON r.set_id = s.set_id AND r.number = s.valid_from
          JOIN waypoint_set w ON w.id = s.set_id WHERE s.operation_id <> r.operation_id ORDER BY s.id
        """,
    ),
    (
        "operation", "operation {0}", "undoes operation {1}, which is not an earlier one",
        "SELECT id, undoes FROM operation WHERE undoes >= id ORDER BY id",
    ),
    *(
        (
            "operation", f"{noun} {{0}}", "was made by operation {1}, its first revision by operation {2}",
            f"""
            SELECT p.name, p.operation_id, r.operation_id FROM {table} p
              JOIN {noun}_revision r ON r.{noun}_id = p.id AND r.number = 1
             WHERE p.operation_id <> r.operation_id ORDER BY p.id
            """,
        )
        for noun, table in _NUMBERED
    ),
    *(
        (
            "operation", f"{noun} {{0}}@{{1}}", "is of operation {2}, as the revision before it",
            f"""
            SELECT p.name, r.number, r.operation_id FROM {table} p
              JOIN {noun}_revision r ON r.{noun}_id = p.id
              JOIN {noun}_revision before ON before.{noun}_id = p.id AND before.number = r.number - 1
             WHERE r.operation_id = before.operation_id ORDER BY p.id, r.number
            """,
        )
        for noun, table in _NUMBERED
    ),
    (
        "merged-duplicate", "set {0}", "{1} was merged into {2} at revision {3}, of which the set knows nothing",
        """
        SELECT w.name, p.dropped, p.kept, p.from_revision
          FROM waypoint_successor p JOIN waypoint_set w ON w.id = p.set_id
         WHERE p.from_revision > w.newest OR p.from_revision < 1
            OR NOT EXISTS (SELECT 1 FROM waypoint_state s WHERE s.identity = p.dropped AND s.set_id = p.set_id)
            OR NOT EXISTS (SELECT 1 FROM waypoint_state s WHERE s.identity = p.kept AND s.set_id = p.set_id)
         ORDER BY p.id
        """,
    ),
    (
        "task-contest", "task {0}@{1}", "is of a contest without saying which revision, or of a revision without one",
        """
        SELECT r.name, r.number FROM task_revision r JOIN task t ON t.id = r.task_id
         WHERE (t.contest_id IS NULL) <> (r.contest_revision IS NULL) ORDER BY r.task_id, r.number
        """,
    ),
    (
        "task-copy", "task {0}@{1}, point {2} ({3})",
        "is not as its waypoint stood in the set revision on which the task was saved",
        f"""
        SELECT r.name, r.number, p.number, p.code
          FROM task_point p JOIN task_revision r ON r.task_id = p.task_id AND r.number = p.revision
          LEFT JOIN waypoint_state s ON s.identity = p.identity AND s.set_id = r.set_id
               AND s.valid_from <= r.set_revision AND (s.valid_to IS NULL OR s.valid_to > r.set_revision)
         WHERE p.identity IS NOT NULL AND (s.id IS NULL OR s.code <> p.code OR s.name <> p.name
            OR s.latitude_e7 <> p.latitude_e7 OR s.longitude_e7 <> p.longitude_e7
            OR COALESCE(s.elevation_dm, {_ABSENT}) <> COALESCE(p.elevation_dm, {_ABSENT}))
         ORDER BY p.task_id, p.revision, p.number
        """,
    ),
    (
        "handed-out", "hand-out {0}", "{1}@{2} went out with the fingerprint {3}; it is kept with {4}",
        """
        SELECT h.handout_id, r.name, r.number, h.fingerprint, r.fingerprint
          FROM handout_task h JOIN task_revision r ON r.task_id = h.task_id AND r.number = h.revision
         WHERE h.fingerprint <> r.fingerprint ORDER BY h.handout_id, h.task_id
        """,
    ),
    (
        "handed-out", "hand-out {0}", "was made by revision {1} of its contest, which is not there",
        """
        SELECT h.id, h.contest_revision
          FROM handout h LEFT JOIN contest_revision r ON r.contest_id = h.contest_id AND r.number = h.contest_revision
         WHERE h.contest_revision IS NOT NULL AND r.number IS NULL ORDER BY h.id
        """,
    ),
)  # fmt: skip


def history_problems(c: Connection) -> Iterator[StoreProblem]:
    """Yield what breaks the rules of the store's history."""
    for rule, what, message, query in _QUERIES:
        for row in c.execute(text(query)):
            yield StoreProblem(rule, what.format(*row), message.format(*row))
    yield from _operations(c)


def _operations(c: Connection) -> Iterator[StoreProblem]:
    """Hold that no two undos that stand undo one and the same."""
    undone: dict[int, int] = {}
    for number, undoes in c.execute(text("SELECT id, undoes FROM operation WHERE undoes IS NOT NULL ORDER BY id DESC")):
        if number in undone:
            continue
        if undoes in undone:
            message = f"is undone by operation {number} and by operation {undone[undoes]}"
            yield StoreProblem("operation", f"operation {undoes}", message)
        undone[undoes] = number


def schema_problems(c: Connection) -> Iterator[StoreProblem]:
    """Yield tables, columns and indexes that are missing or not as this taskdb makes them."""
    found = inspect(c)
    names = set(found.get_table_names())
    for table in schema.metadata.sorted_tables:
        if table.name not in names:
            yield StoreProblem("schema", f"table {table.name}", "is missing")
            continue
        columns = {column["name"] for column in found.get_columns(table.name)}
        if differing := sorted(columns ^ set(table.columns.keys())):
            yield StoreProblem("schema", f"table {table.name}", f"differs in its columns {', '.join(differing)}")
        wanted = {str(index.name) for index in table.indexes}
        there = {str(index["name"]) for index in found.get_indexes(table.name)}
        for name in sorted(wanted - there):
            yield StoreProblem("schema", f"table {table.name}", f"lacks the index {name}")
    if c.dialect.name == "sqlite":
        yield from _index_statements(c)


def _index_statements(c: Connection) -> Iterator[StoreProblem]:
    """Hold each index against that of a store made now: reflection does not tell a partial index from a whole one."""
    query = text("SELECT name, sql FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL ORDER BY name")

    def statements(connection: Connection) -> dict[str, Any]:
        return {name: " ".join(sql.split()) for name, sql in connection.execute(query)}

    engine = create_engine("sqlite://", poolclass=StaticPool)
    try:
        with engine.connect() as fresh:
            make_schema(fresh)
            wanted = statements(fresh)
    finally:
        engine.dispose()
    there = statements(c)
    for name, sql in wanted.items():
        if name in there and there[name] != sql:
            yield StoreProblem("schema", f"index {name}", "is not as this taskdb makes it")
