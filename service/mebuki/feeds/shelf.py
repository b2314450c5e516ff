"""Prepared feeds as files in a folder."""

from __future__ import annotations

from pathlib import Path

from mebuki.files import write_whole

FEED_NAME = "mebuki.ics"
"""The file name of a garden's feed."""


class FileShelf:
    """One garden's feed in one folder.

    Parameters
    ----------
    folder
        Where ``mebuki.ics`` is kept; made when the first feed is put.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def put(self, garden: str, content: bytes) -> None:
        """Replace the feed, whole or not at all; one folder holds one garden.

        Raises
        ------
        mebuki.errors.FaultError
            If the folder cannot be written.
        """
        write_whole(self._folder / FEED_NAME, content)
