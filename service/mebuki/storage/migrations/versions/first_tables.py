"""The first tables: gardens and trees, agendas, letters, feeds and rounds."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from mebuki.storage.column_types import Day, Flag, Json, Moment, Number, Words

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the step."""
    _gardens()
    _trees()
    _records()
    _agendas()
    _revisions()
    _outbox()
    _feeds()


def _gardens() -> None:
    op.create_table(
        "gardens",
        sa.Column("id", Words(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("invented", Flag(), nullable=False),
        sa.Column("site_name", Words(), nullable=False),
        sa.Column("latitude", Number(), nullable=False),
        sa.Column("longitude", Number(), nullable=False),
        sa.Column("elevation", Number(), nullable=False),
        sa.Column("time_zone", Words(), nullable=False),
        sa.Column("changed_at", Moment(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gardens")),
        sqlite_strict=True,
    )
    op.create_table(
        "places",
        sa.Column("garden_id", Words(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("kind", Words(), nullable=False),
        sa.Column("sun_share", Number(), nullable=False),
        sa.Column("sky_share", Number(), nullable=False),
        sa.Column("wind_share", Number(), nullable=False),
        sa.Column("rain_share", Number(), nullable=False),
        sa.Column("temperature_offset", Number(), nullable=False),
        sa.Column("minimum_held", Number(), nullable=True),
        sa.Column("lag_hours", Number(), nullable=False),
        sa.Column("pot_on_ground", Flag(), nullable=False),
        sa.Column("insulation", Number(), nullable=False),
        sa.ForeignKeyConstraint(
            ["garden_id"], ["gardens.id"], name=op.f("fk_places_garden_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("garden_id", "id", name=op.f("pk_places")),
        sqlite_strict=True,
    )
    op.create_table(
        "subscribers",
        sa.Column("garden_id", Words(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("email", Words(), nullable=False),
        sa.Column("notice_level", Words(), nullable=False),
        sa.Column("digest_hour", sa.Integer(), nullable=False),
        sa.Column("units", Words(), nullable=False),
        sa.Column("language", Words(), nullable=False),
        sa.CheckConstraint("digest_hour BETWEEN 0 AND 23", name=op.f("ck_subscribers_digest_hour")),
        sa.ForeignKeyConstraint(
            ["garden_id"], ["gardens.id"], name=op.f("fk_subscribers_garden_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("garden_id", "position", name=op.f("pk_subscribers")),
        sqlite_strict=True,
    )


def _trees() -> None:
    op.create_table(
        "trees",
        sa.Column("garden_id", Words(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("taxon", Words(), nullable=False),
        sa.Column("cultivar", Words(), nullable=False),
        sa.Column("place_id", Words(), nullable=False),
        sa.Column("substrate", Words(), nullable=False),
        sa.Column("canopy_cm", Number(), nullable=False),
        sa.Column("vigour", Words(), nullable=False),
        sa.Column("value", Words(), nullable=False),
        sa.Column("development", Words(), nullable=False),
        sa.Column("born", sa.Integer(), nullable=True),
        sa.Column("note", Words(), nullable=False),
        sa.CheckConstraint("canopy_cm > 0", name=op.f("ck_trees_canopy")),
        sa.ForeignKeyConstraint(
            ["garden_id", "place_id"],
            ["places.garden_id", "places.id"],
            name=op.f("fk_trees_garden_id_place_id"),
        ),
        sa.ForeignKeyConstraint(
            ["garden_id"], ["gardens.id"], name=op.f("fk_trees_garden_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("garden_id", "id", name=op.f("pk_trees")),
        sa.UniqueConstraint("garden_id", "name", name=op.f("uq_trees_garden_id_name")),
        sqlite_strict=True,
    )
    op.create_table(
        "pots",
        sa.Column("garden_id", Words(), nullable=False),
        sa.Column("tree_id", Words(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("shape", Words(), nullable=False),
        sa.Column("length_cm", Number(), nullable=False),
        sa.Column("width_cm", Number(), nullable=False),
        sa.Column("height_cm", Number(), nullable=False),
        sa.Column("wall", Words(), nullable=False),
        sa.Column("since", Moment(), nullable=False),
        sa.ForeignKeyConstraint(
            ["garden_id", "tree_id"],
            ["trees.garden_id", "trees.id"],
            name=op.f("fk_pots_garden_id_tree_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("garden_id", "tree_id", "number", name=op.f("pk_pots")),
        sqlite_strict=True,
    )


def _records() -> None:
    op.create_table(
        "records",
        sa.Column("id", NUMBER, autoincrement=True, nullable=False),
        sa.Column("garden_id", Words(), nullable=False),
        sa.Column("tree_id", Words(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("day", Day(), nullable=False),
        sa.Column("kind", Words(), nullable=False),
        sa.Column("note", Words(), nullable=False),
        sa.Column("amount", Number(), nullable=True),
        sa.Column("place", Words(), nullable=True),
        sa.Column("recorded_at", Moment(), nullable=False),
        sa.Column("corrects", NUMBER, nullable=True),
        sa.Column("withdrawn", Flag(), nullable=False),
        sa.ForeignKeyConstraint(["corrects"], ["records.id"], name=op.f("fk_records_corrects")),
        sa.ForeignKeyConstraint(
            ["garden_id", "tree_id"],
            ["trees.garden_id", "trees.id"],
            name=op.f("fk_records_garden_id_tree_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_records")),
        sa.UniqueConstraint("corrects", name=op.f("uq_records_corrects")),
        sqlite_strict=True,
    )
    op.create_index(
        "ix_records_tree", "records", ["garden_id", "tree_id", "position"], unique=False
    )


def _agendas() -> None:
    op.create_table(
        "agendas",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("at", Moment(), nullable=True),
        sa.PrimaryKeyConstraint("garden", name=op.f("pk_agendas")),
        sqlite_strict=True,
    )
    op.create_table(
        "entries",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("uid", Words(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=True),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("digest", Words(), nullable=False),
        sa.ForeignKeyConstraint(
            ["garden"], ["agendas.garden"], name=op.f("fk_entries_garden"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("garden", "uid", name=op.f("pk_entries")),
        sqlite_strict=True,
    )


def _revisions() -> None:
    op.create_table(
        "entry_revisions",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("uid", Words(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("digest", Words(), nullable=False),
        sa.Column("changed", Moment(), nullable=False),
        sa.Column("kind", Words(), nullable=False),
        sa.Column("status", Words(), nullable=False),
        sa.Column("content", Json(), nullable=False),
        sa.ForeignKeyConstraint(
            ["garden", "uid"],
            ["entries.garden", "entries.uid"],
            name=op.f("fk_entry_revisions_garden_uid"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint(
            "garden", "uid", "revision", "digest", name=op.f("pk_entry_revisions")
        ),
        sqlite_strict=True,
    )
    op.create_table(
        "notices",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("key", Words(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=True),
        sa.Column("told_at", Moment(), nullable=True),
        sa.Column("content", Json(), nullable=True),
        sa.ForeignKeyConstraint(
            ["garden"], ["agendas.garden"], name=op.f("fk_notices_garden"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("garden", "key", name=op.f("pk_notices")),
        sqlite_strict=True,
    )


def _outbox() -> None:
    op.create_table(
        "outbox",
        sa.Column("id", NUMBER, autoincrement=True, nullable=False),
        sa.Column("key", Words(), nullable=False),
        sa.Column("recipient", Words(), nullable=False),
        sa.Column("message_id", Words(), nullable=False),
        sa.Column("subject", Words(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("put_at", Moment(), nullable=False),
        sa.Column("not_before", Moment(), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("lease_until", Moment(), nullable=True),
        sa.Column("sent_at", Moment(), nullable=True),
        sa.Column("given_up_at", Moment(), nullable=True),
        sa.Column("last_error", Words(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outbox")),
        sa.UniqueConstraint("key", "recipient", name=op.f("uq_outbox_key_recipient")),
        sqlite_strict=True,
    )
    op.create_index(
        "ix_outbox_waiting",
        "outbox",
        ["not_before"],
        unique=False,
        sqlite_where=sa.text("sent_at IS NULL"),
        postgresql_where=sa.text("sent_at IS NULL"),
    )


def _feeds() -> None:
    op.create_table(
        "feeds",
        sa.Column("garden", Words(), nullable=False),
        sa.Column("variant", Words(), nullable=False),
        sa.Column("etag", Words(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("changed_at", Moment(), nullable=False),
        sa.PrimaryKeyConstraint("garden", "variant", name=op.f("pk_feeds")),
        sqlite_strict=True,
    )
    op.create_table(
        "feed_addresses",
        sa.Column("token_hash", Words(), nullable=False),
        sa.Column("garden", Words(), nullable=False),
        sa.Column("variant", Words(), nullable=False),
        sa.Column("holder", Words(), nullable=False),
        sa.Column("issued_at", Moment(), nullable=False),
        sa.Column("revoked_at", Moment(), nullable=True),
        sa.PrimaryKeyConstraint("token_hash", name=op.f("pk_feed_addresses")),
        sqlite_strict=True,
    )
    op.create_table(
        "rounds",
        sa.Column("round", Words(), nullable=False),
        sa.Column("garden", Words(), nullable=False),
        sa.Column("nominal", Moment(), nullable=False),
        sa.Column("begun_at", Moment(), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("finished_at", Moment(), nullable=True),
        sa.Column("outcome", Words(), nullable=False),
        sa.PrimaryKeyConstraint("round", "garden", "nominal", name=op.f("pk_rounds")),
        sqlite_strict=True,
    )
