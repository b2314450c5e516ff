"""On which line of a TOML file each key stands."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Mapping

Key = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BARE_VALUE = re.compile(r"[^,\]}\n#]*")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}(?!")' r"|'''.*?'{3,5}(?!')" r'|"(?:\\.|[^"\\\n])*"' r"|'[^'\n]*'",
    re.DOTALL,
)


def key_lines(text: str) -> Mapping[Key, int]:
    """Return the line of every key, table and list item of a valid TOML text.

    Parameters
    ----------
    text
        TOML that ``tomllib`` has read; for other text the result is unspecified.

    Returns
    -------
    Mapping
        Lines from 1 by path, list items by their index from 0:
        ``("trees", 3, "pot", "length_cm")``.
    """
    return _Scanner(text).document()


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[Key, int] = {}
        self.counts: dict[Key, int] = {}
        self.breaks = [match.start() for match in re.finditer("\n", text)]

    def document(self) -> Mapping[Key, int]:
        table: Key = ()
        self.skip(_BLANK)
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self.header()
            else:
                self.pair(table)
            self.skip(_BLANK)
        return self.found

    def skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None or not match[0]:
            return ""
        self.at = match.end()
        return match[0]

    def here(self, key: Key) -> None:
        self.found.setdefault(key, bisect_right(self.breaks, self.at) + 1)

    def header(self) -> Key:
        double = self.text.startswith("[[", self.at)
        start = self.at
        self.at += 2 if double else 1
        *parents, last = self.dotted()
        end, self.at = self.text.find("\n", self.at), start
        key: Key = ()
        for name in parents:
            self.here((*key, name))
            key = self.newest((*key, name))
        key = (*key, last)
        self.here(key)
        if double:
            index = self.counts.get(key, 0)
            self.counts[key] = index + 1
            key = (*key, index)
            self.here(key)
        self.at = end if end >= 0 else len(self.text)
        return key

    def newest(self, key: Key) -> Key:
        return (*key, self.counts[key] - 1) if key in self.counts else key

    def dotted(self) -> list[str]:
        names = []
        while True:
            self.skip(_SPACE)
            quoted = self.skip(_STRING)
            names.append(quoted[1:-1] if quoted else self.skip(_BARE_KEY))
            self.skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return names
            self.at += 1

    def pair(self, table: Key) -> None:
        start = self.at
        names = self.dotted()
        end, self.at = self.at, start
        key = table
        for name in names:
            key = (*key, name)
            self.here(key)
        self.at = end + 1
        self.skip(_SPACE)
        self.value(key)

    def value(self, key: Key) -> None:
        sign = self.text[self.at : self.at + 1]
        if sign == "[":
            self.items(key, "]")
        elif sign == "{":
            self.items(key, "}")
        elif not self.skip(_STRING):
            self.skip(_BARE_VALUE)

    def items(self, key: Key, closing: str) -> None:
        self.at += 1
        index = 0
        while True:
            self.skip(_BLANK)
            sign = self.text[self.at : self.at + 1]
            if sign in (closing, ""):
                self.at += 1
                return
            if sign == ",":
                self.at += 1
            elif closing == "}":
                self.pair(key)
            else:
                item = (*key, index)
                self.here(item)
                self.value(item)
                index += 1
