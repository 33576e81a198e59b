"""Airspace, as revisioned as waypoint sets, and the revisions of it that a contest's tasks are held against."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

ORDERED = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
ID = sa.BigInteger().with_variant(sa.Integer, "sqlite")


def upgrade() -> None:
    op.create_table(
        "airspace",
        sa.Column("id", ID, primary_key=True, autoincrement=True),
        sa.Column("name", ORDERED, nullable=False),
        sa.Column("newest", sa.Integer(), nullable=False),
        sa.Column("operation_id", ID, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_airspace"),
        sa.UniqueConstraint("name", name="uq_airspace_name"),
        sa.ForeignKeyConstraint(["operation_id"], ["operation.id"], name="fk_airspace_operation_id_operation"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "airspace_revision",
        sa.Column("airspace_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("operation_id", ID, nullable=False),
        sa.Column("name", ORDERED, nullable=False),
        sa.Column("added", sa.Integer(), nullable=False),
        sa.Column("changed", sa.Integer(), nullable=False),
        sa.Column("retired", sa.Integer(), nullable=False),
        sa.Column("source", ORDERED),
        sa.Column("checksum", sa.Text()),
        sa.PrimaryKeyConstraint("airspace_id", "number", name="pk_airspace_revision"),
        sa.ForeignKeyConstraint(["airspace_id"], ["airspace.id"], name="fk_airspace_revision_airspace_id_airspace"),
        sa.ForeignKeyConstraint(["operation_id"], ["operation.id"], name="fk_airspace_revision_operation_id_operation"),
        sa.CheckConstraint("number >= 1", name=op.f("ck_airspace_revision_number")),
    )
    op.create_index("ix_airspace_revision_operation_id", "airspace_revision", ["operation_id"])
    op.create_table(
        "airspace_volume",
        sa.Column("airspace_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("name", ORDERED, nullable=False),
        *(sa.Column(name, sa.Text(), nullable=False) for name in ("kind", "floor", "ceiling")),
        sa.Column("times", sa.Text()),
        sa.Column("frequency", sa.Text()),
        sa.Column("polygons", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("airspace_id", "number", "name", name="pk_airspace_volume"),
        sa.ForeignKeyConstraint(
            ["airspace_id", "number"],
            ["airspace_revision.airspace_id", "airspace_revision.number"],
            name="fk_airspace_volume_airspace_id_number_airspace_revision",
        ),
    )
    op.create_table(
        "contest_airspace",
        sa.Column("contest_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("airspace_id", ID, nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("contest_id", "number", "airspace_id", name="pk_contest_airspace"),
        sa.ForeignKeyConstraint(
            ["contest_id", "number"],
            ["contest_revision.contest_id", "contest_revision.number"],
            name="fk_contest_airspace_contest_id_number_contest_revision",
        ),
        sa.ForeignKeyConstraint(
            ["airspace_id", "revision"],
            ["airspace_revision.airspace_id", "airspace_revision.number"],
            name="fk_contest_airspace_airspace_id_revision_airspace_revision",
        ),
    )
