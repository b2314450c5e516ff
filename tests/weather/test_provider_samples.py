"""Every sample answer: read right, or refused by our own error, with the reason in words."""

from __future__ import annotations

import json
from collections.abc import Callable

import numpy as np
import pytest

from mebuki.domain.weather import Origin
from mebuki.weather import bright_sky, met_norway, nws
from mebuki.weather.answers import Answer, ProviderError
from mebuki.weather.cells import Cell
from mebuki.weather.open_meteo_answers import parse_ensemble, parse_hourly
from mebuki.weather.open_meteo_places import parse_elevation, parse_places
from tests.weather.provider_samples import (
    BERLIN,
    MUENSTER,
    NEW_YORK,
    OSLO,
    PHILADELPHIA,
    SAMPLES,
    TOKYO,
    changed,
    sample,
)
from tests.weather.series import an_hour, utc

FORECAST = "open_meteo_forecast.json"
GRID = "nws_gridpoints.json"
COMPLETE = "met_norway_complete.json"
HOURS = "brightsky_weather.json"

Parse = Callable[[bytes], Answer]


def hourly(content: bytes, cell: Cell = BERLIN) -> Answer:
    """Parse an Open-Meteo answer for one place."""
    return parse_hourly(content, (cell,))[0]


def grid(content: bytes) -> Answer:
    """Parse a grid square near Philadelphia."""
    return nws.parse_grid(content, PHILADELPHIA)


def complete(content: bytes) -> Answer:
    """Parse a forecast for Oslo."""
    return met_norway.parse(content, OSLO)


def observed(content: bytes) -> Answer:
    """Parse German hours."""
    return bright_sky.parse(content, MUENSTER)


PARSERS: dict[str, tuple[str, Parse]] = {
    "open-meteo": (FORECAST, hourly),
    "met-norway": (COMPLETE, complete),
    "nws": (GRID, grid),
    "bright-sky": (HOURS, observed),
}


def test_a_forecast_is_cut_where_its_temperature_ends() -> None:
    """Three nulls at the end are cut; the radiation, which ends earlier, is NaN from there."""
    answer = hourly(sample(FORECAST))
    series = answer.series
    assert series.start == an_hour(2026, 3, 24)
    assert len(series.origin) == 69
    assert series.air_temperature[:3].tolist() == [3.3, 3.0, 2.7]
    assert np.isnan(series.global_radiation[-3:]).all()
    assert np.isfinite(series.global_radiation[:66]).all()
    assert series.cloud_cover[0] == pytest.approx(0.76)
    assert (series.origin == Origin.FORECAST).all()
    assert (answer.latitude, answer.longitude, answer.elevation) == (52.52, 13.419998, 38.0)


def test_a_wind_in_another_unit_than_asked_is_left_out_and_said() -> None:
    """Metres per second were asked; the sample has kilometres per hour."""
    answer = hourly(sample(FORECAST))
    assert np.isnan(answer.series.wind_speed).all()
    assert "wind_speed_10m in km/h" in answer.remarks[0]
    right = hourly(changed(FORECAST, (("hourly_units", "wind_speed_10m"), "m/s")))
    assert right.series.wind_speed[0] == 6.4


def test_a_variable_that_the_model_lacks_is_left_out() -> None:
    """All null with the unit "undefined" is no column."""
    answer = hourly(
        changed(
            FORECAST,
            (("hourly_units", "shortwave_radiation"), "undefined"),
            (("hourly", "shortwave_radiation"), [None] * 72),
        )
    )
    assert np.isnan(answer.series.global_radiation).all()
    assert any("shortwave_radiation in undefined" in one for one in answer.remarks)


def test_snow_is_turned_into_water() -> None:
    """Seven centimetres of snow are ten millimetres of water, by the provider's own rule."""
    answer = hourly(changed(FORECAST, (("hourly", "snowfall", 5), 0.7)))
    assert answer.series.snowfall[5] == pytest.approx(1.0)


