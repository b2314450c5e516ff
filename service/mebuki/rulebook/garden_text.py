"""A garden as the text of a garden file; reading the file gives back the garden."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from mebuki.domain.garden import Garden

_HEAD = "# A garden of Mebuki's. Values that are as they are by default are left out."


def garden_text(garden: Garden) -> str:
    """Return a garden as TOML.

    >>> from mebuki.domain.site import Place, Site
    >>> site = Site(name="Here", latitude=52.5, longitude=13.4, time_zone="Europe/Berlin")
    >>> bench = Place(id="bench", name="Bench", kind="bench")
    >>> "latitude = 52.5" in garden_text(Garden(id="home", name="Home", site=site, places=(bench,)))
    True
    """
    data = garden.model_dump(exclude_defaults=True)
    return "\n".join((_HEAD, "", *_lines(data))) + "\n"


def _lines(data: Mapping[str, Any]) -> Iterator[str]:
    yield from _pairs({key: data[key] for key in ("id", "name", "invented") if key in data})
    yield from ("", "[site]")
    yield from _pairs(data["site"])
    for kind in ("places", "subscribers", "trees"):
        for item in data.get(kind, ()):
            yield from ("", f"[[{kind}]]")
            yield from _pairs(item)


def _pairs(table: Mapping[str, Any]) -> Iterator[str]:
    for key, value in table.items():
        if isinstance(value, tuple):
            yield f"{key} = ["
            yield from (f"  {_value(item)}," for item in value)
            yield "]"
        elif value is not None:
            yield f"{key} = {_value(value)}"


def _value(value: object) -> str:
    if isinstance(value, Mapping):
        pairs = (f"{key} = {_value(each)}" for key, each in value.items() if each is not None)
        return "{ " + ", ".join(pairs) + " }"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return json.dumps(value)
