"""The migrations, run one after another, give exactly the schema that the tables describe, on each engine."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Connection, create_engine, text
from sqlalchemy.pool import NullPool

from taskdb.store import schema
from taskdb.store.engine import NewOperation, open_store
from taskdb.store.schema_making import make_schema
from taskdb.store.upgrade import NEWEST, current_revision, migrations_folder, run_migrations, upgrade_store

# What PostgreSQL itself says of every column, constraint and index (predicates, collations and checks included).
POSTGRESQL_FACTS = {
    "columns": """
        SELECT c.relname, a.attname, format_type(a.atttypid, a.atttypmod), a.attnotnull, l.collname,
               pg_get_expr(d.adbin, d.adrelid)
        FROM pg_attribute a
        JOIN pg_class c ON c.oid = a.attrelid AND c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace
        LEFT JOIN pg_collation l ON l.oid = a.attcollation
        LEFT JOIN pg_attrdef d ON d.adrelid = a.attrelid AND d.adnum = a.attnum
        WHERE a.attnum > 0 ORDER BY 1, 2""",
    "constraints": """
        SELECT conrelid::regclass::text, conname, pg_get_constraintdef(oid) FROM pg_constraint
        WHERE connamespace = 'public'::regnamespace ORDER BY 1, 2""",
    "indexes": "SELECT indexname, indexdef FROM pg_indexes WHERE schemaname = 'public' ORDER BY 1",
}


@pytest.fixture
def connection(empty_store_url: str) -> Iterator[Connection]:
    url = empty_store_url if "://" in empty_store_url else f"sqlite:///{empty_store_url}"
    engine = create_engine(url, poolclass=NullPool)
    with engine.connect() as opened:
        yield opened


def facts(connection: Connection) -> dict[str, Any]:
    if connection.dialect.name == "sqlite":
        rows = connection.execute(text("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name"))
        return {name: _parts(sql) for name, sql in rows}
    return {what: connection.execute(text(query)).all() for what, query in POSTGRESQL_FACTS.items()}


def _parts(sql: str) -> list[str]:
    """The parts of a CREATE statement, in no order: alembic writes constraints in another order than SQLAlchemy.

    SQLite writes a column that was added behind all constraints, on their line.
    """
    inside = sql[sql.index("(") + 1 : sql.rindex(")")]
    parts, depth = [""], 0
    for sign in inside:
        depth += (sign == "(") - (sign == ")")
        if sign == "," and depth == 0:
            parts.append("")
        else:
            parts[-1] += sign
    around = sql[: sql.index("(")] + sql[sql.rindex(")") + 1 :]
    return sorted(re.sub(r"\s+", " ", part).strip() for part in (*parts, around))


def test_the_migrations_give_what_the_tables_describe(connection: Connection) -> None:
    with connection.begin():
        run_migrations(connection)
    migrated = facts(connection)
    context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
    assert compare_metadata(context, schema.metadata) == []
    connection.rollback()
    with connection.begin():
        for table in (*reversed(schema.metadata.sorted_tables), "alembic_version"):
            connection.execute(text(f'DROP TABLE "{table}"'))
    with connection.begin():
        make_schema(connection)
    made = facts(connection)
    assert len(made) >= 3
    assert migrated.keys() == made.keys()
    for what in made:
        assert migrated[what] == made[what], what


def test_a_predicate_that_vanished_would_be_seen(connection: Connection) -> None:
    with connection.begin():
        make_schema(connection)
    before = facts(connection)
    connection.rollback()
    with connection.begin():
        connection.execute(text("DROP INDEX uq_waypoint_state_open_code"))
        connection.execute(text("CREATE UNIQUE INDEX uq_waypoint_state_open_code ON waypoint_state (set_id, code)"))
    assert facts(connection) != before


def test_a_new_store_is_stamped_with_the_newest_migration(store_url: str) -> None:
    store = open_store(store_url)
    with store.writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")):
        pass
    with store.reading() as c:
        assert current_revision(c) == NEWEST


def test_the_newest_schema_is_that_of_the_last_migration_file() -> None:
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(migrations_folder()))
    config.set_main_option("path_separator", "os")
    assert ScriptDirectory.from_config(config).get_heads() == [NEWEST]
    files = sorted(path.name for path in (migrations_folder() / "versions").glob("*.py"))
    assert files[-1].startswith(f"{NEWEST}_")


def test_upgrading_a_store_of_the_newest_schema_changes_nothing(store_url: str) -> None:
    store = open_store(store_url)
    with store.writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")):
        pass
    result = upgrade_store(store_url)
    assert (result.before, result.after) == (NEWEST, NEWEST)
    with store.reading() as c:
        assert c.scalar(text("SELECT count(*) FROM operation")) == 1


def test_upgrading_a_store_that_is_not_there_makes_nothing(tmp_path: Path) -> None:
    assert upgrade_store(str(tmp_path / "none.db")).before is None
    assert list(tmp_path.iterdir()) == []