def test_a_missing_dew_point_is_worked_out_and_said() -> None:
    """3.3 °C at 93 % has a dew point of 2.27 °C (Allen et al. 1998, FAO-56 eq. 11 and 3-11)."""
    answer = hourly(changed(FORECAST, (("hourly_units", "dew_point_2m"), "undefined")))
    assert answer.series.dew_point[0] == pytest.approx(2.27, abs=0.05)
    assert "The dew point was worked out from the relative humidity." in answer.remarks


def test_an_archive_ends_where_the_reanalysis_does() -> None:
    """The last two days are null for now: 72 of 120 hours remain."""
    assert len(hourly(sample("open_meteo_archive.json")).series.origin) == 72


def test_several_places_come_as_a_list_in_the_order_asked() -> None:
    """One place is an object, two are a list; another number or order is refused."""
    places = sample("open_meteo_multi_location.json")
    berlin, tokyo, new_york = parse_hourly(places, (BERLIN, TOKYO, NEW_YORK))
    assert (berlin.series.air_temperature[0], tokyo.series.air_temperature[0]) == (4.0, 13.3)
    assert new_york.longitude < 0
    with pytest.raises(ProviderError, match="3 places came for 1"):
        parse_hourly(places, (BERLIN,))
    with pytest.raises(ProviderError, match="asked was"):
        parse_hourly(places, (TOKYO, BERLIN, NEW_YORK))
    with pytest.raises(ProviderError, match="1 places came for 2"):
        parse_hourly(sample(FORECAST), (BERLIN, TOKYO))


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("open_meteo_forecast_local_dst.json", "the times are local"),
        ("open_meteo_archive_daily.json", "hourly_units is missing"),
        ("open_meteo_200_truncated.txt", "breaks off"),
        ("open_meteo_error_502.html", "breaks off or is no JSON"),
        ("open_meteo_error_400.json", "out of allowed range"),
        ("open_meteo_error_429_daily.json", "Daily API request limit"),
        ("open_meteo_error_429_hourly.json", "Hourly API request limit"),
        ("open_meteo_error_429_minutely.json", "Minutely API request limit"),
        ("open_meteo_error_429_concurrent.json", "Too many concurrent"),
        ("open_meteo_error_503_overloaded.json", "overloaded"),
        ("open_meteo_meta.json", "asked was"),
        ("open_meteo_elevation.json", "asked was"),
        ("open_meteo_geocoding.json", "asked was"),
        ("met_norway_headers.json", "asked was"),
        ("nws_problem_500.json", "asked was"),
    ],
)
def test_what_is_no_forecast_is_refused_with_the_reason(name: str, why: str) -> None:
    """Error bodies, other kinds of answers and broken ones never become weather."""
    with pytest.raises(ProviderError, match=why):
        hourly(sample(name))


def test_members_of_an_ensemble_give_mean_and_spread() -> None:
    """Thirty-one rows; the control run, which ends early, does not shorten the others."""
    ensemble = parse_ensemble(sample("open_meteo_ensemble.json"), BERLIN)
    assert ensemble.members.shape == (31, 48)
    assert np.isnan(ensemble.members[0, -6:]).all()
    assert np.isfinite(ensemble.mean).all()
    rows = ensemble.members[:, 0]
    assert ensemble.mean[0] == pytest.approx(rows.mean())
    assert ensemble.spread[0] == pytest.approx(rows.std(ddof=1))


def test_mean_and_spread_are_taken_as_they_come() -> None:
    """The spread of a temperature has the unit K."""
    ensemble = parse_ensemble(sample("open_meteo_ensemble_mean.json"), BERLIN)
    assert ensemble.members.shape[0] == 0
    assert (ensemble.mean[0], ensemble.spread[0], ensemble.spread[-1]) == (0.3, 0.4, 2.0)


def test_members_of_two_models_are_one_ensemble() -> None:
    """With two models each column carries its model's name."""
    ensemble = parse_ensemble(sample("open_meteo_ensemble_two_models.json"), BERLIN)
    assert ensemble.members.shape == (4, 3)
    assert sorted(ensemble.members[:, 0]) == [0.9, 1.0, 1.2, 1.4]


