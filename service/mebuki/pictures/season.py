"""The season ahead: when buds move, as the density of ink along the days."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import groupby
from typing import Final

from mebuki.domain.wording import day_text
from mebuki.pictures.coming_season import SeasonRow, describe_season, season_rows
from mebuki.pictures.style import (
    ACCENT,
    FAINT,
    INK,
    PAGE_WIDTH,
    Spec,
    chart,
    layer,
    place_on,
    words,
)
from mebuki.rounds.planned import Plan

ROW_HEIGHT: Final = 44
MARGIN_DAYS: Final = 6
EDGE: Final = 0.2


def season_chart(plan: Plan, width: int = PAGE_WIDTH) -> Spec:
    """Return the picture: strips of trees, days left to right, ink where buds are moving.

    Parameters
    ----------
    width
        Of the whole picture [px].
    """
    rows = season_rows(plan)
    first, last = _domain(rows, plan.on)
    days = place_on(
        "from",
        "temporal",
        title=None,
        scale={"type": "utc", "domain": [first.isoformat(), last.isoformat()]},
        axis={"format": "%b", "tickCount": "month", "orient": "top", "labelAlign": "left"},
    )
    lanes = place_on(
        "top",
        "quantitative",
        title=None,
        axis=None,
        scale={"domain": [0, max(len(rows), 1)], "reverse": True, "nice": False},
    )
    layers = [
        layer(
            [_lane(index, part) for index, row in enumerate(rows) for part in _ink(row)],
            {"type": "rect", "color": INK},
            x=days,
            x2={"field": "to"},
            y=lanes,
            y2={"field": "bottom"},
            opacity=place_on("ink", "quantitative", scale=None, legend=None),
        ),
        *(_outlines(rows, plan.on, days, lanes, today=today) for today in (False, True)),
        *_today(plan.on, rows, days, lanes),
        *words(
            [{"top": index + 0.28, "label": row.label} for index, row in enumerate(rows)],
            {"align": "left", "baseline": "middle"},
            x={"value": 2},
            y=lanes,
        ),
    ]
    return chart(width, 56 + ROW_HEIGHT * max(len(rows), 1), layers, describe_season(plan))


def _domain(rows: Sequence[SeasonRow], today: date) -> tuple[date, date]:
    ends = [today, *(day for row in rows for day in row.bounds)]
    margin = timedelta(days=MARGIN_DAYS)
    return min(ends) - margin, max(ends) + margin


def _lane(index: int, part: dict[str, object]) -> dict[str, object]:
    return {**part, "top": index + 0.5, "bottom": index + 0.9}


def _ink(row: SeasonRow) -> Iterator[dict[str, object]]:
    """Yield the strip in stretches of equal density."""
    first, last = row.bounds
    days = [first + timedelta(days=offset) for offset in range((last - first).days + 1)]
    for density, stretch in groupby(days, key=lambda day: round(row.density(day), 1)):
        held = list(stretch)
        if density > 0:
            yield {
                "from": held[0].isoformat(),
                "to": (held[-1] + timedelta(days=1)).isoformat(),
                "ink": round(0.9 * density, 3),
            }


def _outlines(rows: Sequence[SeasonRow], on: date, days: Spec, lanes: Spec, *, today: bool) -> Spec:
    """Return the outlines of repotting windows that do or do not hold today."""
    values: list[dict[str, object]] = [
        {
            "from": span.first.isoformat(),
            "to": (span.last + timedelta(days=1)).isoformat(),
            "top": index + 0.45,
            "bottom": index + 0.95,
        }
        for index, row in enumerate(rows)
        for span in row.windows
        if (span.first <= on <= span.last) is today
    ]
    mark = {
        "type": "rect",
        "fill": None,
        "stroke": ACCENT if today else INK,
        "strokeWidth": 2 if today else 1,
    }
    return layer(values, mark, x=days, x2={"field": "to"}, y=lanes, y2={"field": "bottom"})


def _side(on: date, first: date, last: date) -> str:
    """Return where the word for today stands, so that it stays within the picture."""
    share = (on - first) / (last - first)
    return "left" if share < EDGE else "right" if share > 1 - EDGE else "center"


def _today(on: date, rows: Sequence[SeasonRow], days: Spec, lanes: Spec) -> list[Spec]:
    line: dict[str, object] = {"from": on.isoformat(), "top": 0, "bottom": max(len(rows), 1)}
    return [
        layer(
            [line],
            {"type": "rule", "color": INK, "opacity": 2 * FAINT, "strokeDash": [3, 3]},
            x=days,
            y=lanes,
            y2={"field": "bottom"},
        ),
        *words(
            [line | {"label": f"today, {day_text(on)}"}],
            {"align": _side(on, *_domain(rows, on)), "baseline": "bottom", "dy": 15},
            x=days,
            y={**lanes, "field": "bottom"},
        ),
    ]
