"""The lowest temperature of nights: only what was measured whole, only what is forecast whole."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from mebuki.domain.lessons import LEADS, ForecastLessons
from mebuki.domain.site import Site
from mebuki.domain.weather import Origin, WeatherPicture
from mebuki.season.local_time import local_hour
from mebuki.season.night_minima import analysed_minima, night_forecasts
from tests.builders import a_site, a_southern_site
from tests.season.night_pictures import a_picture_of_nights

ON = date(2013, 3, 27)
YESTERDAY = ON - timedelta(days=1)
SITES = [a_site(), a_southern_site()]
CLOCK_CHANGES = [
    (a_site(), date(2013, 3, 9)), (a_site(), date(2013, 11, 2)),
    (a_southern_site(), date(2013, 4, 6)), (a_southern_site(), date(2013, 10, 5)),
]  # fmt: skip


def with_hour(
    picture: WeatherPicture, hour: int, value: float, origin: Origin | None = None
) -> WeatherPicture:
    """Return the picture with another temperature in one hour, known in another way."""
    air, known = picture.hourly.air_temperature.copy(), picture.hourly.origin.copy()
    air[hour - picture.hourly.start] = value
    if origin is not None:
        known[hour - picture.hourly.start] = origin
    return replace(picture, hourly=replace(picture.hourly, air_temperature=air, origin=known))


@pytest.mark.parametrize("site", SITES)
def test_measured_nights_are_known_and_the_coming_one_is_not(site: Site) -> None:
    """At noon the last night is over: sixty nights are known, tonight is not among them."""
    found = analysed_minima(a_picture_of_nights(site, ON), ON, 60)
    assert len(found) == 60
    assert max(found) == YESTERDAY
    assert list(found.values()) == pytest.approx([5.0] * 60, abs=0.2)


def test_a_night_that_runs_is_not_known_yet() -> None:
    """At 7 h the hours to 10 h are forecast still."""
    found = analysed_minima(a_picture_of_nights(a_site(), ON, hour=7), ON, 60)
    assert max(found) == ON - timedelta(days=2)


@pytest.mark.parametrize(("site", "evening"), CLOCK_CHANGES)
def test_the_lowest_hour_of_a_night_is_found_when_clocks_change(site: Site, evening: date) -> None:
    """The first and the last hour count, 16 h and 10 h local, and those beyond them do not."""
    picture = a_picture_of_nights(site, evening + timedelta(days=5))
    first = local_hour(evening, 16, site.zone)
    last = local_hour(evening + timedelta(days=1), 10, site.zone)
    for hour, night in ((first, evening), (last, evening), (last + 1, None), (first - 1, None)):
        found = analysed_minima(with_hour(picture, hour, -7.0), evening + timedelta(days=5), 9)
        assert [each for each, low in found.items() if low == -7.0] == [night] * (night is not None)


@pytest.mark.parametrize(
    ("value", "origin"), [(np.nan, Origin.MISSING), (5.0, Origin.MISSING), (5.0, Origin.FORECAST)]
)
def test_one_rejected_bridged_or_forecast_hour_leaves_the_night_unknown(
    value: float, origin: Origin
) -> None:
    """Its neighbours stay known."""
    hour = local_hour(YESTERDAY, 22, a_site().zone)
    picture = with_hour(a_picture_of_nights(a_site(), ON), hour, value, origin)
    found = analysed_minima(picture, ON, 10)
    assert YESTERDAY not in found
    assert len(found) == 9


@pytest.mark.parametrize("site", SITES)
def test_the_coming_nights_are_noted_by_lead(site: Site) -> None:
    """At noon tonight is lead 0; the nights follow to lead 15, in the provider's own numbers."""
    picture = a_picture_of_nights(site, ON)
    found = night_forecasts(picture)
    assert [each.lead_days for each in found] == list(range(LEADS))
    assert [each.night for each in found] == [ON + timedelta(days=n) for n in range(LEADS)]
    assert {each.made_at for each in found} == {picture.at}
    assert found[3].minimum == pytest.approx(5.0, abs=0.2)


@pytest.mark.parametrize(("hour", "first"), [(15, 0), (16, 1), (23, 1), (1, 0)])
def test_a_night_that_has_begun_is_not_forecast_any_more(hour: int, first: int) -> None:
    """From 16 h on a part of it is seen; the small hours belong to the night before."""
    found = night_forecasts(a_picture_of_nights(a_site(), ON, hour=hour))
    assert found[0].lead_days == first
    assert found[0].night == ON + timedelta(days=first)


def test_a_night_beyond_the_forecast_or_with_a_hole_is_left_out() -> None:
    """Two days of forecast from noon reach two whole nights; a hole leaves its night out."""
    near = a_picture_of_nights(a_site(), ON, ahead=1)
    assert [each.lead_days for each in night_forecasts(near)] == [0, 1]
    hole = with_hour(near, local_hour(ON, 23, a_site().zone), np.nan, Origin.MISSING)
    assert [each.lead_days for each in night_forecasts(hole)] == [1]


def test_weather_that_is_not_fresh_forecasts_nothing() -> None:
    """Seven hours old, or never measured."""
    picture = a_picture_of_nights(a_site(), ON)
    assert night_forecasts(replace(picture, measured_until=None)) == ()
    assert night_forecasts(replace(picture, measured_until=picture.at - timedelta(hours=7))) == ()


def test_a_corrected_picture_cannot_teach() -> None:
    """It would teach our own correction."""
    lessons = ForecastLessons((1.0,), (2.0,), (40,), applied=True)
    with pytest.raises(ValueError, match="corrected"):
        night_forecasts(replace(a_picture_of_nights(a_site(), ON), lessons=lessons))
