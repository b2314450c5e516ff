"""The time constant of a pot's root ball, where a probe has told it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from mebuki.storage.column_types import Number

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the step."""
    with op.batch_alter_table("pots") as pots:
        pots.add_column(sa.Column("time_constant_hours", Number(), nullable=True))
