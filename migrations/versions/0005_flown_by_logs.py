"""What flight logs tell of a day on which a task was flown, beside what a person wrote."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for name in ("log_starters", "log_finishers"):
        op.add_column("flown_record", sa.Column(name, sa.Integer()))
    for name in ("log_best_kmh", "log_median_kmh"):
        op.add_column("flown_record", sa.Column(name, sa.Float()))
    for name in ("first_start", "last_start", "first_finish", "last_finish", "ended_near", "logs"):
        op.add_column("flown_record", sa.Column(name, sa.Text()))
