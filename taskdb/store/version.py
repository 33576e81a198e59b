"""Which schema a store has, and which one this taskdb knows. Standard statements only: no alembic.

Revision ids are zero-padded numbers, so older and newer can be told without reading the migrations.
"""

from __future__ import annotations

from sqlalchemy import Column, Connection, MetaData, PrimaryKeyConstraint, String, Table, select

NEWEST = "0005"
"""The newest migration; a test holds it to the files in `migrations/versions`."""

APPLICATION_ID = 0x7461736B
"""Marks an SQLite file as ours (PRAGMA application_id): "task" in ASCII."""

_metadata = MetaData()

alembic_version = Table(
    "alembic_version",
    _metadata,
    Column("version_num", String(32), nullable=False),
    PrimaryKeyConstraint("version_num", name="alembic_version_pkc"),
)
"""As alembic itself makes it."""


def current_revision(connection: Connection) -> str | None:
    """Return the store's schema revision, or None where the version table is empty. The table must be there."""
    revision: str | None = connection.scalar(select(alembic_version.c.version_num))
    return revision