def test_an_ensemble_with_impossible_members_is_refused() -> None:
    """A member at −9999 would make the spread a fable."""
    with pytest.raises(ProviderError, match="cannot be"):
        parse_ensemble(
            changed("open_meteo_ensemble.json", (("hourly", "temperature_2m_member07", 3), -9999)),
            BERLIN,
        )


def test_places_and_heights_are_read() -> None:
    """A hit, no hit, and two heights."""
    (tokyo,) = parse_places(sample("open_meteo_geocoding.json"))
    assert (tokyo.name, tokyo.country, tokyo.time_zone) == ("Tokyo", "Japan", "Asia/Tokyo")
    assert (tokyo.latitude, tokyo.longitude, tokyo.elevation) == (35.6895, 139.69171, 44.0)
    assert parse_places(sample("open_meteo_geocoding_empty.json")) == ()
    assert parse_elevation(sample("open_meteo_elevation.json"), 2) == (38.0, 44.0)
    with pytest.raises(ProviderError, match="2 values for 1"):
        parse_elevation(sample("open_meteo_elevation.json"))


def test_a_norwegian_forecast_is_drawn_by_the_hour() -> None:
    """Hourly steps as they are, six-hour steps through the lowest and highest of the step."""
    answer = complete(sample(COMPLETE))
    air = answer.series.air_temperature
    assert answer.series.start == an_hour(2026, 3, 24)
    assert answer.issued == utc(2026, 3, 23, 23).replace(minute=27, second=45)
    assert len(air) == 79
    assert (air[0], air[29], air[30], air[36], air[72]) == (3.1, -3.8, -2.7, 3.6, 4.0)
    # 12 to 18 h on the 25th: the step's highest, 4.9 °C, stands in its middle.
    assert air[39] == pytest.approx(4.9)
    # 0 to 6 h on the 27th: lowest 3.7 °C, below both ends (4.0 and 5.2 °C).
    assert air[75] == pytest.approx(3.7)


def test_norwegian_rain_counts_where_its_hour_ends() -> None:
    """0.7 mm fall from 0 to 1 h and count at 1 h; 4.4 mm in six hours are 0.733 mm each."""
    rain = complete(sample(COMPLETE)).series.precipitation
    assert np.isnan(rain[0])
    assert rain[1] == 0.7
    assert rain[73:79] == pytest.approx([4.4 / 6] * 6)


def test_the_compact_forecast_is_read_too() -> None:
    """Without a dew point it is worked out from the humidity."""
    answer = complete(sample("met_norway_compact.json"))
    assert answer.series.air_temperature[0] == 3.2
    assert answer.series.dew_point[0] == pytest.approx(2.49, abs=0.05)


def test_a_grid_square_is_spread_over_the_hours_of_its_intervals() -> None:
    """Merged hours are repeated, amounts divided, km/h and percent turned into our units."""
    series = grid(sample(GRID)).series
    assert series.start == an_hour(2026, 3, 24)
    assert series.air_temperature[0] == pytest.approx(5.5556, abs=1e-3)
    assert series.wind_speed[:4] == pytest.approx([9.26 / 3.6] * 4)
    assert series.precipitation[7:13] == pytest.approx([0.508 / 6] * 6)
    assert series.cloud_cover[0] == pytest.approx(0.81)
    assert grid(sample(GRID)).elevation == pytest.approx(11.8872)


def test_the_official_low_of_the_night_is_kept() -> None:
    """The layer of minima says −6.67 °C for the night of the 25th; so does the coldest hour."""
    series = grid(sample(GRID)).series
    night = slice(24, 36)
    assert np.nanmin(series.air_temperature[night]) == pytest.approx(-6.6667, abs=1e-3)


