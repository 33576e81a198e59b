"""Makes the newest schema in an empty database in one go, stamped as if every migration had run.

A test holds the result equal to the migrations' on both engines. Upgrading older stores is `upgrade`'s.
"""

from __future__ import annotations

from sqlalchemy import Connection, insert

from taskdb.store import schema
from taskdb.store.version import APPLICATION_ID, NEWEST, alembic_version


def make_schema(connection: Connection) -> None:
    """Create every table in an empty database, inside the caller's transaction, and stamp it."""
    alembic_version.create(connection)
    schema.metadata.create_all(connection, checkfirst=False)
    connection.execute(insert(alembic_version).values(version_num=NEWEST))
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
