"""All models together: hemispheres, latitudes, leap years, shelters, and what the keeper saw."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from numpy.typing import ArrayLike

from mebuki.domain.outlook import Milestone, TreeOutlook
from mebuki.domain.site import Place, Site
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import Tree
from mebuki.domain.weather import (
    CALENDAR_DAYS,
    Climate,
    DailySeries,
    Floats,
    HourlySeries,
    Origin,
    WeatherPicture,
    hour_number,
)
from mebuki.season.night_minima import night_low
from mebuki.season.outlook import Stock, outlooks
from tests.builders import (
    a_place,
    a_pot,
    a_record,
    a_rulebook,
    a_site,
    a_southern_site,
    a_taxon,
    a_tree,
    a_tropical_taxon,
)

YEARS = (2009, 2010, 2011)
FORECAST_DAYS = 16


def _daily_mean(days: ArrayLike, coldest: float, warmest: float, southern: bool) -> Floats:
    """Return an invented yearly wave, coldest on 20 January (20 July in the south)."""
    turn = 201 if southern else 20
    middle, half = (coldest + warmest) / 2, (warmest - coldest) / 2
    return np.asarray(middle - half * np.cos(2 * np.pi * (np.asarray(days) - turn) / 365.25))


def a_weather(
    site: Site, on: date, coldest: float = 0.0, warmest: float = 24.0, years: int = 3
) -> WeatherPicture:
    """Return a picture of a smooth invented climate, known for 460 days and forecast for 16."""
    at = datetime(on.year, on.month, on.day, 12, tzinfo=UTC)
    start = on.toordinal() - 460
    span = np.arange(start, on.toordinal() + FORECAST_DAYS)
    numbers = [date.fromordinal(int(day)).timetuple().tm_yday for day in span]
    of_year = np.array(numbers, dtype=np.float64)
    mean = _daily_mean(of_year, coldest, warmest, site.southern)
    origin = np.where(span <= on.toordinal(), Origin.MEASURED, Origin.FORECAST).astype(np.int8)
    calm = np.zeros(len(span))
    shift = np.arange(years)[:, np.newaxis] - (years - 1) / 2
    slots = _daily_mean(np.arange(CALENDAR_DAYS) + 1.0, coldest, warmest, site.southern) + shift
    hours = np.arange(hour_number(at) - 24 * 20, hour_number(at) + 24 * FORECAST_DAYS)
    of_day = np.asarray(hours, dtype=np.float64) / 24 % 365.25 + 1
    air = _daily_mean(of_day, coldest, warmest, site.southern)
    air = air - 5 * np.cos(2 * np.pi * (hours + site.longitude / 15 - 4) / 24)
    hourly = HourlySeries(
        int(hours[0]), air, air - 4, np.full(len(air), 2.0), np.zeros(len(air)),
        np.zeros(len(air)), np.full(len(air), np.nan), np.full(len(air), np.nan),
        np.where(hours <= hour_number(at), Origin.MEASURED, Origin.FORECAST).astype(np.int8),
    )  # fmt: skip
    return WeatherPicture(
        site=site,
        at=at,
        hourly=hourly,
        daily=DailySeries(start, mean - 5, mean + 5, calm, calm + 2, origin),
        climate=Climate(YEARS[:years], slots - 5, slots + 5, slots * 0, slots * 0 + 2),
        measured_until=at,
        forecast_until=at + timedelta(days=FORECAST_DAYS),
    )


def the_outlook(
    on: date,
    *,
    site: Site | None = None,
    place: Place | None = None,
    taxon: Taxon | None = None,
    tree: Tree | None = None,
    **weather: Any,
) -> TreeOutlook:
    """Return the outlook of one tree in the invented climate."""
    where = place or a_place()
    kind = taxon or a_taxon()
    one = (tree or a_tree()).model_copy(update={"place": where.id, "taxon": kind.id})
    stock = Stock((one,), (where,), {kind.id: kind}, a_rulebook().substrates)
    picture = a_weather(site or a_site(), on, **weather)
    return outlooks(stock, picture, on)[one.id]


def _break(outlook: TreeOutlook, season: int) -> date:
    stage = outlook.stage(Milestone.BREAK, season)
    assert stage is not None
    assert stage.likely is not None
    return stage.likely


def test_the_southern_spring_is_the_northern_half_a_year_later() -> None:
    """The same climate south of the equator opens the same buds six months apart, within days."""
    north = the_outlook(date(2013, 3, 1), site=a_site(latitude=40.0))
    south = the_outlook(date(2013, 9, 1), site=a_southern_site().model_copy(
        update={"latitude": -40.0}))  # fmt: skip
    apart = (_break(south, 2013) - _break(north, 2013)).days
    assert abs(apart - 182) <= 4


@pytest.mark.parametrize("latitude", [-54.8, -33.9, 0.0, 25.0, 52.0, 66.6, 69.7])
def test_every_latitude_gives_an_outlook(latitude: float) -> None:
    """From the southern tip of America to beyond the polar circle; polar night is no error."""
    for on in (date(2013, 1, 5), date(2013, 6, 21), date(2012, 2, 29)):
        outlook = the_outlook(on, site=a_site(latitude=latitude, longitude=18.0), coldest=-8)
        assert outlook.nights
        assert outlook.water
        assert {stage.season for stage in outlook.stages} >= {outlook.season, outlook.season + 1}


def test_a_leap_day_is_an_ordinary_day() -> None:
    """Outlooks of 28 and 29 February and 1 March 2012 tell the same spring."""
    days = [date(2012, 2, 28), date(2012, 2, 29), date(2012, 3, 1)]
    found = [_break(the_outlook(day), 2012) for day in days]
    assert max(found) - min(found) <= timedelta(days=1)


def test_a_winter_without_chill_still_gives_dates_but_less_sure() -> None:
    """Where it never gets cold the range of bud break is wider than after a cold winter."""

    def width(coldest: float) -> int:
        stage = the_outlook(date(2013, 2, 1), coldest=coldest).stage(Milestone.BREAK, 2013)
        assert stage is not None
        assert stage.earliest is not None
        assert stage.latest is not None
        return (stage.latest - stage.earliest).days

    cold, warm = 0.0, 13.0
    share = (24.0 - warm) / (24.0 - cold)
    assert width(warm) > width(cold) * share


def test_a_warmer_place_opens_the_buds_earlier() -> None:
    """A frame that is 2 °C warmer is ahead of the open bench; a held minimum too."""
    on = date(2013, 2, 15)
    bench = _break(the_outlook(on), 2013)
    frame = _break(the_outlook(on, place=a_place(id="frame", temperature_offset=2.0)), 2013)
    assert frame < bench


def test_buds_seen_closed_move_the_range_behind_that_day() -> None:
    """Only what the keeper saw excludes the early cases."""
    on = date(2013, 4, 28)
    blind = the_outlook(on)
    tree = a_tree(records=(a_record("buds-closed-seen", "2013-04-27"),))
    told = the_outlook(on, tree=tree)
    first = told.stage(Milestone.BREAK, 2013)
    assert first is not None
    assert first.quantiles[0] is not None
    assert first.quantiles[0] >= date(2013, 4, 27)
    assert _break(told, 2013) >= _break(blind, 2013)


def test_a_bud_break_seen_later_ends_what_was_seen_closed() -> None:
    """Closed buds of the 20th say nothing once open ones were seen on the 25th."""
    records = (a_record("buds-closed-seen", "2013-04-20"), a_record("bud-break-seen", "2013-04-25"))
    told = the_outlook(date(2013, 4, 26), tree=a_tree(records=records))
    assert _break(told, 2013) == _break(the_outlook(date(2013, 4, 26)), 2013)


def test_a_tropical_tree_has_warm_nights_and_no_leaf_out() -> None:
    """No published clock exists for it: none is made up."""
    outlook = the_outlook(date(2013, 3, 1), taxon=a_tropical_taxon(), warmest=28)
    assert {stage.milestone for stage in outlook.stages} == {Milestone.WARM_NIGHTS}
    begins = outlook.stage(Milestone.WARM_NIGHTS, 2013)
    assert begins is not None
    assert begins.likely is not None
    assert 5 <= begins.likely.month <= 7


def test_a_deciduous_tree_has_a_leaf_fall_and_an_evergreen_has_none() -> None:
    """Leaf fall comes in autumn; a juniper keeps its leaves."""
    maple = the_outlook(date(2013, 6, 1)).stage(Milestone.LEAF_FALL, 2013)
    assert maple is not None
    assert maple.likely is not None
    assert 9 <= maple.likely.month <= 12
    juniper = a_taxon("juniperus-chinensis", group="scale-juniper")
    assert the_outlook(date(2013, 6, 1), taxon=juniper).stage(Milestone.LEAF_FALL, 2013) is None


def test_in_november_the_leaves_of_the_old_season_still_count() -> None:
    """On 5 November the running season is next spring's, but the growing one is this year's."""
    outlook = the_outlook(date(2013, 11, 5))
    assert outlook.season == 2014
    assert outlook.stage(Milestone.LEAF_FALL, 2013) is not None
    assert outlook.growth_clock(2013) is not None


def test_without_past_years_nothing_beyond_the_forecast_is_claimed() -> None:
    """No climate: the coming nights are there, next spring is not."""
    on = date(2013, 1, 10)
    picture = a_weather(a_site(), on)
    nothing = np.empty((0, CALENDAR_DAYS))
    picture = replace(picture, climate=Climate((), nothing, nothing, nothing, nothing))
    taxon, place = a_taxon(), a_place()
    tree = a_tree().model_copy(update={"place": place.id, "taxon": taxon.id})
    stock = Stock((tree,), (place,), {taxon.id: taxon}, a_rulebook().substrates)
    outlook = outlooks(stock, picture, on)[tree.id]
    stage = outlook.stage(Milestone.BREAK, 2013)
    assert stage is not None
    assert stage.likely is None
    assert outlook.nights


def test_trees_of_one_taxon_at_one_place_share_their_stages() -> None:
    """Two trees give the same distributions; another place gives others."""
    taxon, here, there = a_taxon(), a_place(), a_place(id="frame", temperature_offset=2.0)
    trees = tuple(
        a_tree(name=name).model_copy(update={"place": place.id, "taxon": taxon.id})
        for name, place in (("One", here), ("Two", here), ("Three", there))
    )
    stock = Stock(trees, (here, there), {taxon.id: taxon}, a_rulebook().substrates)
    found = outlooks(stock, a_weather(a_site(), date(2013, 3, 1)), date(2013, 3, 1))
    assert found["one"].stages == found["two"].stages
    assert found["one"].stages != found["three"].stages


def test_a_minimum_thermometer_teaches_what_the_place_does_to_the_night() -> None:
    """Ten readings 3 °C below the site move the coming night by 10/18 of that (shrinkage)."""
    on = date(2013, 3, 20)
    plain = the_outlook(on).nights[0].air_minimum
    picture = a_weather(a_site(), on)
    records = []
    for back in range(1, 11):
        morning = on - timedelta(days=back)
        low = night_low(picture, morning - timedelta(days=1), Origin.MEASURED)
        records.append(a_record("minimum-read", morning, amount=low - 3.0))
    taught = the_outlook(on, tree=a_tree(records=tuple(records))).nights[0].air_minimum
    assert taught - plain == pytest.approx(-3.0 * 10 / 18, abs=0.05)


def test_a_few_readings_do_not_teach() -> None:
    """Four nights leave the keeper's own offset as it is."""
    on = date(2013, 3, 20)
    records = tuple(
        a_record("minimum-read", on - timedelta(days=back), amount=-9.0) for back in range(1, 5)
    )
    taught = the_outlook(on, tree=a_tree(records=records)).nights[0].air_minimum
    assert taught == the_outlook(on).nights[0].air_minimum


