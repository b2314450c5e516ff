"""Files are written whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from mebuki.errors import FaultError
from mebuki.files import write_whole


def test_a_write_that_fails_leaves_the_old_bytes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the disk refuses half-way, the old file stands and no part is left."""
    path = tmp_path / "file"
    write_whole(path, b"old")

    def refuse(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", refuse)
    with pytest.raises(FaultError, match="No space left"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]
