"""What was published, kept as one readable JSON file for each garden."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from pydantic import TypeAdapter

from mebuki.agenda.entry import Published
from mebuki.storage.state_file import StateFile


class AgendaFile:
    """Keeps the state of gardens in a folder.

    Entries are kept without the advice behind them: that is found anew in
    every round and is no part of what a reader was shown.
    """

    def __init__(self, folder: Path) -> None:
        self._file = StateFile(
            folder, "agenda", "published", "what was published before", "begin anew"
        )

    def path(self, garden: str) -> Path:
        """Return the file of a garden; `InputError` if its id is no id."""
        return self._file.path(garden)

    def load(self, garden: str) -> Published:
        """Return what was kept, or nothing where no round has run.

        Raises
        ------
        InputError
            If the file is broken, of another garden, or of a newer Mebuki.
        """
        found = self._file.read(garden, _shape().validate_python)
        return Published.nothing() if found is None else found

    def save(self, garden: str, published: Published) -> None:
        """Keep the state, whole or not at all; it has reached the disk on return.

        Raises
        ------
        mebuki.errors.FaultError
            If the folder cannot be written.
        """
        shown = {"entries": {"__all__": {"advice"}}}
        self._file.write(garden, _shape().dump_python(published, mode="json", exclude=shown))


class NoStore:
    """Keeps the state in memory alone: a demo begins anew each time."""

    def __init__(self) -> None:
        self._gardens: dict[str, Published] = {}

    def load(self, garden: str) -> Published:
        """Return what was kept since the start of the program."""
        return self._gardens.get(garden, Published.nothing())

    def save(self, garden: str, published: Published) -> None:
        """Keep the state until the program ends."""
        self._gardens[garden] = published


@lru_cache(maxsize=1)
def _shape() -> TypeAdapter[Published]:
    return TypeAdapter(Published)