def test_a_pot_found_dry_in_winter_stands_less_cold() -> None:
    """Dry roots get the extra margin of 3 °C, once: the limit rises and says why."""
    on = date(2013, 2, 20)
    plain = the_outlook(on, coldest=-8).roots[0]
    dry = a_tree(records=[a_record("dry-seen", "2013-02-19")])
    found = the_outlook(on, coldest=-8, tree=dry).roots[0]
    assert found.limit == pytest.approx(min(plain.limit + 3, -0.5))
    assert "dry substrate" in found.limit_source
    watered = a_tree(records=[*dry.records, a_record("watered", "2013-02-20")])
    assert the_outlook(on, coldest=-8, tree=watered).roots[0].limit == plain.limit


def test_an_outlook_says_what_the_pot_holds_and_how_sure_that_is() -> None:
    """A table's range without findings; less, and less wide, after it was found dry twice."""
    on = date(2013, 7, 20)
    plain = the_outlook(on)
    assert plain.available_low is not None
    assert plain.available_high is not None
    assert plain.available_low < plain.available_water < plain.available_high
    assert plain.available_source.startswith("mixed mineral")
    assert plain.available_doubt == ""
    records = [
        a_record(kind, day)
        for kind, day in (("watered", "2013-07-12"), ("dry-seen", "2013-07-13"),
                          ("watered", "2013-07-15"), ("dry-seen", "2013-07-16"))
    ]  # fmt: skip
    told = the_outlook(on, tree=a_tree(canopy_cm=4, records=records))
    assert told.available_water < the_outlook(on, tree=a_tree(canopy_cm=4)).available_water
    assert "found dry or wet 2 times" in told.available_source


def test_a_probe_in_the_pot_changes_its_cold_nights() -> None:
    """A pot that lags half a day stays warmer than its size says, one that hardly lags colder."""
    on = date(2013, 1, 20)
    lowest = [
        the_outlook(on, coldest=6, tree=a_tree(pot=a_pot(time_constant_hours=hours)))
        .roots[0].mean_minimum
        for hours in (0.2, None, 12.0)
    ]  # fmt: skip
    assert lowest == sorted(lowest)
    assert lowest[0] < lowest[1] < lowest[2]
