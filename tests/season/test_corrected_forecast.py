"""A forecast corrected by its lessons: nights moved by their lead, the measured left alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from mebuki.domain.lessons import LEADS, ForecastLessons
from mebuki.domain.site import Site
from mebuki.domain.weather import Origin, WeatherPicture
from mebuki.season.corrected_forecast import corrected
from mebuki.season.forecast_spread import spread_by_lead
from mebuki.season.local_time import local_hour
from mebuki.season.night_minima import night_forecasts, night_low
from tests.builders import a_site, a_southern_site
from tests.season.night_pictures import a_picture_of_nights

ON = date(2013, 3, 27)
SITES = [a_site(), a_southern_site()]
TOO_WARM = ForecastLessons((1.5,) * LEADS, (1.6,) * LEADS, (40,) * LEADS)


def a_taught(site: Site, lessons: ForecastLessons = TOO_WARM, on: date = ON) -> WeatherPicture:
    """Return a picture at noon that carries lessons."""
    return replace(a_picture_of_nights(site, on), lessons=lessons)


@pytest.mark.parametrize("site", SITES)
def test_coming_nights_are_moved_by_the_bias_of_their_lead(site: Site) -> None:
    """0.1 °C for each day of lead, tonight none: each minimum falls by its own."""
    rising = ForecastLessons(
        tuple(lead / 10 for lead in range(LEADS)), (2.0,) * LEADS, (9,) * LEADS
    )
    plain, found = a_picture_of_nights(site, ON), corrected(a_taught(site, rising), ON)
    for lead in range(10):
        evening = ON + timedelta(days=lead)
        fall = night_low(plain, evening) - night_low(found, evening)
        assert fall == pytest.approx(lead / 10, abs=1e-9)


@pytest.mark.parametrize("site", SITES)
def test_what_was_measured_stays(site: Site) -> None:
    """Hours and days up to now are the same to the bit; so are all columns but air and dew."""
    plain, found = a_picture_of_nights(site, ON), corrected(a_taught(site), ON)
    known = plain.hourly.origin == Origin.MEASURED
    for name in ("air_temperature", "dew_point"):
        before, after = getattr(plain.hourly, name), getattr(found.hourly, name)
        assert (before[known] == after[known]).all()
        assert not (before == after).all()
    past = plain.daily.days <= ON.toordinal()
    before, after = plain.daily.minimum[past], found.daily.minimum[past]
    assert np.array_equal(before, after, equal_nan=True)
    assert (found.hourly.wind_speed == plain.hourly.wind_speed).all()


def test_the_warm_hours_of_the_day_are_not_touched() -> None:
    """Nights taught it: at 14 h nothing is taken off, at 11 h and 17 h half, from 20 to 8 h all."""
    site = a_site()
    plain, found = a_picture_of_nights(site, ON), corrected(a_taught(site), ON)
    taken = plain.hourly.air_temperature - found.hourly.air_temperature
    tomorrow = ON + timedelta(days=1)
    shares = {14: 0.0, 11: 0.5, 17: 0.5, 20: 1.0, 0: 1.0, 8: 1.0}
    for hour, share in shares.items():
        index = local_hour(tomorrow, hour, site.zone) - plain.hourly.start
        assert taken[index] == pytest.approx(1.5 * share)


@pytest.mark.parametrize("on", [date(2013, 3, 9), date(2013, 11, 2)])
def test_no_step_appears_where_one_night_gives_way_to_the_next(on: date) -> None:
    """With leads that differ, and clocks that change, neighbouring hours are moved alike."""
    uneven = ForecastLessons((2.0, -2.0) * 8, (2.0,) * LEADS, (40,) * LEADS)
    plain = a_picture_of_nights(a_site(), on)
    found = corrected(replace(plain, lessons=uneven), on)
    taken = (plain.hourly.air_temperature - found.hourly.air_temperature)[
        plain.hourly.origin == Origin.FORECAST
    ]
    assert np.abs(np.diff(taken)).max() <= 2.0 / 6 * 2 + 1e-9


def test_coming_days_fall_with_their_nights_and_stay_in_order() -> None:
    """Minima by 1.5 °C, maxima not; a minimum that rises takes its maximum with it."""
    plain, found = a_picture_of_nights(a_site(), ON), corrected(a_taught(a_site()), ON)
    ahead = plain.daily.days > ON.toordinal()
    fall = plain.daily.minimum[ahead] - found.daily.minimum[ahead]
    assert fall[:5] == pytest.approx([1.5] * 5)
    assert (plain.daily.maximum[ahead] == found.daily.maximum[ahead])[:5].all()
    cold = ForecastLessons((-20.0,) * LEADS, (2.0,) * LEADS, (40,) * LEADS)
    warmer = corrected(a_taught(a_site(), cold), ON).daily
    known = np.isfinite(warmer.minimum)
    assert (warmer.maximum[known] >= warmer.minimum[known]).all()


def test_the_dew_point_never_passes_the_air() -> None:
    """Air 1.5 °C colder than told, 1 °C above its dew point: the dew point falls with it."""
    found = corrected(a_taught(a_site()), ON).hourly
    assert (found.dew_point <= found.air_temperature).all()


def test_a_picture_is_corrected_once() -> None:
    """Again, or without lessons, it is returned as it is; without a bias nothing moves."""
    once = corrected(a_taught(a_site()), ON)
    assert corrected(once, ON) is once
    plain = a_picture_of_nights(a_site(), ON)
    assert corrected(plain, ON) is plain
    none = ForecastLessons((0.0,), (2.0,), (0,))
    assert corrected(replace(plain, lessons=none), ON).hourly is plain.hourly


def test_the_provider_is_taught_of_not_our_correction() -> None:
    """A picture with lessons that were not applied still forecasts in the provider's numbers."""
    plain = night_forecasts(a_picture_of_nights(a_site(), ON))
    assert night_forecasts(a_taught(a_site())) == plain


def test_learned_spreads_stand_for_the_table_and_an_ensemble_for_both() -> None:
    """1.6 °C by lessons; an ensemble's 3 °C where it reaches; providers 1.2 °C apart add to it."""
    picture = a_taught(a_site())
    assert spread_by_lead(picture, ON) == pytest.approx([1.6] * 10)
    apart = spread_by_lead(replace(picture, disagreement=1.2), ON)
    assert apart == pytest.approx([np.hypot(1.6, 1.2)] * 10)
    members = np.full(len(picture.hourly.origin), 3.0)
    assert spread_by_lead(replace(picture, ensemble_spread=members), ON)[0] == pytest.approx(3.0)
