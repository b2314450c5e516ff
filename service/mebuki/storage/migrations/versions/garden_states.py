"""How each garden stands: how far it can see, whether a cold night is ahead, what failed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from mebuki.storage.column_types import Flag, Moment, Words

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the step."""
    op.create_table(
        "garden_states",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("measured_until", Moment(), nullable=True),
        sa.Column("forecast_until", Moment(), nullable=True),
        sa.Column("blind", Flag(), nullable=False),
        sa.Column("watch", Flag(), nullable=False),
        sa.Column("fault", Words(), nullable=False),
        sa.PrimaryKeyConstraint("garden", name=op.f("pk_garden_states")),
        sqlite_strict=True,
    )
