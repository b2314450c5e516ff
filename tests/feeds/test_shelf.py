"""The shelf: a feed is replaced whole."""

from __future__ import annotations

from pathlib import Path

import pytest

from mebuki.errors import FaultError
from mebuki.feeds.shelf import FileShelf


def test_a_feed_is_replaced_and_nothing_else_is_left(tmp_path: Path) -> None:
    """The second feed takes the place of the first; no part file stays behind."""
    shelf = FileShelf(tmp_path / "out")
    shelf.put("home", b"one")
    shelf.put("home", b"two")
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["mebuki.ics"]
    assert (tmp_path / "out" / "mebuki.ics").read_bytes() == b"two"


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    """A file in the way gives an error that names the feed."""
    (tmp_path / "out").write_text("in the way")
    with pytest.raises(FaultError, match=r"mebuki\.ics could not be written"):
        FileShelf(tmp_path / "out").put("home", b"one")
