"""All tables. A change to one needs a migration; a test compares both."""

from __future__ import annotations

from mebuki.storage import keeper_tables, reader_tables, round_tables, score_tables
from mebuki.storage.columns import metadata

__all__ = ["keeper_tables", "metadata", "reader_tables", "round_tables", "score_tables"]
