"""Values that a taxon file leaves out, taken from its nearest relative and marked so."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

OWN = frozenset({
    "id", "scientific_name", "common_name", "includes", "nearest_relative", "note", "alternatives",
})  # fmt: skip
"""Keys that are never taken from a relative: what names a taxon, and clocks published for it."""

WHOLE = frozenset({"bud_break", "flowering"})
"""Tables whose values belong together: taken whole, or not at all."""

ALONG = {
    "water_source": "water_class",
    "cue_note": "cue",
    "alternative_note": "alternative",
    "structural_windows": "structural_pruning",
}
"""Keys that say more of another: not taken where the other is the file's own."""

TEXTS = ("water_source", "quality")
"""Keys that are themselves a word on where values come from."""

LOWERED = "design"
"""The confidence of every value taken over: to take it is our own choice."""


def filled(own: Mapping[str, Any], relative: Mapping[str, Any], name: str) -> dict[str, Any]:
    """Return a taxon file's content with what it leaves out taken from a relative's.

    Parameters
    ----------
    own, relative
        Content as read; neither is changed.
    name
        The relative's id, which every source taken over names.
    """
    found = dict(own)
    for key, value in relative.items():
        if key in OWN or ALONG.get(key) in own:
            continue
        if key not in own:
            found[key] = _taken(value, name, key)
        elif key not in WHOLE and _is_section(own[key]) and _is_section(value):
            found[key] = filled(own[key], value, name)
    return found


def _is_section(value: object) -> bool:
    """Whether a value is a table of further values, not a figure with its source."""
    return isinstance(value, Mapping) and "source" not in value


def _taken(value: Any, name: str, key: str = "") -> Any:
    """Return a value of a relative with every source in it marked."""
    if isinstance(value, Mapping):
        return {
            part: _taken(each, name, part) for part, each in value.items() if part != "alternatives"
        }
    if key == "source" or key in TEXTS:
        return f"relative {name}: {value}"
    return LOWERED if key == "confidence" else value
