"""Tables of what readers said through the links in their mails, and the key of those links.

Like the tables of rounds they name their garden by id alone: what a reader said must
outlive the garden's being taken out and imported again.
"""

from __future__ import annotations

import sqlalchemy as sa

from mebuki.storage.column_types import Json, Moment, Words
from mebuki.storage.columns import maybe, needed, table

consents = table(
    "consents",
    needed("garden", Words, key=True),
    needed("address", Words, key=True),
    needed("asks", sa.Integer),
    maybe("asked_at", Moment),
    maybe("confirmed_at", Moment),
    maybe("left_at", Moment),
    needed("left_kinds", Json),
)
"""Whether an address (in lower case) wants mails of a garden, and of which kinds not."""

acknowledgements = table(
    "acknowledgements",
    needed("garden", Words, key=True),
    needed("notice", Words, key=True),
    needed("address", Words, key=True),
    needed("name", Words),
    needed("at", Moment),
)
"""Who said first when that a notice was seen."""

keys = table(
    "keys",
    needed("name", Words, key=True),
    needed("secret", Words),
    needed("made_at", Moment),
)
"""Secrets that the service made for itself."""