def test_a_point_names_its_square_whether_numbers_or_texts() -> None:
    """Grid numbers come as numbers in one answer and as texts in another."""
    assert nws.parse_point(sample("nws_points.json")) == "PHI/48,76"
    assert nws.parse_point(sample(GRID)) == "PHI/48,76"
    for name in ("nws_problem_404_outside.json", "nws_problem_500.json"):
        with pytest.raises(ProviderError):
            nws.parse_point(sample(name))
        with pytest.raises(ProviderError):
            grid(sample(name))


@pytest.mark.parametrize(
    ("valid", "hours"),
    [
        ("2019-07-04T18:00:00+00:00/PT3H", 3),
        ("2019-07-04T18:00:00+00:00/P1DT6H", 30),
        ("2019-07-04T18:00:00+00:00/P1D", 24),
        ("2019-07-04T18:00:00+00:00/2019-07-04T20:00:00+00:00", 2),
    ],
)
def test_intervals_are_read_with_a_duration_or_an_end(valid: str, hours: int) -> None:
    """Durations of days and hours, and a second moment, all occur."""
    first, last = nws._span(valid)
    assert (first, last - first) == (an_hour(2019, 7, 4, 18), hours)


@pytest.mark.parametrize(
    "valid", ["NOW/PT1H", "2019-07-04T18:00:00+00:00/NOW", "2019-07-04T18:00:00+00:00/PT0H", "x"]
)
def test_intervals_that_lead_nowhere_are_refused(valid: str) -> None:
    """An interval must have a beginning and run forward."""
    with pytest.raises(ProviderError):
        nws._span(valid)


def test_german_hours_tell_what_was_measured() -> None:
    """Hours of the station are measured, those of the forecast are not."""
    answer = observed(sample(HOURS))
    series = answer.series
    assert series.air_temperature[0] == 4.7
    assert series.wind_speed[0] == pytest.approx(7.5 / 3.6)
    assert series.origin[0] == Origin.MEASURED
    assert series.origin[-1] == Origin.FORECAST
    assert answer.elevation == 47.8


def test_german_sunshine_is_turned_into_watts() -> None:
    """Kilowatt hours per square metre in the hour are a mean of as many thousand watts."""
    answer = observed(changed(HOURS, (("weather", 12, "solar"), 0.25)))
    assert answer.series.global_radiation[12] == 250.0


def test_a_lacking_german_dew_point_stays_open_or_is_worked_out() -> None:
    """From the humidity where there is one."""
    content = changed(HOURS, (("weather", 0, "dew_point"), None))
    assert observed(content).series.dew_point[0] == pytest.approx(3.2, abs=0.1)


def _with_temperatures(word: str, change: Callable[[int, float], float | None]) -> bytes:
    """Return a provider's sample with each air temperature changed by its index."""
    name = PARSERS[word][0]
    found = json.loads(sample(name))
    if word == "open-meteo":
        values = found["hourly"]["temperature_2m"]
        found["hourly"]["temperature_2m"] = [
            None if one is None else change(index, one) for index, one in enumerate(values)
        ]
        return json.dumps(found).encode()
    if word == "met-norway":
        steps = found["properties"]["timeseries"]
        rows = [one["data"]["instant"]["details"] for one in steps]
    elif word == "nws":
        rows = found["properties"]["temperature"]["values"]
    else:
        rows = found["weather"]
    key = {"met-norway": "air_temperature", "nws": "value", "bright-sky": "temperature"}[word]
    for index, row in enumerate(rows):
        row[key] = change(index, row[key])
    return json.dumps(found).encode()


@pytest.mark.parametrize("word", PARSERS)
def test_minus_9999_never_becomes_weather(word: str) -> None:
    """One such hour is rejected and shown; many refuse the answer."""
    parse = PARSERS[word][1]
    answer = parse(_with_temperatures(word, lambda i, one: -9999.0 if i == 10 else one))
    assert -9999.0 in {one.value for one in answer.rejected}
    assert np.nanmin(answer.series.air_temperature) > -20
    with pytest.raises(ProviderError, match="cannot be"):
        parse(_with_temperatures(word, lambda i, one: -9999.0 if i % 2 else one))


