"""Live weather on loopback: a week of rounds, outages, fallback, sharing, and the age of all."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import stamina

from mebuki.domain.site import Site
from mebuki.domain.weather import BLIND_HOURS, FRESH_HOURS, Freshness, Origin, hour_number
from mebuki.errors import InputError, WeatherError
from mebuki.rounds.look import look
from mebuki.weather.cells import cell_of
from mebuki.weather.http_client import WeatherClient
from mebuki.weather.live import LiveSource, Parts
from mebuki.weather.snapshots import FileSnapshots, MemorySnapshots, SnapshotStore
from mebuki.weather.terms import limits_by_provider
from tests.weather.invented_services import Services, air, invented_services
from tests.weather.provider_samples import SetClock, changed
from tests.weather.series import NEW_YORK, utc

BERLIN = Site(
    name="Berlin", latitude=52.5163, longitude=13.3777, elevation=34, time_zone="Europe/Berlin"
)
START = utc(2026, 3, 20, 6).replace(minute=7)
WEEK = 7 * 24


@pytest.fixture(autouse=True)
def _no_real_waiting() -> Iterator[None]:
    """Retry without the pauses."""
    with stamina.set_testing(True, attempts=3, cap=True):
        yield


@pytest.fixture
def clock() -> SetClock:
    """Give a clock in March, some minutes past the hour."""
    return SetClock(START)


@contextmanager
def living(
    clock: SetClock, *words: str, store: SnapshotStore | None = None, past: bool = False,
    compare: bool = False,
) -> Iterator[tuple[Services, LiveSource, WeatherClient]]:  # fmt: skip
    """Serve invented services and give a live source over them."""
    kept = store or MemorySnapshots()
    with invented_services(clock, words or ("om", "met")) as (services, providers, archive):
        client = WeatherClient("keeper@example.org", kept, clock, limits_by_provider())
        parts = Parts(archive=archive if past else None, compare=compare)
        yield services, LiveSource(providers, client, kept, clock, parts), client


def test_a_picture_holds_season_forecast_climate_and_spread(clock: SetClock) -> None:
    """One look brings all that a prediction needs, each part with its source."""
    with living(clock, past=True, compare=True) as (_, source, _client):
        picture = source.look(BERLIN, START)
    hours, now = picture.hourly, hour_number(START)
    assert date.fromordinal(picture.daily.start) <= date(2025, 1, 1)
    assert hours.end >= now + 15 * 24
    assert np.isfinite(hours.air_temperature).all()
    assert (hours.origin[: now - hours.start + 1] == Origin.MEASURED).all()
    assert (hours.origin[now - hours.start + 1 :] == Origin.FORECAST).all()
    assert picture.measured_until == START.replace(minute=0)
    assert picture.freshness is Freshness.FRESH
    assert len(picture.climate.years) == 25
    assert max(picture.climate.years) == 2025
    assert picture.ensemble_spread is not None
    assert picture.ensemble_spread[now - hours.start] == 1.5
    assert {one.what for one in picture.provenance} == {"season to date", "forecast", "past years"}
    assert all("open-meteo.com" in one.credit for one in picture.provenance)
    assert picture.disagreement is not None
    assert picture.disagreement < 0.3


def test_values_are_brought_from_the_cell_to_the_height_of_the_garden(clock: SetClock) -> None:
    """The cell is asked at 50 m; at 34 m the standard lapse makes it 0.104 °C warmer."""
    with living(clock) as (_, source, _client):
        picture = source.look(BERLIN, START)
    at = hour_number(START) - picture.hourly.start
    expected = air(hour_number(START)) + 16 * 0.0065
    assert picture.hourly.air_temperature[at] == pytest.approx(expected)


def test_coordinates_are_rounded_before_they_leave(clock: SetClock) -> None:
    """No request holds the garden's own coordinates."""
    with living(clock, "om", "met", past=True, compare=True) as (services, source, _client):
        source.look(BERLIN, START)
    assert services.paths
    for path in services.paths:
        assert "52.5163" not in path
        assert "13.3777" not in path
        assert "52.5" in path


def test_gardens_in_one_cell_share_one_pull(clock: SetClock) -> None:
    """A thousand gardens of a town ask as much as one."""
    with living(clock) as (services, source, _client):
        source.look(BERLIN, START)
        before = dict(services.asked)
        for number in range(1000):
            neighbour = BERLIN.model_copy(update={"latitude": 52.49 + number * 0.00002})
            source._choose(cell_of(neighbour), START)
        assert dict(services.asked) == before


