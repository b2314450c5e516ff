"""Tables of what keepers keep, bound together by foreign keys.

Nothing a keeper wrote is ever deleted but with the whole garden: trees and
places that left have a moment in ``gone_at``, records and observations are
corrected by further rows, pots that were replaced stay under their number.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from mebuki.storage.column_types import Day, Flag, Json, Moment, Number, Words
from mebuki.storage.columns import maybe, needed, number_key, reference, table


def _of_tree() -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        ["garden_id", "tree_id"], ["trees.garden_id", "trees.id"], ondelete="CASCADE"
    )


def _garden_key(key: bool = True) -> sa.Column[Any]:
    owner = sa.ForeignKey("gardens.id", ondelete="CASCADE")
    return needed("garden_id", Words, owner, key=key)


gardens = table(
    "gardens",
    needed("id", Words, key=True),
    needed("name", Words),
    needed("invented", Flag),
    needed("site_name", Words),
    needed("latitude", Number),
    needed("longitude", Number),
    needed("elevation", Number),
    needed("time_zone", Words),
    needed("changed_at", Moment),
)

places = table(
    "places",
    _garden_key(),
    needed("id", Words, key=True),
    needed("position", sa.Integer),
    needed("name", Words),
    needed("kind", Words),
    needed("sun_share", Number),
    needed("sky_share", Number),
    needed("wind_share", Number),
    needed("rain_share", Number),
    needed("temperature_offset", Number),
    maybe("minimum_held", Number),
    needed("lag_hours", Number),
    needed("pot_on_ground", Flag),
    needed("insulation", Number),
    maybe("gone_at", Moment),
)

trees = table(
    "trees",
    _garden_key(),
    needed("id", Words, key=True),
    needed("position", sa.Integer),
    needed("name", Words),
    needed("taxon", Words),
    needed("cultivar", Words),
    needed("place_id", Words),
    needed("substrate", Words),
    needed("canopy_cm", Number),
    needed("vigour", Words),
    needed("value", Words),
    needed("development", Words),
    maybe("born", sa.Integer),
    needed("note", Words),
    maybe("gone_at", Moment),
    sa.ForeignKeyConstraint(["garden_id", "place_id"], ["places.garden_id", "places.id"]),
    sa.CheckConstraint("canopy_cm > 0", name="canopy"),
)
sa.Index(
    "uq_trees_present_name", trees.c.garden_id, trees.c.name, unique=True,
    sqlite_where=trees.c.gone_at.is_(None), postgresql_where=trees.c.gone_at.is_(None),
)  # fmt: skip

pots = table(
    "pots",
    needed("garden_id", Words, key=True),
    needed("tree_id", Words, key=True),
    needed("number", sa.Integer, key=True),
    needed("shape", Words),
    needed("length_cm", Number),
    needed("width_cm", Number),
    needed("height_cm", Number),
    needed("wall", Words),
    needed("since", Moment),
    maybe("time_constant_hours", Number),
    _of_tree(),
)

records = table(
    "records",
    number_key(),
    needed("garden_id", Words),
    needed("tree_id", Words),
    needed("position", sa.Integer),
    needed("day", Day),
    needed("kind", Words),
    needed("note", Words),
    maybe("amount", Number),
    maybe("place", Words),
    needed("recorded_at", Moment),
    sa.Column("corrects", reference(), sa.ForeignKey("records.id"), nullable=True, unique=True),
    needed("withdrawn", Flag),
    maybe("unknown_kind", Words),
    _of_tree(),
)
sa.Index("ix_records_tree", records.c.garden_id, records.c.tree_id, records.c.position)

observations = table(
    "observations",
    number_key(),
    _garden_key(key=False),
    maybe("place_id", Words),
    maybe("tree_id", Words),
    needed("quantity", Words),
    needed("value", Number),
    needed("at", Moment),
    needed("source", Words),
    needed("recorded_at", Moment),
    sa.Column(
        "corrects", reference(), sa.ForeignKey("observations.id"), nullable=True, unique=True
    ),
    needed("withdrawn", Flag),
)
sa.Index("ix_observations_time", observations.c.garden_id, observations.c.quantity,
         observations.c.at)  # fmt: skip

subscribers = table(
    "subscribers",
    _garden_key(),
    needed("position", sa.Integer, key=True),
    needed("name", Words),
    needed("email", Words),
    needed("notice_level", Words),
    needed("digest_hour", sa.Integer),
    needed("units", Words),
    needed("language", Words),
    maybe("kinds", Json),
    maybe("trees", Json),
    maybe("prepare_days", sa.Integer),
    maybe("quiet_from", sa.Integer),
    maybe("quiet_until", sa.Integer),
    maybe("quiet_broken", Flag),
    maybe("time_zone", Words),
    sa.CheckConstraint("digest_hour BETWEEN 0 AND 23", name="digest_hour"),
)
