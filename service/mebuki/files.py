"""Files written whole or not at all."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from mebuki.errors import FaultError


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that a reader, or a power cut, finds the old bytes or the new ones.

    The bytes go to a file beside it, reach the disk, and take the name in one
    step. Folders that are missing are made.

    Raises
    ------
    FaultError
        If the folder or the disk refuses.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        take_name(part, path)
    except OSError as error:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        msg = f"{path} could not be written: {error.strerror or error}"
        raise FaultError(msg) from error


def take_name(part: Path, path: Path) -> None:
    """Give a finished file its name in one step, and wait until the name is on the disk.

    Raises
    ------
    OSError
        If the system refuses.
    """
    part.replace(path)
    _settle(path.parent)


def _settle(folder: Path) -> None:
    """Make a rename durable where the system can sync a folder."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