@pytest.mark.parametrize("words", [("met",), ("nws",)])
def test_a_week_of_rounds_needs_a_fifth_of_the_downloads(
    words: tuple[str, ...], clock: SetClock
) -> None:
    """Rounds every hour; a naive client would load whole each time, for each garden."""
    gardens = [
        NEW_YORK,
        NEW_YORK.model_copy(update={"latitude": NEW_YORK.latitude + 0.005, "name": "next door"}),
    ]
    rounds = 0
    with living(clock, *words) as (services, source, _client):
        for _ in range(WEEK):
            for garden in gardens:
                assert source.look(garden, clock.now()).freshness is Freshness.FRESH
            rounds += 1
            clock.pass_(hours=1)
    whole, unchanged = (
        count[{"met": "met", "nws": "gridpoints"}[words[0]]]
        for count in (services.whole, services.unchanged)
    )
    assert rounds == WEEK
    assert unchanged > 0
    # One whole download a new run, four a day: 29 against 168 for a naive client with one garden.
    assert whole <= 0.2 * WEEK
    assert whole <= 0.1 * WEEK * len(gardens)


def test_a_week_of_rounds_stays_within_the_limits(clock: SetClock) -> None:
    """Never before Expires, never more than the weights of a minute, hour and day."""
    with living(clock, past=True, compare=True) as (services, source, client):
        most = 0.0
        for _ in range(WEEK):
            source.look(BERLIN, clock.now())
            most = max(most, client.spent_today("open-meteo"))
            clock.pass_(hours=1)
    assert most < 10_000 * 0.9
    met = [at for word, at in services.times if word == "met"]
    assert min(then - before for before, then in pairwise(met)) >= timedelta(minutes=30)
    assert services.whole["archive"] == 5
    assert services.whole["history"] == 1
    assert services.whole["ensemble"] <= 2 * 7 + 1


def test_a_fallback_is_named_and_used(clock: SetClock) -> None:
    """Open-Meteo is down: MET Norway serves, the reason is said, radiation is estimated."""
    with living(clock) as (services, source, _client):
        services.down.add("om")
        picture = source.look(BERLIN, START)
    assert picture.freshness is Freshness.FRESH
    assert any("MET Norway is used instead" in one for one in picture.remarks)
    assert any("no radiation: it is estimated" in one for one in picture.remarks)
    assert {one.provider for one in picture.provenance} == {"MET Norway"}
    assert any("The season before 2026-03-20 is not known" in one for one in picture.remarks)
    assert picture.measured_until == START.replace(minute=0)


def test_an_outage_of_a_week_is_survived_and_told(clock: SetClock) -> None:
    """All services down: last good weather, its age, stale at 6 h, blind at 24 h, then recovery."""
    with living(clock, past=True, compare=True) as (services, source, _client):
        first = source.look(BERLIN, clock.now())
        services.down |= {"om", "met"}
        gone = clock.now()
        for _ in range(WEEK):
            clock.pass_(hours=1)
            picture = source.look(BERLIN, clock.now())
            out = (clock.now() - gone).total_seconds() / 3600
            assert out <= picture.age_hours <= out + 1.2
            if out < FRESH_HOURS - 1.2:
                assert picture.freshness is Freshness.FRESH
            elif FRESH_HOURS <= out < BLIND_HOURS - 1.2:
                assert picture.freshness is Freshness.STALE
                assert any("The newest weather is of" in one for one in picture.remarks)
            elif out >= BLIND_HOURS:
                assert picture.freshness is Freshness.BLIND
            assert picture.hourly.end == first.hourly.end
            assert len(picture.climate.years) == 25
        asked = services.asked["forecast"]
        assert asked < WEEK / 2
        services.down.clear()
        clock.pass_(hours=4)
        picture = source.look(BERLIN, clock.now())
        assert picture.freshness is Freshness.FRESH
        assert not any("newest weather is of" in one for one in picture.remarks)
        now = hour_number(clock.now())
        past = picture.hourly.between(picture.hourly.start, now + 1)
        assert np.isfinite(past.air_temperature).all()


def test_an_outage_survives_a_restart(clock: SetClock, tmp_path: Path) -> None:
    """What was kept in files serves a new process too, with its age."""
    with invented_services(clock, ("om",)) as (services, providers, _archive):
        for hours in (0, 8):
            services.down |= {"om"} if hours else set()
            clock.pass_(hours=hours)
            store = FileSnapshots(tmp_path)
            client = WeatherClient("keeper@example.org", store, clock)
            picture = LiveSource(providers, client, store, clock).look(BERLIN, clock.now())
            assert int(picture.age_hours) == hours


def test_nothing_at_all_is_our_own_error_and_a_round_goes_on(clock: SetClock) -> None:
    """The first look fails whole: the round is told in a picture without weather."""
    with living(clock) as (services, source, _client):
        services.down |= {"om", "met"}
        with pytest.raises(WeatherError, match="503"):
            source.look(BERLIN, START)
        picture = look(source, BERLIN, START)
    assert picture.freshness is Freshness.BLIND
    assert "No weather could be had" in picture.remarks[0]


def test_hours_older_than_two_days_never_change(clock: SetClock) -> None:
    """The provider revises all its past by 2 °C: two days follow, what was before stays."""
    with living(clock) as (services, source, _client):
        before = source.look(BERLIN, clock.now()).hourly
        services.bias["forecast"] = 2.0
        clock.pass_(hours=2)
        after = source.look(BERLIN, clock.now()).hourly
    frozen = hour_number(clock.now()) - 48
    old = before.between(before.start, frozen).air_temperature
    assert (after.between(before.start, frozen).air_temperature == old).all()
    new = after.between(frozen, frozen + 40).air_temperature
    assert new == pytest.approx(before.between(frozen, frozen + 40).air_temperature + 2.0)


