"""Trees that left, what instruments saw, what was foreseen and advised."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from mebuki.storage.column_types import Day, Flag, Json, Moment, Number, Words

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the step."""
    _trees_that_left()
    _observations()
    _foreseen()


def _trees_that_left() -> None:
    with op.batch_alter_table("places") as places:
        places.add_column(sa.Column("gone_at", Moment(), nullable=True))
    with op.batch_alter_table("trees") as trees:
        trees.add_column(sa.Column("gone_at", Moment(), nullable=True))
        trees.drop_constraint("uq_trees_garden_id_name", type_="unique")
    op.create_index(
        "uq_trees_present_name",
        "trees",
        ["garden_id", "name"],
        unique=True,
        sqlite_where=sa.text("gone_at IS NULL"),
        postgresql_where=sa.text("gone_at IS NULL"),
    )


def _observations() -> None:
    op.create_table(
        "observations",
        sa.Column("id", NUMBER, autoincrement=True, nullable=False),
        sa.Column("garden_id", Words(), nullable=False),
        sa.Column("place_id", Words(), nullable=True),
        sa.Column("tree_id", Words(), nullable=True),
        sa.Column("quantity", Words(), nullable=False),
        sa.Column("value", Number(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("source", Words(), nullable=False),
        sa.Column("recorded_at", Moment(), nullable=False),
        sa.Column("corrects", NUMBER, nullable=True),
        sa.Column("withdrawn", Flag(), nullable=False),
        sa.ForeignKeyConstraint(
            ["corrects"], ["observations.id"], name=op.f("fk_observations_corrects")
        ),
        sa.ForeignKeyConstraint(
            ["garden_id"],
            ["gardens.id"],
            name=op.f("fk_observations_garden_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_observations")),
        sa.UniqueConstraint("corrects", name=op.f("uq_observations_corrects")),
        sqlite_strict=True,
    )
    op.create_index(
        "ix_observations_time", "observations", ["garden_id", "quantity", "at"], unique=False
    )
    op.create_table(
        "snapshots",
        sa.Column("id", NUMBER, autoincrement=True, nullable=False),
        sa.Column("cell", Words(), nullable=False),
        sa.Column("provider", Words(), nullable=False),
        sa.Column("what", Words(), nullable=False),
        sa.Column("run_at", Moment(), nullable=True),
        sa.Column("fetched_at", Moment(), nullable=False),
        sa.Column("first_at", Moment(), nullable=False),
        sa.Column("last_at", Moment(), nullable=False),
        sa.Column("credit", Words(), nullable=False),
        sa.Column("digest", Words(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_snapshots")),
        sa.UniqueConstraint(
            "cell",
            "provider",
            "what",
            "fetched_at",
            name=op.f("uq_snapshots_cell_provider_what_fetched_at"),
        ),
        sqlite_strict=True,
    )


def _foreseen() -> None:
    op.create_table(
        "predictions",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("tree", Words(), nullable=False),
        sa.Column("made_on", Day(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("parameters", Words(), nullable=False),
        sa.Column("content", Json(), nullable=False),
        sa.PrimaryKeyConstraint("garden", "tree", "made_on", name=op.f("pk_predictions")),
        sqlite_strict=True,
    )
    op.create_table(
        "advice",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("tree", Words(), nullable=False),
        sa.Column("kind", Words(), nullable=False),
        sa.Column("action", Words(), nullable=False),
        sa.Column("cycle", Words(), nullable=False),
        sa.Column("first_at", Moment(), nullable=False),
        sa.Column("last_at", Moment(), nullable=False),
        sa.Column("content", Json(), nullable=False),
        sa.PrimaryKeyConstraint(
            "garden", "tree", "kind", "action", "cycle", name=op.f("pk_advice")
        ),
        sqlite_strict=True,
    )
