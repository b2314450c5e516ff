"""What was published, kept as one readable JSON file for each garden."""

from __future__ import annotations

import json
import re
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter, ValidationError

from mebuki.agenda.entry import Published
from mebuki.errors import InputError
from mebuki.files import write_whole

SCHEMA: Final = 1
"""Version of the file's shape; a greater one was written by a newer Mebuki."""

_GARDEN: Final = re.compile(r"[a-z0-9][a-z0-9-]*")


class AgendaFile:
    """Keeps the state of gardens in a folder.

    Entries are kept without the advice behind them: that is found anew in
    every round and is no part of what a reader was shown.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def path(self, garden: str) -> Path:
        """Return the file of a garden; `InputError` if its id is no id."""
        if not _GARDEN.fullmatch(garden):
            msg = f"{garden!r} is not a garden id: lower-case letters, digits and hyphens"
            raise InputError(msg)
        return self._folder / f"agenda-{garden}.json"

    def load(self, garden: str) -> Published:
        """Return what was kept, or nothing where no round has run.

        Raises
        ------
        InputError
            If the file is broken, of another garden, or of a newer Mebuki.
        """
        path = self.path(garden)
        try:
            text = path.read_text("utf-8")
        except FileNotFoundError:
            return Published.nothing()
        except (OSError, UnicodeDecodeError) as error:
            raise _unusable(path, "it cannot be read") from error
        return _published(path, garden, text)

    def save(self, garden: str, published: Published) -> None:
        """Keep the state, whole or not at all; it has reached the disk on return.

        Raises
        ------
        mebuki.errors.FaultError
            If the folder cannot be written.
        """
        kept = _shape().dump_python(
            published, mode="json", exclude={"entries": {"__all__": {"advice"}}}
        )
        content = {"schema": SCHEMA, "garden": garden, "published": kept}
        text = json.dumps(content, indent=1, sort_keys=True, ensure_ascii=True)
        write_whole(self.path(garden), text.encode("ascii") + b"\n")


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


def _published(path: Path, garden: str, text: str) -> Published:
    try:
        content: Any = json.loads(text)
        schema = content["schema"]
        if isinstance(schema, int) and schema > SCHEMA:
            raise _unusable(path, f"it was written by a newer Mebuki (file version {schema})")
        if schema != SCHEMA or content["garden"] != garden:
            raise _unusable(path, f"it is not the state of the garden {garden!r}")
        return _shape().validate_python(content["published"])
    except (ValueError, KeyError, TypeError, ValidationError) as error:
        raise _unusable(path, "its content is broken") from error


def _unusable(path: Path, reason: str) -> InputError:
    return InputError(
        f"{path} holds what was published before and cannot be used: {reason}. "
        "Restore it from a backup, or move it away to begin anew"
    )
