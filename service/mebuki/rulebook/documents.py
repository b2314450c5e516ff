"""One TOML file, read, with the line of every key, so that a fault can be pointed at."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from mebuki.errors import Fault, FilesError
from mebuki.rulebook.lines import Key, key_lines

LONGEST_VALUE = 60
_AT_LINE = re.compile(r"^(?P<what>.*?) \(at (?:line (?P<line>\d+), column \d+|end of document)\)$")


@dataclass(frozen=True, slots=True)
class Document:
    """A file's content and where in it each key stands."""

    path: Path
    data: Mapping[str, Any]
    lines: Mapping[Key, int]

    def fault(self, key: Key, value: object, allowed: str) -> Fault:
        """Return a fault at a key; ``value`` is what was found, None where nothing was."""
        return Fault(str(self.path), self.where(key), told(value), allowed)

    def where(self, key: Key) -> str:
        """Return a key and its line as text: ``trees[3].pot.length_cm (line 120)``."""
        line = self.line(key)
        named = key_text(key)
        if line is None:
            return named
        return f"{named} (line {line})" if named else f"line {line}"

    def line(self, key: Key) -> int | None:
        """Return the line of a key, or of the nearest table round it."""
        return next(
            (self.lines[key[:end]] for end in range(len(key), 0, -1) if key[:end] in self.lines),
            None,
        )

    def in_order(self, faults: Mapping[Key, list[Fault]]) -> list[Fault]:
        """Return faults by line."""
        keys = sorted(faults, key=lambda key: self.line(key) or 0)
        return [fault for key in keys for fault in faults[key]]


def read_document(path: Path) -> Document:
    """Read a TOML file.

    Raises
    ------
    FilesError
        If the file is missing, cannot be read, is not UTF-8 or not TOML.
    """
    text = _text(path)
    try:
        return Document(path, tomllib.loads(text), key_lines(text))
    except tomllib.TOMLDecodeError as error:
        raise FilesError([_syntax_fault(path, str(error))]) from error
    except RecursionError as error:
        raise FilesError([Fault(str(path), "", "", "lists or tables nested too deep")]) from error


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        allowed = "the file must be UTF-8 text; save it anew with that encoding"
        raise FilesError([Fault(str(path), f"line {line}", "", allowed)]) from error
    except FileNotFoundError as error:
        raise FilesError([Fault(str(path), "", "", "there is no such file")]) from error
    except IsADirectoryError as error:
        allowed = "this is a folder; name a file in it"
        raise FilesError([Fault(str(path), "", "", allowed)]) from error
    except OSError as error:
        allowed = f"the file cannot be read: {error.strerror or error}"
        raise FilesError([Fault(str(path), "", "", allowed)]) from error


def _syntax_fault(path: Path, message: str) -> Fault:
    match = _AT_LINE.match(message)
    what = match["what"] if match else message
    line = f"line {match['line']}" if match and match["line"] else "end of the file"
    return Fault(str(path), line, "", f"not valid TOML: {what[:1].lower()}{what[1:]}")


def key_text(key: Key) -> str:
    """Return a key as a person writes it.

    >>> key_text(("trees", 3, "pot", "length_cm"))
    'trees[3].pot.length_cm'
    """
    parts = [f"[{part}]" if isinstance(part, int) else f".{part}" for part in key]
    return "".join(parts).removeprefix(".")


def told(value: object) -> str:
    """Return a value as it may stand in a file, shortened; empty for nothing.

    >>> told("acer"), told({"a": 1}), told([1, 2]), told(True), told(None)
    ('"acer"', '{ a = 1 }', 'a list of 2', 'true', '')
    """
    if value is None:
        return ""
    if isinstance(value, Mapping):
        return _shortened("{ " + ", ".join(f"{key} = {told(value[key])}" for key in value) + " }")
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if isinstance(value, date | datetime | time):
        return value.isoformat()
    return _shortened(json.dumps(value, ensure_ascii=False, default=str))


def _shortened(text: str) -> str:
    return text if len(text) <= LONGEST_VALUE else text[: LONGEST_VALUE - 1] + "…"
