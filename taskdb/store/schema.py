"""The tables. Definitions only: who writes them stands in the modules by noun, how they came about in `migrations/`.

Positions are whole multiples of 1e-7 degree and elevations of 0.1 m, so equal values are equal on both engines.
Times are UTC text to the second (`2027-05-14T08:30:00Z`), dates ISO text, small structures canonical JSON text.
Columns whose order a result depends on collate by code point (COLLATE "C" on PostgreSQL; SQLite does so anyway).
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Connection,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    event,
    text,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

# Code-point order on both engines; SQLite's default (BINARY) is code-point order already.
OrderedText = Text().with_variant(Text(collation="C"), "postgresql")
Id = BigInteger().with_variant(Integer, "sqlite")


def _only_where(condition: str) -> dict[str, Any]:
    """Return the arguments of a partial index.

    PostgreSQL's condition waits in `info` until the table is made there: given here, SQLAlchemy would load every
    PostgreSQL driver's dialect to look at the argument's name, a tenth of a small command's whole time.
    """
    return {"sqlite_where": text(condition), "info": {"where": condition}}


@event.listens_for(metadata, "before_create")
def _give_postgresql_its_conditions(target: MetaData, connection: Connection, **_: object) -> None:
    if connection.dialect.name == "postgresql":
        for table in target.tables.values():
            for index in table.indexes:
                if "where" in index.info:
                    index.dialect_options["postgresql"]["where"] = text(index.info["where"])


operation = Table(
    "operation",
    metadata,
    Column("id", Id, primary_key=True, autoincrement=True),
    Column("at", Text, nullable=False),
    Column("author", Text, nullable=False),
    Column("command", Text, nullable=False),
    Column("note", Text),
    Column("undoes", Id, ForeignKey("operation.id")),
    Column("checksum", Text),
    sqlite_autoincrement=True,
)
"""Every write is one row; every written row elsewhere carries its id. Numbers are never used twice."""

waypoint_set = Table(
    "waypoint_set",
    metadata,
    Column("id", Id, primary_key=True, autoincrement=True),
    Column("name", OrderedText, nullable=False, unique=True),
    Column("newest", Integer, nullable=False),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False),
    Column("checksum", Text),
    sqlite_autoincrement=True,
)

set_revision = Table(
    "set_revision",
    metadata,
    Column("set_id", Id, ForeignKey("waypoint_set.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False, index=True),
    Column("count", Integer, nullable=False),
    Column("added", Integer, nullable=False),
    Column("changed", Integer, nullable=False),
    Column("retired", Integer, nullable=False),
    Column("checksum", Text),
    CheckConstraint("number >= 1", name="number"),
)

set_label = Table(
    "set_label",
    metadata,
    Column("id", Id, primary_key=True, autoincrement=True),
    Column("set_id", Id, nullable=False),
    Column("number", Integer, nullable=False),
    Column("label", Text),
    Column("valid_from", Text),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False, index=True),
    Column("checksum", Text),
    ForeignKeyConstraint(["set_id", "number"], ["set_revision.set_id", "set_revision.number"]),
    Index("ix_set_label_set_id_number", "set_id", "number"),
    sqlite_autoincrement=True,
)
"""Labels given to revisions; the newest row of a revision counts, an empty label takes it away."""

waypoint_state = Table(
    "waypoint_state",
    metadata,
    Column("id", Id, primary_key=True, autoincrement=True),
    Column("set_id", Id, nullable=False),
    Column("identity", OrderedText, nullable=False),
    Column("valid_from", Integer, nullable=False),
    Column("valid_to", Integer),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False),
    Column("code", OrderedText, nullable=False),
    Column("code_folded", OrderedText, nullable=False),
    Column("name", OrderedText, nullable=False),
    Column("name_folded", OrderedText, nullable=False),
    Column("latitude_e7", Integer, nullable=False),
    Column("longitude_e7", Integer, nullable=False),
    Column("elevation_dm", Integer),
    Column("landable", Text),
    Column("feature", Text),
    Column("country", Text),
    Column("radio", Text),
    Column("runways", Text),
    Column("description", Text),
    Column("source", Text),
    Column("inspected_on", Text),
    Column("typed", Text),
    Column("extras", Text),
    ForeignKeyConstraint(["set_id", "valid_from"], ["set_revision.set_id", "set_revision.number"]),
    CheckConstraint("valid_to IS NULL OR valid_to > valid_from", name="validity"),
    CheckConstraint("latitude_e7 BETWEEN -900000000 AND 900000000", name="latitude"),
    CheckConstraint("longitude_e7 >= -1800000000 AND longitude_e7 < 1800000000", name="longitude"),
    Index(
        "uq_waypoint_state_open_code",
        "set_id",
        "code",
        unique=True,
        **_only_where("valid_to IS NULL"),
    ),
    Index("uq_waypoint_state_identity", "identity", "set_id", "valid_from", unique=True),
    Index("ix_waypoint_state_valid_from", "set_id", "valid_from"),
    Index(
        "ix_waypoint_state_valid_to",
        "set_id",
        "valid_to",
        **_only_where("valid_to IS NOT NULL"),
    ),
    Index("ix_waypoint_state_position", "latitude_e7", "longitude_e7"),
    Index("ix_waypoint_state_code_folded", "code_folded"),
    sqlite_autoincrement=True,
)
"""A waypoint's state from revision `valid_from` until before `valid_to` (open: still standing). Never altered except
for closing its end; codes are unique among the open rows of a set."""

waypoint_word = Table(
    "waypoint_word",
    metadata,
    Column("word", OrderedText, primary_key=True),
    Column("state_id", Id, primary_key=True, autoincrement=False),
    sqlite_with_rowid=False,
)
"""The folded words of the names of open states: one search on both engines. Derived, and remade at will; so no key
holds it to the states (a million look-ups in a large import), `store verify` does."""

waypoint_successor = Table(
    "waypoint_successor",
    metadata,
    Column("id", Id, primary_key=True, autoincrement=True),
    Column("set_id", Id, ForeignKey("waypoint_set.id"), nullable=False),
    Column("dropped", OrderedText, nullable=False),
    Column("kept", OrderedText, nullable=False),
    Column("from_revision", Integer, nullable=False),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False, index=True),
    Column("checksum", Text),
    Index("ix_waypoint_successor_set_id_dropped", "set_id", "dropped"),
    sqlite_autoincrement=True,
)
"""Identities dropped when duplicates were merged, each pointing to the one that was kept."""

airspace = Table(
    "airspace",
    metadata,
    Column("id", Id, primary_key=True, autoincrement=True),
    Column("name", OrderedText, nullable=False, unique=True),
    Column("newest", Integer, nullable=False),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False),
    sqlite_autoincrement=True,
)

airspace_revision = Table(
    "airspace_revision",
    metadata,
    Column("airspace_id", Id, ForeignKey("airspace.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False, index=True),
    Column("name", OrderedText, nullable=False),
    Column("added", Integer, nullable=False),
    Column("changed", Integer, nullable=False),
    Column("retired", Integer, nullable=False),
    Column("source", OrderedText),
    Column("checksum", Text),
    CheckConstraint("number >= 1", name="number"),
)
"""`source`: the file from which the revision came, None where it was made by hand."""

airspace_volume = Table(
    "airspace_volume",
    metadata,
    Column("airspace_id", Id, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("name", OrderedText, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("floor", Text, nullable=False),
    Column("ceiling", Text, nullable=False),
    Column("times", Text),
    Column("frequency", Text),
    Column("polygons", Text, nullable=False),
    ForeignKeyConstraint(["airspace_id", "number"], ["airspace_revision.airspace_id", "airspace_revision.number"]),
)
"""Every revision holds all its volumes: limits as canonical text, polygons as JSON of 1e-7 degrees, longitude first."""

contest = Table(
    "contest",
    metadata,
    Column("id", Id, primary_key=True, autoincrement=True),
    Column("name", OrderedText, nullable=False, unique=True),
    Column("newest", Integer, nullable=False),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False),
    sqlite_autoincrement=True,
)

contest_revision = Table(
    "contest_revision",
    metadata,
    Column("contest_id", Id, ForeignKey("contest.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False, index=True),
    Column("retired", Boolean, nullable=False),
    Column("name", OrderedText, nullable=False),
    Column("set_id", Id, nullable=False),
    Column("set_revision", Integer, nullable=False),
    Column("site", Text),
    Column("from_date", Text),
    Column("to_date", Text),
    Column("timezone", Text),
    Column("rules", Text, nullable=False),
    Column("settings", Text, nullable=False),
    Column("checksum", Text),
    ForeignKeyConstraint(["set_id", "set_revision"], ["set_revision.set_id", "set_revision.number"]),
)

contest_zone = Table(
    "contest_zone",
    metadata,
    Column("contest_id", Id, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("role", Text, primary_key=True),
    Column("zone", Text, nullable=False),
    ForeignKeyConstraint(["contest_id", "number"], ["contest_revision.contest_id", "contest_revision.number"]),
)
"""Zone defaults per role, as zone text."""

contest_class = Table(
    "contest_class",
    metadata,
    Column("contest_id", Id, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("name", OrderedText, primary_key=True),
    Column("slowest_kmh", Float),
    Column("fastest_kmh", Float),
    ForeignKeyConstraint(["contest_id", "number"], ["contest_revision.contest_id", "contest_revision.number"]),
)

contest_day = Table(
    "contest_day",
    metadata,
    Column("contest_id", Id, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("day", Integer, primary_key=True, autoincrement=False),
    Column("date", Text),
    Column("start_opens", Text),
    Column("wind_from_deg", Float),
    Column("wind_speed_kmh", Float),
    Column("speed_kmh", Float),
    ForeignKeyConstraint(["contest_id", "number"], ["contest_revision.contest_id", "contest_revision.number"]),
)

contest_airspace = Table(
    "contest_airspace",
    metadata,
    Column("contest_id", Id, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("airspace_id", Id, primary_key=True),
    Column("revision", Integer, nullable=False),
    ForeignKeyConstraint(["contest_id", "number"], ["contest_revision.contest_id", "contest_revision.number"]),
    ForeignKeyConstraint(["airspace_id", "revision"], ["airspace_revision.airspace_id", "airspace_revision.number"]),
)
"""The revisions of airspace that a contest's tasks are held against."""

