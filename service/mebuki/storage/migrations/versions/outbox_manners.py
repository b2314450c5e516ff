"""Until when a letter is of use and what it is about; addresses that no longer take mail."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from mebuki.storage.column_types import Flag, Moment, Words

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the step."""
    op.add_column("outbox", sa.Column("useful_until", Moment(), nullable=True))
    op.add_column("outbox", sa.Column("garden", Words(), nullable=True))
    op.add_column("outbox", sa.Column("kind", Words(), nullable=True))
    given_up = sa.text("given_up_at IS NOT NULL")
    op.create_index(
        "ix_outbox_given_up", "outbox", ["garden", "given_up_at"],
        sqlite_where=given_up, postgresql_where=given_up,
    )  # fmt: skip
    op.create_table(
        "bounces",
        sa.Column("address", Words(), nullable=False),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.Column("days", sa.Integer(), nullable=False),
        sa.Column("first_at", Moment(), nullable=False),
        sa.Column("last_at", Moment(), nullable=False),
        sa.Column("last_reply", Words(), nullable=False),
        sa.Column("gone", Flag(), nullable=False),
        sa.PrimaryKeyConstraint("address", name=op.f("pk_bounces")),
        sqlite_strict=True,
    )
