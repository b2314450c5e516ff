"""What was forecast of each night, to be held against what came."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from mebuki.storage.column_types import Day, Moment, Number, Words

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the step."""
    op.create_table(
        "night_forecasts",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("evening", Day(), nullable=False),
        sa.Column("lead_days", sa.Integer(), nullable=False),
        sa.Column("minimum", Number(), nullable=False),
        sa.Column("made_at", Moment(), nullable=False),
        sa.PrimaryKeyConstraint("garden", "evening", "lead_days", name=op.f("pk_night_forecasts")),
        sqlite_strict=True,
    )
