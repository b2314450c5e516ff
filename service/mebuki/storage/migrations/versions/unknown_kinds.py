"""Records of a kind that nobody knows are marked by a column and no longer by their note."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from mebuki.storage.column_types import Words

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

MARK = "unknown kind of record: "
"""How the note of such a record began."""

_RECORDS = sa.table(
    "records", sa.column("id"), sa.column("note"), sa.column("kind"), sa.column("unknown_kind")
)


def upgrade() -> None:
    """Make the step."""
    op.add_column("records", sa.Column("unknown_kind", Words(), nullable=True))
    connection = op.get_bind()
    marked = sa.select(_RECORDS.c.id, _RECORDS.c.note).where(
        _RECORDS.c.kind == "note", _RECORDS.c.note.startswith(MARK, autoescape=True)
    )
    for number, told in connection.execute(marked).all():
        kind, _, note = told.removeprefix(MARK).partition(": ")
        connection.execute(
            sa.update(_RECORDS).where(_RECORDS.c.id == number).values(unknown_kind=kind, note=note)
        )
