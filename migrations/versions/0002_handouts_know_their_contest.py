"""A hand-out knows the contest's revision that it was made by, and what its sheets said beyond the revisions."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("handout", sa.Column("contest_revision", sa.Integer(), nullable=True))
    op.add_column("handout_task", sa.Column("said", sa.Text(), nullable=True))
    # The contest as it stood when the hand-out was written: its newest revision of an earlier operation.
    op.execute(
        "UPDATE handout SET contest_revision = (SELECT max(r.number) FROM contest_revision r"
        " WHERE r.contest_id = handout.contest_id AND r.operation_id <= handout.operation_id)"
    )
