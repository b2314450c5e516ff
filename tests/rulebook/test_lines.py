"""Keys are found on the lines where they stand."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.rulebook.lines import Key, key_lines

ROOT = Path(__file__).parents[2]
SHIPPED = sorted((ROOT / "config").rglob("*.toml"))

EXAMPLE = """\
# a comment with [brackets] and key = 1
name = "a # b ] }"
note = \"\"\"
two
lines = 3\"\"\"
plain.dotted = 1

[site] # here
zone = 'C:\\x'

[[trees]]
name = "A"
records = [ # a list
  { on = 2013-03-16, kind = "repotted" },

  { on = 2013-03-17, kind = "fed" },
]
[trees.pot]
length = 3

[[trees]]
name = "B"
pot = { length = 4, wall = { colour = "dark" } }
"""


def _leaves(data: object, key: Key = ()) -> Iterator[Key]:
    if isinstance(data, dict):
        for name, value in data.items():
            yield (*key, name)
            yield from _leaves(value, (*key, name))
    elif isinstance(data, list):
        for index, value in enumerate(data):
            yield from _leaves(value, (*key, index))


def test_each_kind_of_key_is_found_on_its_line() -> None:
    """Tables, lists of tables, inline tables, strings over lines and dotted keys are told apart."""
    lines = key_lines(EXAMPLE)
    assert lines["name",] == 2
    assert lines["note",] == 3
    assert lines["plain", "dotted"] == 6
    assert lines["site",] == 8
    assert lines["site", "zone"] == 9
    assert lines["trees", 0, "records", 1, "kind"] == 16
    assert lines["trees", 0, "pot", "length"] == 19
    assert lines["trees", 1] == 21
    assert lines["trees", 1, "pot", "wall", "colour"] == 23


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_every_key_of_a_shipped_file_stands_on_the_line_found(path: Path) -> None:
    """No key of a real file is missed, and its name is on the line."""
    text = path.read_text("utf-8")
    rows = text.splitlines()
    lines = key_lines(text)
    for key in _leaves(tomllib.loads(text)):
        assert str(key[-1]) in rows[lines[key] - 1]


_NAMES = st.text("abcxyz-_09", min_size=1, max_size=6)
_SCALARS = st.one_of(
    st.integers(), st.booleans(), st.text('ab#[]{},="\\ ', max_size=8), st.just(1.5)
)
_VALUES = st.recursive(
    _SCALARS,
    lambda part: st.lists(part, max_size=3) | st.dictionaries(_NAMES, part, max_size=3),
    max_leaves=8,
)


def _written(value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_written(part)}" for key, part in value.items()) + " }"
    if isinstance(value, list):
        return "[\n" + "".join(f"  {_written(part)}, # ] one\n" for part in value) + "]"
    return json.dumps(value)


@given(st.dictionaries(_NAMES, _VALUES, max_size=4), st.dictionaries(_NAMES, _VALUES, max_size=4))
def test_no_key_of_any_document_is_missed(
    above: dict[str, object], table: dict[str, object]
) -> None:
    """Whatever is nested in whatever, each key is found on a line that holds its name."""
    top = "".join(f"{key} = {_written(value)}\n" for key, value in above.items())
    body = "".join(f"{key} = {_written(value)}\n" for key, value in table.items())
    text = f"{top}\n[[table.of.things]]\n{body}\n[[table.of.things]]\n{body}"
    if "table" in above:
        return
    rows = text.splitlines()
    lines = key_lines(text)
    for key in _leaves(tomllib.loads(text)):
        assert str(key[-1]) in rows[lines[key] - 1]
