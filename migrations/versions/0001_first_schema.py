"""The first schema: operations, waypoint sets with revisions, contests, tasks, accepted findings, flown records."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

# Code-point order on both engines; SQLite's default (BINARY) is code-point order already.
ORDERED_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    _operation()
    _contest()
    _waypoint_set()
    _accepted_finding()
    _set_revision()
    _task()
    _waypoint_successor()
    _contest_revision()
    _flown_record()
    _set_label()
    _task_revision()
    _waypoint_state()
    _contest_class()
    _contest_day()
    _contest_zone()
    _task_point()
    _waypoint_word()
    _handout()


def _handout() -> None:
    op.create_table(
        "handout",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("contest_id", ID, nullable=False),
        sa.Column("day", sa.Integer(), nullable=True),
        sa.Column("target", sa.Text(), nullable=False),
        sa.Column("to_whom", sa.Text(), nullable=True),
        sa.Column("operation_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name=op.f("fk_handout_contest_id_contest")),
        sa.ForeignKeyConstraint(["operation_id"], ["operation.id"], name=op.f("fk_handout_operation_id_operation")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_handout")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_handout_contest_id_day", "handout", ["contest_id", "day"])
    op.create_index(op.f("ix_handout_operation_id"), "handout", ["operation_id"])
    op.create_table(
        "handout_task",
        sa.Column("handout_id", ID, nullable=False),
        sa.Column("task_id", ID, nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("fingerprint", ORDERED_TEXT, nullable=False),
        sa.ForeignKeyConstraint(["handout_id"], ["handout.id"], name=op.f("fk_handout_task_handout_id_handout")),
        sa.ForeignKeyConstraint(
            ["task_id", "revision"],
            ["task_revision.task_id", "task_revision.number"],
            name=op.f("fk_handout_task_task_id_revision_task_revision"),
        ),
        sa.PrimaryKeyConstraint("handout_id", "task_id", name=op.f("pk_handout_task")),
    )
    op.create_index("ix_handout_task_task_id", "handout_task", ["task_id"])


def _operation() -> None:
    op.create_table(
        "operation",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("author", sa.Text(), nullable=False),
        sa.Column("command", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("undoes", ID, nullable=True),
        sa.ForeignKeyConstraint(["undoes"], ["operation.id"], name=op.f("fk_operation_undoes_operation")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_operation")),
        sqlite_autoincrement=True,
    )


def _contest() -> None:
    op.create_table(
        "contest",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("name", ORDERED_TEXT, nullable=False),
        sa.Column("newest", sa.Integer(), nullable=False),
        sa.Column("operation_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["operation_id"], ["operation.id"], name=op.f("fk_contest_operation_id_operation")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_contest")),
        sa.UniqueConstraint("name", name=op.f("uq_contest_name")),
        sqlite_autoincrement=True,
    )


def _waypoint_set() -> None:
    op.create_table(
        "waypoint_set",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("name", ORDERED_TEXT, nullable=False),
        sa.Column("newest", sa.Integer(), nullable=False),
        sa.Column("operation_id", ID, nullable=False),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_waypoint_set_operation_id_operation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_waypoint_set")),
        sa.UniqueConstraint("name", name=op.f("uq_waypoint_set_name")),
        sqlite_autoincrement=True,
    )


def _accepted_finding() -> None:
    op.create_table(
        "accepted_finding",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("set_id", ID, nullable=False),
        sa.Column("finding", sa.Text(), nullable=False),
        sa.Column("rule", sa.Text(), nullable=False),
        sa.Column("accepted", sa.Boolean(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("operation_id", ID, nullable=False),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_accepted_finding_operation_id_operation")
        ),
        sa.ForeignKeyConstraint(["set_id"], ["waypoint_set.id"], name=op.f("fk_accepted_finding_set_id_waypoint_set")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_accepted_finding")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_accepted_finding_operation_id"), "accepted_finding", ["operation_id"])
    op.create_index("ix_accepted_finding_set_id_finding", "accepted_finding", ["set_id", "finding"])


def _set_revision() -> None:
    op.create_table(
        "set_revision",
        sa.Column("set_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("operation_id", ID, nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("added", sa.Integer(), nullable=False),
        sa.Column("changed", sa.Integer(), nullable=False),
        sa.Column("retired", sa.Integer(), nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_set_revision_number")),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_set_revision_operation_id_operation")
        ),
        sa.ForeignKeyConstraint(["set_id"], ["waypoint_set.id"], name=op.f("fk_set_revision_set_id_waypoint_set")),
        sa.PrimaryKeyConstraint("set_id", "number", name=op.f("pk_set_revision")),
    )
    op.create_index(op.f("ix_set_revision_operation_id"), "set_revision", ["operation_id"])


def _task() -> None:
    op.create_table(
        "task",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("contest_id", ID, nullable=True),
        sa.Column("name", ORDERED_TEXT, nullable=False),
        sa.Column("newest", sa.Integer(), nullable=False),
        sa.Column("operation_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name=op.f("fk_task_contest_id_contest")),
        sa.ForeignKeyConstraint(["operation_id"], ["operation.id"], name=op.f("fk_task_operation_id_operation")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_task")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "uq_task_contest_name",
        "task",
        ["contest_id", "name"],
        unique=True,
        sqlite_where=sa.text("contest_id IS NOT NULL"),
        postgresql_where=sa.text("contest_id IS NOT NULL"),
    )
    op.create_index(
        "uq_task_name_without_contest",
        "task",
        ["name"],
        unique=True,
        sqlite_where=sa.text("contest_id IS NULL"),
        postgresql_where=sa.text("contest_id IS NULL"),
    )


def _waypoint_successor() -> None:
    op.create_table(
        "waypoint_successor",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("set_id", ID, nullable=False),
        sa.Column("dropped", ORDERED_TEXT, nullable=False),
        sa.Column("kept", ORDERED_TEXT, nullable=False),
        sa.Column("from_revision", sa.Integer(), nullable=False),
        sa.Column("operation_id", ID, nullable=False),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_waypoint_successor_operation_id_operation")
        ),
        sa.ForeignKeyConstraint(
            ["set_id"], ["waypoint_set.id"], name=op.f("fk_waypoint_successor_set_id_waypoint_set")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_waypoint_successor")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_waypoint_successor_operation_id"), "waypoint_successor", ["operation_id"])
    op.create_index("ix_waypoint_successor_set_id_dropped", "waypoint_successor", ["set_id", "dropped"])


def _contest_revision() -> None:
    op.create_table(
        "contest_revision",
        sa.Column("contest_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("operation_id", ID, nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("name", ORDERED_TEXT, nullable=False),
        sa.Column("set_id", ID, nullable=False),
        sa.Column("set_revision", sa.Integer(), nullable=False),
        sa.Column("site", sa.Text(), nullable=True),
        sa.Column("from_date", sa.Text(), nullable=True),
        sa.Column("to_date", sa.Text(), nullable=True),
        sa.Column("timezone", sa.Text(), nullable=True),
        sa.Column("rules", sa.Text(), nullable=False),
        sa.Column("settings", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name=op.f("fk_contest_revision_contest_id_contest")),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_contest_revision_operation_id_operation")
        ),
        sa.ForeignKeyConstraint(
            ["set_id", "set_revision"],
            ["set_revision.set_id", "set_revision.number"],
            name=op.f("fk_contest_revision_set_id_set_revision_set_revision"),
        ),
        sa.PrimaryKeyConstraint("contest_id", "number", name=op.f("pk_contest_revision")),
    )
    op.create_index(op.f("ix_contest_revision_operation_id"), "contest_revision", ["operation_id"])


def _flown_record() -> None:
    op.create_table(
        "flown_record",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("task_id", ID, nullable=False),
        sa.Column("flown_on", sa.Text(), nullable=False),
        sa.Column("withdrawn", sa.Boolean(), nullable=False),
        sa.Column("wind_from_deg", sa.Float(), nullable=True),
        sa.Column("wind_speed_kmh", sa.Float(), nullable=True),
        sa.Column("cloud_base_m", sa.Float(), nullable=True),
        sa.Column("starters", sa.Integer(), nullable=True),
        sa.Column("finishers", sa.Integer(), nullable=True),
        sa.Column("best_kmh", sa.Float(), nullable=True),
        sa.Column("median_kmh", sa.Float(), nullable=True),
        sa.Column("remarks", sa.Text(), nullable=True),
        sa.Column("operation_id", ID, nullable=False),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_flown_record_operation_id_operation")
        ),
        sa.ForeignKeyConstraint(["task_id"], ["task.id"], name=op.f("fk_flown_record_task_id_task")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_flown_record")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_flown_record_operation_id"), "flown_record", ["operation_id"])
    op.create_index("ix_flown_record_task_id_flown_on", "flown_record", ["task_id", "flown_on"])


def _set_label() -> None:
    op.create_table(
        "set_label",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("set_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("label", sa.Text(), nullable=True),
        sa.Column("valid_from", sa.Text(), nullable=True),
        sa.Column("operation_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["operation_id"], ["operation.id"], name=op.f("fk_set_label_operation_id_operation")),
        sa.ForeignKeyConstraint(
            ["set_id", "number"],
            ["set_revision.set_id", "set_revision.number"],
            name=op.f("fk_set_label_set_id_number_set_revision"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_set_label")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_set_label_operation_id"), "set_label", ["operation_id"])
    op.create_index("ix_set_label_set_id_number", "set_label", ["set_id", "number"])


def _task_revision() -> None:
    op.create_table(
        "task_revision",
        sa.Column("task_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("operation_id", ID, nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("name", ORDERED_TEXT, nullable=False),
        sa.Column("set_id", ID, nullable=False),
        sa.Column("set_revision", sa.Integer(), nullable=False),
        sa.Column("contest_revision", sa.Integer(), nullable=True),
        sa.Column("type", sa.Text(), nullable=False),
        sa.Column("day", sa.Integer(), nullable=True),
        sa.Column("class", ORDERED_TEXT, nullable=True),
        sa.Column("variant", ORDERED_TEXT, nullable=True),
        sa.Column("status", sa.Text(), nullable=False),
        sa.Column("issued_at", sa.Text(), nullable=True),
        sa.Column("time_s", sa.Integer(), nullable=True),
        sa.Column("speed_kmh", sa.Float(), nullable=True),
        sa.Column("rules", sa.Text(), nullable=False),
        sa.Column("free", sa.Text(), nullable=True),
        sa.Column("take_off", sa.Text(), nullable=True),
        sa.Column("landing", sa.Text(), nullable=True),
        sa.Column("tags", sa.Text(), nullable=False),
        sa.Column("words", ORDERED_TEXT, nullable=False),
        sa.Column("fingerprint", ORDERED_TEXT, nullable=False),
        sa.Column("centres_m", sa.Float(), nullable=False),
        sa.Column("task_m", sa.Float(), nullable=False),
        sa.Column("minimum_m", sa.Float(), nullable=True),
        sa.Column("maximum_m", sa.Float(), nullable=True),
        sa.Column("extremes", sa.Text(), nullable=True),
        sa.Column("shape", sa.Text(), nullable=False),
        sa.Column("fai_triangle", sa.Boolean(), nullable=False),
        sa.Column("first_course_deg", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_task_revision_operation_id_operation")
        ),
        sa.ForeignKeyConstraint(
            ["set_id", "set_revision"],
            ["set_revision.set_id", "set_revision.number"],
            name=op.f("fk_task_revision_set_id_set_revision_set_revision"),
        ),
        sa.ForeignKeyConstraint(["task_id"], ["task.id"], name=op.f("fk_task_revision_task_id_task")),
        sa.PrimaryKeyConstraint("task_id", "number", name=op.f("pk_task_revision")),
    )
    op.create_index("ix_task_revision_fingerprint", "task_revision", ["fingerprint"])
    op.create_index(op.f("ix_task_revision_operation_id"), "task_revision", ["operation_id"])


def _waypoint_state() -> None:
    op.create_table(
        "waypoint_state",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("set_id", ID, nullable=False),
        sa.Column("identity", ORDERED_TEXT, nullable=False),
        sa.Column("valid_from", sa.Integer(), nullable=False),
        sa.Column("valid_to", sa.Integer(), nullable=True),
        sa.Column("operation_id", ID, nullable=False),
        sa.Column("code", ORDERED_TEXT, nullable=False),
        sa.Column("code_folded", ORDERED_TEXT, nullable=False),
        sa.Column("name", ORDERED_TEXT, nullable=False),
        sa.Column("name_folded", ORDERED_TEXT, nullable=False),
        sa.Column("latitude_e7", sa.Integer(), nullable=False),
        sa.Column("longitude_e7", sa.Integer(), nullable=False),
        sa.Column("elevation_dm", sa.Integer(), nullable=True),
        sa.Column("landable", sa.Text(), nullable=True),
        sa.Column("feature", sa.Text(), nullable=True),
        sa.Column("country", sa.Text(), nullable=True),
        sa.Column("radio", sa.Text(), nullable=True),
        sa.Column("runways", sa.Text(), nullable=True),
        sa.Column("description", sa.Text(), nullable=True),
        sa.Column("source", sa.Text(), nullable=True),
        sa.Column("inspected_on", sa.Text(), nullable=True),
        sa.Column("typed", sa.Text(), nullable=True),
        sa.Column("extras", sa.Text(), nullable=True),
        sa.CheckConstraint("latitude_e7 BETWEEN -900000000 AND 900000000", name=op.f("ck_waypoint_state_latitude")),
        sa.CheckConstraint(
            "longitude_e7 >= -1800000000 AND longitude_e7 < 1800000000", name=op.f("ck_waypoint_state_longitude")
        ),
        sa.CheckConstraint("valid_to IS NULL OR valid_to > valid_from", name=op.f("ck_waypoint_state_validity")),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_waypoint_state_operation_id_operation")
        ),
        sa.ForeignKeyConstraint(
            ["set_id", "valid_from"],
            ["set_revision.set_id", "set_revision.number"],
            name=op.f("fk_waypoint_state_set_id_valid_from_set_revision"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_waypoint_state")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_waypoint_state_code_folded", "waypoint_state", ["code_folded"])
    op.create_index("ix_waypoint_state_position", "waypoint_state", ["latitude_e7", "longitude_e7"])
    op.create_index("ix_waypoint_state_valid_from", "waypoint_state", ["set_id", "valid_from"])
    op.create_index(
        "ix_waypoint_state_valid_to",
        "waypoint_state",
        ["set_id", "valid_to"],
        sqlite_where=sa.text("valid_to IS NOT NULL"),
        postgresql_where=sa.text("valid_to IS NOT NULL"),
    )
    op.create_index("uq_waypoint_state_identity", "waypoint_state", ["identity", "set_id", "valid_from"], unique=True)
    op.create_index(
        "uq_waypoint_state_open_code",
        "waypoint_state",
        ["set_id", "code"],
        unique=True,
        sqlite_where=sa.text("valid_to IS NULL"),
        postgresql_where=sa.text("valid_to IS NULL"),
    )


def _contest_class() -> None:
    op.create_table(
        "contest_class",
        sa.Column("contest_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("name", ORDERED_TEXT, nullable=False),
        sa.Column("slowest_kmh", sa.Float(), nullable=True),
        sa.Column("fastest_kmh", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(
            ["contest_id", "number"],
            ["contest_revision.contest_id", "contest_revision.number"],
            name=op.f("fk_contest_class_contest_id_number_contest_revision"),
        ),
        sa.PrimaryKeyConstraint("contest_id", "number", "name", name=op.f("pk_contest_class")),
    )


def _contest_day() -> None:
    op.create_table(
        "contest_day",
        sa.Column("contest_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("day", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("date", sa.Text(), nullable=True),
        sa.Column("start_opens", sa.Text(), nullable=True),
        sa.Column("wind_from_deg", sa.Float(), nullable=True),
        sa.Column("wind_speed_kmh", sa.Float(), nullable=True),
        sa.Column("speed_kmh", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(
            ["contest_id", "number"],
            ["contest_revision.contest_id", "contest_revision.number"],
            name=op.f("fk_contest_day_contest_id_number_contest_revision"),
        ),
        sa.PrimaryKeyConstraint("contest_id", "number", "day", name=op.f("pk_contest_day")),
    )


def _contest_zone() -> None:
    op.create_table(
        "contest_zone",
        sa.Column("contest_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["contest_id", "number"],
            ["contest_revision.contest_id", "contest_revision.number"],
            name=op.f("fk_contest_zone_contest_id_number_contest_revision"),
        ),
        sa.PrimaryKeyConstraint("contest_id", "number", "role", name=op.f("pk_contest_zone")),
    )


def _task_point() -> None:
    op.create_table(
        "task_point",
        sa.Column("task_id", ID, nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("identity", ORDERED_TEXT, nullable=True),
        sa.Column("code", ORDERED_TEXT, nullable=False),
        sa.Column("name", ORDERED_TEXT, nullable=False),
        sa.Column("latitude_e7", sa.Integer(), nullable=False),
        sa.Column("longitude_e7", sa.Integer(), nullable=False),
        sa.Column("elevation_dm", sa.Integer(), nullable=True),
        sa.Column("zone_text", sa.Text(), nullable=False),
        sa.Column("zone_resolved", sa.Text(), nullable=False),
        sa.Column("zone_from", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["task_id", "revision"],
            ["task_revision.task_id", "task_revision.number"],
            name=op.f("fk_task_point_task_id_revision_task_revision"),
        ),
        sa.PrimaryKeyConstraint("task_id", "revision", "number", name=op.f("pk_task_point")),
    )
    op.create_index("ix_task_point_code", "task_point", ["code"])
    op.create_index("ix_task_point_position", "task_point", ["latitude_e7", "longitude_e7"])
    op.create_index("ix_task_point_identity", "task_point", ["identity"])


def _waypoint_word() -> None:
    op.create_table(
        "waypoint_word",
        sa.Column("word", ORDERED_TEXT, nullable=False),
        sa.Column("state_id", ID, nullable=False),
        sa.PrimaryKeyConstraint("word", "state_id", name=op.f("pk_waypoint_word")),
        sqlite_with_rowid=False,
    )
