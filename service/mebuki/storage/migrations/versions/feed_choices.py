"""What each feed of a reader holds, and whom the weather behind a garden's feeds is owed to."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from mebuki.storage.column_types import Json, Moment, Words

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the step."""
    op.create_table(
        "feed_choices",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("variant", Words(), nullable=False),
        sa.Column("holder", Words(), nullable=False),
        sa.Column("choice", Json(), nullable=False),
        sa.Column("made_at", Moment(), nullable=False),
        sa.Column("ended_at", Moment(), nullable=True),
        sa.PrimaryKeyConstraint("garden", "variant", name=op.f("pk_feed_choices")),
        sqlite_strict=True,
    )
    op.create_table(
        "feed_credits",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("credits", Json(), nullable=False),
        sa.PrimaryKeyConstraint("garden", name=op.f("pk_feed_credits")),
        sqlite_strict=True,
    )
