"""The coming nights at one place: the forecast, its spread, and the limits that matter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from mebuki.domain.outlook import Night, RootNight
from mebuki.domain.quantity import Units
from mebuki.domain.site import Place
from mebuki.domain.weather import hour_moment, hour_number
from mebuki.pictures.coming_nights import (
    DRAWN_NIGHTS,
    describe_nights,
    in_the_open,
    place_nights,
    threatened,
)
from mebuki.pictures.style import (
    ACCENT,
    FAINT,
    INK,
    PAGE_WIDTH,
    PAPER,
    PHONE_WIDTH,
    Spec,
    chart,
    layer,
    place_on,
    words,
)
from mebuki.pictures.wording import number
from mebuki.rounds.planned import Plan

HEIGHT: Final = 270
HEADROOM: Final = 2.0
TICKS: Final = 6
CLOSE: Final = 1.5
"""Limits nearer to each other [°C] are named above and below their lines."""

LABEL_WIDTH, AXIS_WIDTH = 74, 36
"""Room for the names of limits and of temperatures [px]."""

REACH: Final = 5.0
"""A limit is drawn if the coldest expected night comes within so many degrees of it."""


def nights_chart(
    plan: Plan, place: Place, width: int = PAGE_WIDTH, units: Units = "metric"
) -> Spec:
    """Return the picture: hours left to right, nights shaded, limits as labelled lines.

    Parameters
    ----------
    width
        Of the whole picture [px].
    units
        In which its temperatures are written.
    """
    nights = place_nights(plan, place)[:DRAWN_NIGHTS]
    hours = _hours(plan, place, nights)
    limits = _limits(plan, place, nights, units)
    low, high = _range(hours, nights, limits)
    end = nights[-1].ends if nights else plan.at + timedelta(days=1)
    times = place_on(
        "at",
        "temporal",
        title=None,
        axis=None,
        scale={"type": "utc", "domain": [_text(plan.at), _text(_edge(plan.at, end, width))]},
    )
    heat = place_on(
        "air",
        "quantitative",
        title=None,
        axis=_degree_axis(low, high, units),
        scale={"domain": [low, high], "nice": False, "zero": False},
    )
    layers = [
        *_shade(nights, times, heat, (low, high), wide=width > PHONE_WIDTH),
        layer(
            hours,
            {"type": "area", "color": INK, "opacity": 0.16},
            x=times,
            y=place_on("low", "quantitative"),
            y2={"field": "high"},
        ),
        layer(hours, {"type": "line", "color": INK, "strokeWidth": 1.6}, x=times, y=heat),
        *_limit_lines(limits, plan.at, end, times, heat),
        *_lows(plan, place, nights, (times, heat), units),
    ]
    return chart(width, HEIGHT, layers, describe_nights(plan, place))


def _degree_axis(low: float, high: float, units: Units) -> Spec:
    """Return the axis of temperatures [°C]; in °F its ticks stand at round numbers of these."""
    if units == "metric":
        return {"tickCount": 6, "format": "d", "labelExpr": "datum.label + '°'"}
    first, last = low * 1.8 + 32, high * 1.8 + 32
    step = next((each for each in (2, 5, 10, 20) if (last - first) / each <= TICKS), 50)
    ticks = range(math.ceil(first / step) * step, math.floor(last) + 1, step)
    return {
        "values": [(tick - 32) / 1.8 for tick in ticks],
        "labelExpr": "replace(format(datum.value * 1.8 + 32, '.0f'), '-', '−') + '°'",
    }


def _degrees(celsius: float, units: Units, places: int) -> str:
    return f"{number(celsius * 1.8 + 32 if units == 'us' else celsius, places)}°"


def _edge(first: datetime, last: datetime, width: int) -> datetime:
    """Return the right edge: room for the names of limits beside the last night."""
    return last + (last - first) * (LABEL_WIDTH / (width - AXIS_WIDTH - LABEL_WIDTH))


def _text(moment: datetime) -> str:
    return f"{moment:%Y-%m-%dT%H:%M:%S}Z"


def _hours(plan: Plan, place: Place, nights: Sequence[Night]) -> list[dict[str, object]]:
    """Return the forecast of each hour with one standard deviation either way.

    A heated or slow place has no hourly line: only its nights are known.
    """
    if not nights or not in_the_open(place):
        return []
    hourly = plan.weather.hourly.between(hour_number(plan.at), hour_number(nights[-1].ends) + 1)
    spread = np.interp(
        hourly.hours,
        [hour_number(night.minimum_at) for night in nights],
        [night.spread for night in nights],
    )
    return [
        {
            "at": _text(hour_moment(hour)),
            "air": round(float(air), 2),
            "low": round(float(air - error), 2),
            "high": round(float(air + error), 2),
        }
        for hour, air, error in zip(
            hourly.hours, hourly.air_temperature + place.temperature_offset, spread, strict=True
        )
        if np.isfinite(air)
    ]


def _limits(plan: Plan, place: Place, nights: Sequence[Night], units: Units) -> dict[float, str]:
    """Return the limits worth a line: freezing, and the tenderest roots of the place."""
    found = {0.0: "freezing"}
    limits = [root.limit for root in _roots(plan, place)]
    coldest = min((night.air_minimum for night in nights), default=0.0)
    if limits and coldest - REACH <= max(limits) < 0:
        tenderest = max(limits)
        places = 0 if tenderest == round(tenderest) else 1
        found[tenderest] = f"roots {_degrees(tenderest, units, places)}"
    return found


def _roots(plan: Plan, place: Place) -> list[RootNight]:
    return [
        root
        for tree in plan.garden.trees
        if tree.place == place.id and tree.id in plan.outlooks
        for root in plan.outlooks[tree.id].roots
    ]


def _range(
    hours: Sequence[dict[str, object]], nights: Sequence[Night], limits: dict[float, str]
) -> tuple[float, float]:
    values = [float(str(hour[side])) for hour in hours for side in ("low", "high")]
    values += [min(night.leaf_minimum, night.air_minimum - night.spread) for night in nights]
    values += [night.air_minimum + night.spread for night in nights]
    values += limits
    return min(values) - HEADROOM, max(values) + HEADROOM


def _shade(
    nights: Sequence[Night], times: Spec, heat: Spec, ends: tuple[float, float], *, wide: bool
) -> list[Spec]:
    values: list[dict[str, object]] = [
        {
            "at": _text(night.begins),
            "until": _text(night.ends),
            "middle": _text(night.begins + (night.ends - night.begins) / 2),
            "air": ends[0],
            "top": ends[1],
            "label": f"{night.evening:%a} {night.evening.day}" if wide else f"{night.evening:%a}",
        }
        for night in nights
    ]
    return [
        layer(
            values,
            {"type": "rect", "color": INK, "opacity": 0.07},
            x=times,
            x2={"field": "until"},
            y=heat,
            y2={"field": "top"},
        ),
        layer(
            values,
            {"type": "text", "baseline": "top", "dy": 4},
            x={**times, "field": "middle"},
            y={**heat, "field": "top"},
            text={"field": "label"},
        ),
    ]


def _limit_lines(
    limits: dict[float, str], first: datetime, last: datetime, times: Spec, heat: Spec
) -> list[Spec]:
    values: list[dict[str, object]] = [
        {
            "at": _text(first),
            "until": _text(last),
            "air": limit,
            "label": told,
        }
        for limit, told in limits.items()
    ]
    line = {"type": "rule", "color": INK, "opacity": 2 * FAINT}
    apart = len(limits) == 1 or abs(min(limits)) > CLOSE
    upper = {"align": "left", "dx": 4, "baseline": "middle" if apart else "bottom"}
    lower = {**upper, "baseline": "middle" if apart else "top"}
    beside = {**times, "field": "until"}
    return [
        layer(values, line, x=times, x2={"field": "until"}, y=heat),
        *words(values[:1], upper, x=beside, y=heat),
        *words(values[1:], lower, x=beside, y=heat),
    ]


def _lows(
    plan: Plan, place: Place, nights: Sequence[Night], axes: tuple[Spec, Spec], units: Units
) -> list[Spec]:
    """Return the lowest air temperature of each night, with its spread and its number."""
    times, heat = axes
    values: list[dict[str, object]] = [
        {
            "at": _text(night.minimum_at),
            "air": round(night.air_minimum, 2),
            "low": round(night.air_minimum - night.spread, 2),
            "high": round(night.air_minimum + night.spread, 2),
            "label": _degrees(night.air_minimum, units, 1),
            "colour": ACCENT if threatened(plan, place, night) else INK,
        }
        for night in nights
    ]
    colour = {"field": "colour", "type": "nominal", "scale": None, "legend": None}
    number_, below = {"baseline": "top", "dy": 6, "fontWeight": 600}, {**heat, "field": "low"}
    return [
        layer(
            values,
            {"type": "rule", "strokeWidth": 1.6},
            x=times,
            y=place_on("low", "quantitative"),
            y2={"field": "high"},
            color=colour,
        ),
        layer(
            values,
            {"type": "point", "filled": True, "opacity": 1, "size": 46, "stroke": PAPER},
            x=times,
            y=heat,
            fill=colour,
        ),
        *words(values[:-1], number_, x=times, y=below, color=colour),
        # the names of limits stand beside the last night
        *words(values[-1:], {**number_, "align": "right", "dx": 8}, x=times, y=below, color=colour),
    ]
