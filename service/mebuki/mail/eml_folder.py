"""Messages kept as ``.eml`` files, one each, for reading in any mail program."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from pathlib import Path

from mebuki.files import write_whole
from mebuki.rounds.ports import Letter

_OWN_NAME = re.compile(r"[a-z0-9-]+\.[0-9a-f]{16}\.eml")
_READABLE = 60


class EmlOutbox:
    """One folder with a file for each message.

    Parameters
    ----------
    folder
        Made when the first message is put.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def path(self, letter: Letter) -> Path:
        """Return the file of a message: readable, and its own for each key and recipient."""
        words = re.sub(r"[^a-z0-9]+", "-", letter.key.lower()).strip("-")[:_READABLE]
        identity = hashlib.sha256(f"{letter.key}\x1f{letter.recipient}".encode()).hexdigest()
        return self._folder / f"{words or 'mail'}.{identity[:16]}.eml"

    def put(self, letters: Sequence[Letter]) -> None:
        """Keep the messages; one that is there already is left as it is.

        Raises
        ------
        mebuki.errors.FaultError
            If the folder cannot be written.
        """
        for letter in letters:
            path = self.path(letter)
            if not path.exists():
                write_whole(path, letter.content)

    def clear(self) -> None:
        """Remove the messages kept here; files with names of another kind stay."""
        for path in sorted(self._folder.glob("*.eml")):
            if _OWN_NAME.fullmatch(path.name) and path.is_file():
                path.unlink()