def test_past_years_of_another_model_are_moved_to_fit(clock: SetClock) -> None:
    """The reanalysis is 1.5 °C warmer than this season's model: its years are moved by that."""
    with living(clock, past=True) as (services, source, _client):
        services.bias["archive"] = 1.5
        picture = source.look(BERLIN, START)
    moved = [one for one in picture.remarks if one.startswith("Past years were moved by")]
    assert len(moved) == 1
    assert "−1.5 °C at night and −1.5 °C by day" in moved[0]
    year = picture.climate.years.index(2025)
    slot = 40
    last_year = picture.daily.start
    day = date(2025, 2, 10).toordinal() - last_year
    assert picture.climate.minimum[year, slot] == pytest.approx(
        picture.daily.minimum[day], abs=0.05
    )


def test_past_years_that_fail_are_asked_for_again(clock: SetClock) -> None:
    """The season goes on without them; the next look fetches what is missing."""
    with living(clock, past=True) as (services, source, _client):
        services.down.add("archive")
        picture = source.look(BERLIN, clock.now())
        assert len(picture.climate.years) == 0
        assert any("Past years are incomplete" in one for one in picture.remarks)
        services.down.clear()
        clock.pass_(hours=4)
        assert len(source.look(BERLIN, clock.now()).climate.years) == 25


def test_two_providers_that_differ_are_told_and_measured(clock: SetClock) -> None:
    """MET Norway 3 °C colder: the difference is in the picture and in words."""
    with living(clock, compare=True) as (services, source, _client):
        services.bias["met"] = -3.0
        picture = source.look(BERLIN, START)
    assert picture.disagreement == pytest.approx(3.0, abs=0.2)
    said = rf"differ by {picture.disagreement:.1f} °C over the next 3 days"
    assert any(said in one for one in picture.remarks)


def test_official_warnings_stand_beside_the_weather(clock: SetClock) -> None:
    """They change no number of ours."""
    clock.moment = utc(2026, 3, 24, 20)
    with living(clock, "nws") as (services, source, _client):
        without = source.look(NEW_YORK, clock.now())
        services.alerts = changed("nws_alerts.json")
        clock.pass_(minutes=20)
        picture = source.look(NEW_YORK, clock.now())
    assert without.warnings == ()
    assert [one.event for one in picture.warnings] == ["Freeze Warning", "Frost Advisory"]
    shared = slice(0, len(without.hourly.origin) - 5)
    assert np.array_equal(
        picture.hourly.air_temperature[shared], without.hourly.air_temperature[shared],
        equal_nan=True,
    )  # fmt: skip


def test_warnings_that_cannot_be_read_are_told(clock: SetClock) -> None:
    """Silence is not calm."""
    clock.moment = utc(2026, 3, 24, 20)
    with living(clock, "nws") as (services, source, _client):
        services.alerts = b'{"features": [{"properties": {}}]}'
        picture = source.look(NEW_YORK, clock.now())
    assert any("Official warnings could not be read" in one for one in picture.remarks)


def test_a_square_of_a_redrawn_grid_is_found_anew(clock: SetClock) -> None:
    """The old square is gone (404): the point is asked again before its answer expires."""
    with living(clock, "nws") as (services, source, _client):
        source.look(NEW_YORK, clock.now())
        services.square = 41
        clock.pass_(hours=7)
        picture = source.look(NEW_YORK, clock.now())
    assert picture.freshness is Freshness.FRESH
    assert any("/gridpoints/OKX/41,30" in path for path in services.paths)


def test_german_stations_give_the_season_to_date(clock: SetClock) -> None:
    """Bright Sky alone has observations of the past, so a season needs no other service."""
    with living(clock, "sky") as (services, source, _client):
        picture = source.look(BERLIN, START)
    assert np.isfinite(picture.daily.minimum).all()
    assert date.fromordinal(picture.daily.start) <= date(2025, 1, 1)
    assert services.whole["sky"] >= 3


@pytest.mark.parametrize("hours", [-40, 30])
def test_live_weather_knows_only_now(hours: float, clock: SetClock) -> None:
    """For another day a file of measured weather is needed."""
    with living(clock) as (_, source, _client), pytest.raises(InputError, match="only now"):
        source.look(BERLIN, START + timedelta(hours=hours))


def test_a_service_outside_its_area_is_not_asked(clock: SetClock) -> None:
    """The US service is not asked about Berlin, the German one not about New York."""
    with living(clock, "nws", "sky", "met") as (services, source, _client):
        source.look(BERLIN, START)
        assert services.asked["nws"] == 0
        asked = services.asked["sky"]
        source.look(NEW_YORK, START)
        assert services.asked["sky"] == asked
