"""What readers want to be told, what they said through links, and the key of those links."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from mebuki.storage.column_types import Flag, Json, Moment, Words

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the step."""
    for name, kind in (
        ("kinds", Json()), ("trees", Json()), ("prepare_days", sa.Integer()),
        ("quiet_from", sa.Integer()), ("quiet_until", sa.Integer()), ("quiet_broken", Flag()),
        ("time_zone", Words()),
    ):  # fmt: skip
        op.add_column("subscribers", sa.Column(name, kind, nullable=True))
    op.create_table(
        "consents",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("address", Words(), nullable=False),
        sa.Column("asks", sa.Integer(), nullable=False),
        sa.Column("asked_at", Moment(), nullable=True),
        sa.Column("confirmed_at", Moment(), nullable=True),
        sa.Column("left_at", Moment(), nullable=True),
        sa.Column("left_kinds", Json(), nullable=False),
        sa.PrimaryKeyConstraint("garden", "address", name=op.f("pk_consents")),
        sqlite_strict=True,
    )
    op.create_table(
        "acknowledgements",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("notice", Words(), nullable=False),
        sa.Column("address", Words(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.PrimaryKeyConstraint("garden", "notice", "address", name=op.f("pk_acknowledgements")),
        sqlite_strict=True,
    )
    op.create_table(
        "keys",
        sa.Column("name", Words(), nullable=False),
        sa.Column("secret", Words(), nullable=False),
        sa.Column("made_at", Moment(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_keys")),
        sqlite_strict=True,
    )
