"""One readable JSON file for each garden of a folder: read with care, written whole."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import ValidationError

from mebuki.errors import InputError
from mebuki.files import write_whole

Kept = TypeVar("Kept")

SCHEMA: Final = 1
"""Version of the files' shape; a greater one was written by a newer Mebuki."""

_GARDEN: Final = re.compile(r"[a-z0-9][a-z0-9-]*")


@dataclass(frozen=True, slots=True)
class StateFile:
    """The files of one kind.

    Parameters
    ----------
    kind
        What names begin with, and the key of the content.
    holds, anew
        What is in it, and why it might be moved away, for messages.
    """

    folder: Path
    prefix: str
    kind: str
    holds: str
    anew: str

    def path(self, garden: str) -> Path:
        """Return the file of a garden; `InputError` if its id is no id."""
        if not _GARDEN.fullmatch(garden):
            msg = f"{garden!r} is not a garden id: lower-case letters, digits and hyphens"
            raise InputError(msg)
        return self.folder / f"{self.prefix}-{garden}.json"

    def write(self, garden: str, value: object) -> None:
        """Replace what is kept, whole or not at all.

        Raises
        ------
        mebuki.errors.FaultError
            If the folder cannot be written.
        """
        content = {"schema": SCHEMA, "garden": garden, self.kind: value}
        text = json.dumps(content, indent=1, sort_keys=True, ensure_ascii=True)
        write_whole(self.path(garden), text.encode("ascii") + b"\n")

    def read(self, garden: str, take: Callable[[Any], Kept]) -> Kept | None:
        """Return what is kept, as ``take`` understands it; None where nothing is.

        Raises
        ------
        InputError
            If the file is broken, of another garden, or of a newer Mebuki.
        """
        path = self.path(garden)
        try:
            text = path.read_text("utf-8")
        except FileNotFoundError:
            return None
        except (OSError, UnicodeDecodeError) as error:
            raise self._unusable(path, "it cannot be read") from error
        try:
            content: Any = json.loads(text)
            schema = content["schema"]
            if isinstance(schema, int) and schema > SCHEMA:
                reason = f"it was written by a newer Mebuki (file version {schema})"
                raise self._unusable(path, reason)
            if schema != SCHEMA or content["garden"] != garden:
                raise self._unusable(path, f"it is not that of the garden {garden!r}")
            return take(content[self.kind])
        except (ValueError, KeyError, TypeError, ValidationError) as error:
            raise self._unusable(path, "its content is broken") from error

    def _unusable(self, path: Path, reason: str) -> InputError:
        return InputError(
            f"{path} holds {self.holds} and cannot be used: {reason}. "
            f"Restore it from a backup, or move it away to {self.anew}"
        )
