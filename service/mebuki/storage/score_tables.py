"""Tables of how notices turned out: calls, and what the nights did.

They name their garden by id alone, like the tables of rounds.
"""

from __future__ import annotations

from mebuki.storage.column_types import Day, Flag, Moment, Number, Words
from mebuki.storage.columns import maybe, needed, table

frost_nights = table(
    "frost_nights",
    needed("garden", Words, key=True),
    needed("evening", Day, key=True),
    maybe("judged_at", Moment),
)
"""Nights that rounds watched for; without a moment, one that was not judged (yet)."""

frost_calls = table(
    "frost_calls",
    needed("garden", Words, key=True),
    needed("evening", Day, key=True),
    needed("level", Words, key=True),
    needed("tree", Words, key=True),
    needed("place", Words),
    needed("called_at", Moment),
    needed("mailed", Flag),
    maybe("told_at", Moment),
)
"""Trees that a round called in, or would have called in, the first time for each level.

``place`` is where the tree stood then. ``mailed`` and ``told_at`` are filled in when the
night is judged: whether a reader of the level had a mail about it, and when a mail server
took the first.
"""

frost_verdicts = table(
    "frost_verdicts",
    needed("garden", Words, key=True),
    needed("evening", Day, key=True),
    needed("tree", Words, key=True),
    needed("harmed", Flag),
    needed("lowest", Number),
    needed("stands", Number),
    needed("coldest_at", Moment),
)
"""What a judged night would have done to a tree left where it stood: the lowest temperature
there, and what the tree ``stands`` [°C]."""