task = Table(
    "task",
    metadata,
    Column("id", Id, primary_key=True, autoincrement=True),
    Column("contest_id", Id, ForeignKey("contest.id")),
    Column("name", OrderedText, nullable=False),
    Column("newest", Integer, nullable=False),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False),
    Index(
        "uq_task_contest_name",
        "contest_id",
        "name",
        unique=True,
        **_only_where("contest_id IS NOT NULL"),
    ),
    Index(
        "uq_task_name_without_contest",
        "name",
        unique=True,
        **_only_where("contest_id IS NULL"),
    ),
    sqlite_autoincrement=True,
)
"""`name` is that of the newest revision. A retired task keeps its name: NAME@R stays readable."""

task_revision = Table(
    "task_revision",
    metadata,
    Column("task_id", Id, ForeignKey("task.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False, index=True),
    Column("retired", Boolean, nullable=False),
    Column("name", OrderedText, nullable=False),
    Column("set_id", Id, nullable=False),
    Column("set_revision", Integer, nullable=False),
    Column("contest_revision", Integer),
    Column("type", Text, nullable=False),
    Column("day", Integer),
    Column("class", OrderedText),
    Column("variant", OrderedText),
    Column("status", Text, nullable=False),
    Column("issued_at", Text),
    Column("time_s", Integer),
    Column("speed_kmh", Float),
    Column("rules", Text, nullable=False),
    Column("free", Text),
    Column("take_off", Text),
    Column("landing", Text),
    Column("tags", Text, nullable=False),
    Column("words", OrderedText, nullable=False),
    Column("fingerprint", OrderedText, nullable=False),
    Column("centres_m", Float, nullable=False),
    Column("task_m", Float, nullable=False),
    Column("minimum_m", Float),
    Column("maximum_m", Float),
    Column("extremes", Text),
    Column("shape", Text, nullable=False),
    Column("fai_triangle", Boolean, nullable=False),
    Column("first_course_deg", Float),
    Column("checksum", Text),
    ForeignKeyConstraint(["set_id", "set_revision"], ["set_revision.set_id", "set_revision.number"]),
    Index("ix_task_revision_fingerprint", "fingerprint"),
)
"""`words` and the columns from `fingerprint` on are computed from the others on writing, for finding; `extremes`, where
a task's shortest and longest path meet its areas, because the search for them is what takes longest in an export."""

task_point = Table(
    "task_point",
    metadata,
    Column("task_id", Id, primary_key=True),
    Column("revision", Integer, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("role", Text, nullable=False),
    Column("identity", OrderedText),
    Column("code", OrderedText, nullable=False),
    Column("name", OrderedText, nullable=False),
    Column("latitude_e7", Integer, nullable=False),
    Column("longitude_e7", Integer, nullable=False),
    Column("elevation_dm", Integer),
    Column("zone_text", Text, nullable=False),
    Column("zone_resolved", Text, nullable=False),
    Column("zone_from", Text, nullable=False),
    ForeignKeyConstraint(["task_id", "revision"], ["task_revision.task_id", "task_revision.number"]),
    Index("ix_task_point_identity", "identity"),
    Index("ix_task_point_code", "code"),
    Index("ix_task_point_position", "latitude_e7", "longitude_e7"),
)

accepted_finding = Table(
    "accepted_finding",
    metadata,
    Column("id", Id, primary_key=True, autoincrement=True),
    Column("set_id", Id, ForeignKey("waypoint_set.id"), nullable=False),
    Column("finding", Text, nullable=False),
    Column("rule", Text, nullable=False),
    Column("accepted", Boolean, nullable=False),
    Column("why", Text, nullable=False),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False, index=True),
    Column("checksum", Text),
    Index("ix_accepted_finding_set_id_finding", "set_id", "finding"),
    sqlite_autoincrement=True,
)
"""Findings accepted by a person; the newest row of a finding counts (`accepted` false takes it back)."""

flown_record = Table(
    "flown_record",
    metadata,
    Column("id", Id, primary_key=True, autoincrement=True),
    Column("task_id", Id, ForeignKey("task.id"), nullable=False),
    Column("flown_on", Text, nullable=False),
    Column("withdrawn", Boolean, nullable=False),
    Column("wind_from_deg", Float),
    Column("wind_speed_kmh", Float),
    Column("cloud_base_m", Float),
    Column("starters", Integer),
    Column("finishers", Integer),
    Column("best_kmh", Float),
    Column("median_kmh", Float),
    Column("remarks", Text),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False, index=True),
    Column("checksum", Text),
    Column("log_starters", Integer),
    Column("log_finishers", Integer),
    Column("log_best_kmh", Float),
    Column("log_median_kmh", Float),
    Column("first_start", Text),
    Column("last_start", Text),
    Column("first_finish", Text),
    Column("last_finish", Text),
    Column("ended_near", Text),
    Column("logs", Text),
    Index("ix_flown_record_task_id_flown_on", "task_id", "flown_on"),
    sqlite_autoincrement=True,
)
"""Days on which a task was flown; the newest row of a task and date counts.

The columns behind `checksum` hold what flight logs tell, and are all empty where none was read; the others what a
person wrote. Of a log its checksum is kept, and nothing that says whose it was.
"""

handout = Table(
    "handout",
    metadata,
    Column("id", Id, primary_key=True, autoincrement=True),
    Column("contest_id", Id, ForeignKey("contest.id"), nullable=False),
    Column("day", Integer),
    Column("target", Text, nullable=False),
    Column("to_whom", Text),
    Column("operation_id", Id, ForeignKey("operation.id"), nullable=False, index=True),
    Column("contest_revision", Integer),
    Column("checksum", Text),
    Index("ix_handout_contest_id_day", "contest_id", "day"),
    sqlite_autoincrement=True,
)
"""What was handed out, to whom, and by which revision of the contest; when and by whom stands in its operation."""

handout_task = Table(
    "handout_task",
    metadata,
    Column("handout_id", Id, ForeignKey("handout.id"), primary_key=True),
    Column("task_id", Id, primary_key=True),
    Column("revision", Integer, nullable=False),
    Column("fingerprint", OrderedText, nullable=False),
    Column("said", Text),
    ForeignKeyConstraint(["task_id", "revision"], ["task_revision.task_id", "task_revision.number"]),
    Index("ix_handout_task_task_id", "task_id"),
)
"""`said`: what the sheet said that no revision holds, since it was found on that day: out of date, findings, a mark."""
