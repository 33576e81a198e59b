"""Revisions and records have a checksum over what was written: one digit changed on the disk is told."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from taskdb.store.checksums import Sealed, seal_all

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

# As they were in this schema, whatever the newest one sums.
SEALED = (
    Sealed("operation", ""),
    Sealed("waypoint_set", "", changing="newest"),
    Sealed("set_label", ""),
    Sealed("waypoint_successor", ""),
    Sealed("contest_revision", "", ("contest_zone", "contest_class", "contest_day")),
    Sealed("task_revision", "", ("task_point",)),
    Sealed("accepted_finding", ""),
    Sealed("flown_record", ""),
    Sealed("handout", "", ("handout_task",)),
)


def upgrade() -> None:
    for table in (*(sealed.table for sealed in SEALED), "set_revision"):
        op.add_column(table, sa.Column("checksum", sa.Text(), nullable=True))
    tables = sa.MetaData()
    tables.reflect(bind=op.get_bind())
    seal_all(op.get_bind(), tables, SEALED)
