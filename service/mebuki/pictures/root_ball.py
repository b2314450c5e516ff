"""A cold spell in pots: air, root-ball and its wall, bare and wrapped, small and large."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from mebuki.domain.tree import Pot
from mebuki.domain.weather import Floats, HourlySeries, hour_moment
from mebuki.pictures.style import (
    FAINT,
    INK,
    PAGE_WIDTH,
    TEXT_SIZE,
    Spec,
    chart,
    layer,
    place_on,
    words,
)
from mebuki.pictures.wording import number
from mebuki.season.root_ball import RootBalls
from mebuki.season.root_temperature import RootBallTemperatures, root_ball

FOAM: Final = 0.86
"""Thermal resistance of 30 mm of foam [m2 K W-1]."""

PANEL_HEIGHT: Final = 190
GAP: Final = 22
AXIS_WIDTH: Final = 40
HEADROOM: Final = 1.5

_AIR: Final = {"type": "line", "color": INK, "opacity": 0.45, "strokeWidth": 1}
_MEAN: Final = {"type": "line", "color": INK, "strokeWidth": 2.2}
_WALL: Final = {"type": "line", "color": INK, "strokeWidth": 1.1, "strokeDash": [4, 3]}


@dataclass(frozen=True, slots=True)
class Spell:
    """What is drawn: weather at a place, and the hours of it that are shown.

    Parameters
    ----------
    here
        Weather at the place, from some days before the first hour shown.
    first, stop
        Hour numbers: first <= hour < stop.
    sky_share
        Share [0..1] of open sky.
    """

    here: HourlySeries
    first: int
    stop: int
    sky_share: float = 1.0

    def of(self, values: Floats, start: int) -> Floats:
        """Return the hours shown of a row of values that begins at an hour number."""
        return values[self.first - start : self.stop - start]


def root_ball_chart(
    spell: Spell,
    pots: Sequence[tuple[str, Pot]],
    limits: Mapping[str, float] | None = None,
    width: int = PAGE_WIDTH,
) -> Spec:
    """Return the picture: a row a pot, bare at the left and in 30 mm of foam at the right.

    Parameters
    ----------
    spell
        Weather and hours.
    pots
        Names and pots, the first at the top.
    limits
        Temperatures [°C] worth a line, by name; freezing is always there.
    width
        Of the whole picture [px].
    """
    lines = {"freezing": 0.0, **(limits or {})}
    drawn = [
        (f"{name}, {dress}", _modelled(spell, pot, resistance))
        for name, pot in pots
        for dress, resistance in (("bare", 0.0), ("in 30 mm of foam", FOAM))
    ]
    ends = _ends(spell, [found for _, found in drawn], lines)
    each = (width - AXIS_WIDTH - GAP) // 2
    panels = [
        _panel(spell, told, found, (lines, ends), (each, index, len(drawn) - 1))
        for index, (told, found) in enumerate(drawn)
    ]
    rows = [
        {"hconcat": panels[first : first + 2], "spacing": GAP} for first in range(0, len(panels), 2)
    ]
    whole = chart(width, PANEL_HEIGHT * len(rows), [], describe_root_balls(spell, drawn))
    for key in ("layer", "width", "height", "autosize"):
        whole.pop(key)
    return {**whole, "vconcat": rows, "spacing": GAP}


def describe_root_balls(spell: Spell, drawn: Sequence[tuple[str, RootBallTemperatures]]) -> str:
    """Return in words what the picture shows: the lowest temperatures."""
    air = spell.of(spell.here.air_temperature, spell.here.start)
    parts = [f"Air down to {number(float(np.nanmin(air)), 1)} °C."]
    for told, found in drawn:
        mean, wall = spell.of(found.mean[0], found.start), spell.of(found.wall[0], found.start)
        low, edge = float(np.nanmin(mean)), float(np.nanmin(wall))
        parts.append(f"{told}: root ball down to {number(low, 1)}, wall {number(edge, 1)} °C.")
    return " ".join(parts)


def _modelled(spell: Spell, pot: Pot, resistance: float) -> RootBallTemperatures:
    balls = RootBalls.around([pot], resistance, grounded=False)
    return root_ball(spell.here, balls, spell.sky_share)


def _ends(
    spell: Spell, found: Sequence[RootBallTemperatures], lines: Mapping[str, float]
) -> tuple[float, float]:
    rows = [spell.of(spell.here.air_temperature, spell.here.start)]
    rows += [spell.of(each.wall[0], each.start) for each in found]
    values = np.concatenate([*rows, list(lines.values())])
    return float(np.nanmin(values)) - HEADROOM, float(np.nanmax(values)) + HEADROOM


def _panel(
    spell: Spell,
    told: str,
    found: RootBallTemperatures,
    scale: tuple[Mapping[str, float], tuple[float, float]],
    size: tuple[int, int, int],
) -> Spec:
    lines, ends = scale
    width, index, last_index = size
    first, last = _moment(spell.first), _moment(spell.stop - 1)
    times = place_on(
        "at",
        "temporal",
        title=None,
        axis={"format": "%-d %b", "values": _days(spell), "grid": False},
        scale={"type": "utc", "domain": [first, last]},
    )
    heat = place_on(
        "value",
        "quantitative",
        title=None,
        axis={"tickCount": 5, "labelExpr": "datum.label + '°'"},
        scale={"domain": list(ends), "nice": False, "zero": False},
    )
    rows = (
        (_AIR, spell.of(spell.here.air_temperature, spell.here.start)),
        (_WALL, spell.of(found.wall[0], found.start)),
        (_MEAN, spell.of(found.mean[0], found.start)),
    )
    layers = [
        *_limits(lines, (first, last), times, heat, named=index % 2 == 0),
        *(layer(_hours(spell, values), mark, x=times, y=heat) for mark, values in rows),
    ]
    if index == last_index:
        layers += _names(spell, [values for _, values in rows], times, heat)
    title = {"text": told, "anchor": "start", "fontSize": TEXT_SIZE, "fontWeight": "normal",
             "color": INK, "offset": 6}  # fmt: skip
    return {"width": width, "height": PANEL_HEIGHT, "title": title, "layer": layers}


def _hours(spell: Spell, values: Floats) -> list[dict[str, object]]:
    return [
        {"at": _moment(hour), "value": round(float(value), 2) if np.isfinite(value) else None}
        for hour, value in zip(range(spell.first, spell.stop), values, strict=True)
    ]


def _days(spell: Spell) -> list[str]:
    """Return every second midnight of the hours shown, the first one left out."""
    first = -(-spell.first // 24) * 24 + 24
    return [_moment(hour) for hour in range(first, spell.stop, 48)]


def _limits(
    lines: Mapping[str, float], span: tuple[str, str], times: Spec, heat: Spec, *, named: bool
) -> list[Spec]:
    values: list[dict[str, object]] = [
        {"at": span[0], "until": span[1], "value": limit, "label": told}
        for told, limit in lines.items()
    ]
    line = {"type": "rule", "color": INK, "opacity": 2 * FAINT}
    name = {"align": "right", "baseline": "top", "dx": -2, "dy": 3}
    beside = {**times, "field": "until"}
    rules = layer(values, line, x=times, x2={"field": "until"}, y=heat)
    return [rules, *(words(values, name, x=beside, y=heat) if named else [])]


def _names(spell: Spell, rows: Sequence[Floats], times: Spec, heat: Spec) -> list[Spec]:
    """Return the names of the lines: air and wall where they are furthest below the root ball."""
    found: list[Spec] = []
    inside = slice(len(rows[0]) // 8, -len(rows[0]) // 8)
    for told, index, other, sign in (
        ("air", 0, 2, -1), ("wall", 1, 2, -1), ("root ball", 2, 0, 1),
    ):  # fmt: skip
        apart = sign * (rows[index] - rows[other])
        hour = int(np.nanargmax(apart[inside])) + inside.start
        row: dict[str, object] = {
            "at": _moment(spell.first + hour),
            "value": round(float(rows[index][hour]), 2),
            "label": told,
        }
        mark: Spec = (
            {"align": "right", "baseline": "top", "dx": -5, "dy": 5}
            if sign < 0
            else {"baseline": "bottom", "dy": -5}
        )
        found += words([row], mark, x=times, y=heat)
    return found


def _moment(hour: int) -> str:
    return f"{hour_moment(hour):%Y-%m-%dT%H:%M:%S}Z"
