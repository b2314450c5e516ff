"""Calls against frost, and what the nights did."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from mebuki.storage.column_types import Day, Flag, Moment, Number, Words

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the step."""
    op.create_table(
        "frost_nights",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("evening", Day(), nullable=False),
        sa.Column("judged_at", Moment(), nullable=True),
        sa.PrimaryKeyConstraint("garden", "evening", name=op.f("pk_frost_nights")),
        sqlite_strict=True,
    )
    op.create_table(
        "frost_calls",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("evening", Day(), nullable=False),
        sa.Column("level", Words(), nullable=False),
        sa.Column("tree", Words(), nullable=False),
        sa.Column("place", Words(), nullable=False),
        sa.Column("called_at", Moment(), nullable=False),
        sa.Column("mailed", Flag(), nullable=False),
        sa.Column("told_at", Moment(), nullable=True),
        sa.PrimaryKeyConstraint("garden", "evening", "level", "tree", name=op.f("pk_frost_calls")),
        sqlite_strict=True,
    )
    op.create_table(
        "frost_verdicts",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("evening", Day(), nullable=False),
        sa.Column("tree", Words(), nullable=False),
        sa.Column("harmed", Flag(), nullable=False),
        sa.Column("lowest", Number(), nullable=False),
        sa.Column("stands", Number(), nullable=False),
        sa.Column("coldest_at", Moment(), nullable=False),
        sa.PrimaryKeyConstraint("garden", "evening", "tree", name=op.f("pk_frost_verdicts")),
        sqlite_strict=True,
    )