@pytest.mark.parametrize("word", PARSERS)
def test_a_whole_day_of_one_value_is_refused(word: str) -> None:
    """No air keeps one temperature for a day."""
    with pytest.raises(ProviderError, match="the same for 24 h"):
        PARSERS[word][1](_with_temperatures(word, lambda _, one: 4.0))


@pytest.mark.parametrize("word", PARSERS)
def test_an_answer_without_temperatures_is_refused(word: str) -> None:
    """A model that lacks them all is no forecast."""
    with pytest.raises(ProviderError):
        PARSERS[word][1](_with_temperatures(word, lambda _, one: None))


@pytest.mark.parametrize(
    ("word", "steps"),
    [
        ("open-meteo", [(("latitude",), 48.0)]),
        ("open-meteo", [(("longitude",), -13.4)]),
        ("met-norway", [(("geometry", "coordinates", 0), 20.0)]),
        ("nws", [(("geometry", "coordinates"), [[[0, 0], [1, 1]]])]),
        ("bright-sky", [(("sources", 1, "lat"), 40.0)]),
    ],
)
def test_an_answer_for_another_place_is_refused(
    word: str, steps: list[tuple[tuple[str | int, ...], object]]
) -> None:
    """Coordinates snapped far away are another place's weather."""
    with pytest.raises(ProviderError, match=r"asked was|not those near"):
        PARSERS[word][1](changed(PARSERS[word][0], *steps))


@pytest.mark.parametrize(
    ("word", "steps"),
    [
        ("open-meteo", [(("hourly", "time", 5), 1774310400)]),
        ("open-meteo", [(("hourly", "time", 5), 1774310400 + 5 * 3600 + 60)]),
        ("open-meteo", [(("hourly", "time", 71), 1774310400 + 99 * 3600)]),
        ("met-norway", [(("properties", "timeseries", 3, "time"), "2026-03-24T01:00:00Z")]),
        ("met-norway", [(("properties", "timeseries", 3, "time"), "2026-03-24T03:30:00Z")]),
        ("bright-sky", [(("weather", 3, "timestamp"), "2026-03-24T01:00:00+00:00")]),
        ("bright-sky", [(("weather", 3, "timestamp"), "2026-03-24T03:00:00")]),
    ],
)
def test_time_that_runs_backwards_or_off_the_hour_is_refused(
    word: str, steps: list[tuple[tuple[str | int, ...], object]]
) -> None:
    """Hours must follow one another, in UTC."""
    with pytest.raises(ProviderError, match=r"not one full hour|not run forward|not a full hour"):
        PARSERS[word][1](changed(PARSERS[word][0], *steps))


@pytest.mark.parametrize(
    ("word", "steps"),
    [
        ("open-meteo", [(("hourly_units", "temperature_2m"), "°F")]),
        ("met-norway", [(("properties", "meta", "units", "air_temperature"), "fahrenheit")]),
        ("nws", [(("properties", "temperature", "uom"), "wmoUnit:degF")]),
    ],
)
def test_a_temperature_in_another_unit_is_refused(
    word: str, steps: list[tuple[tuple[str | int, ...], object]]
) -> None:
    """Fahrenheit would be a heat wave."""
    with pytest.raises(ProviderError, match="no air temperature"):
        PARSERS[word][1](changed(PARSERS[word][0], *steps))


@pytest.mark.parametrize("uom", ["wmoUnit:degC", "wmo:degC", "uc:degC", "degC"])
def test_the_namespace_of_an_american_unit_does_not_matter(uom: str) -> None:
    """Several are in use."""
    grid(changed(GRID, (("properties", "temperature", "uom"), uom)))


def test_every_sample_is_used_by_a_test() -> None:
    """A sample that nobody reads protects from nothing."""
    texts = "".join(path.read_text("utf-8") for path in SAMPLES.parents[1].rglob("test_*.py"))
    unread = [p.name for p in SAMPLES.iterdir() if p.suffix != ".md" and p.name not in texts]
    assert unread == []
