"""The spread of a night's forecast: by lead, by ensemble, and by two providers that differ."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from mebuki.season.decision import SPREAD_BY_LEAD
from mebuki.season.forecast_spread import spread_by_lead
from tests.builders import a_site
from tests.season.test_outlook import a_weather

ON = date(2013, 3, 20)


def test_without_an_ensemble_the_table_by_lead_stands() -> None:
    """The first days are those of the table, the last value holds beyond."""
    found = spread_by_lead(a_weather(a_site(), ON), ON)
    assert found[:7] == pytest.approx(SPREAD_BY_LEAD)
    assert found[9] == SPREAD_BY_LEAD[-1]


def test_an_ensemble_stands_for_the_table_where_it_reaches() -> None:
    """3 K on the first two days, nothing after: the table again; never below 1 K."""
    picture = a_weather(a_site(), ON)
    hours = len(picture.hourly.origin)
    spread = np.full(hours, np.nan)
    now = hours - 16 * 24
    spread[: now + 48] = 3.0
    found = spread_by_lead(replace(picture, ensemble_spread=spread), ON)
    assert found[0] == pytest.approx(3.0)
    assert found[5] == pytest.approx(SPREAD_BY_LEAD[5])
    sure = spread_by_lead(replace(picture, ensemble_spread=np.full(hours, 0.1)), ON)
    assert sure[0] == 1.0


def test_two_providers_that_differ_widen_every_night() -> None:
    """A difference of 1.5 K adds as an independent error: √(2² + 1.5²) = 2.5."""
    found = spread_by_lead(replace(a_weather(a_site(), ON), disagreement=1.5), ON)
    assert found[0] == pytest.approx(2.5)
