"""Water in pots against published cases, and the laws of a balance."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.weather import HourlySeries, Origin
from mebuki.errors import RangeError
from mebuki.season.places import at_place
from mebuki.season.pot_calibration import EasyWater
from mebuki.season.pot_store import (
    Leaves,
    Pots,
    basal_coefficient,
    easy_water,
    water_between_weighings,
)
from mebuki.season.pot_water import (
    Course,
    adjusted_ready_share,
    counted_rain,
    daily_use,
    stress_coefficient,
    top_coefficient,
    water_trace,
)
from mebuki.season.root_temperature import RootBallTemperatures
from mebuki.season.water_outlook import water_outlook
from tests.builders import a_place, a_record, a_rulebook, a_site, a_taxon, a_tree
from tests.published_tables import PUBLISHED, published_columns
from tests.season.hourly_weather import a_daily_wave, some_hours

SITE = a_site(longitude=0, time_zone="UTC")
ON = date(2013, 7, 10)


def leaves_of(opens: float = np.nan, falls: float = np.nan, trees: int = 1) -> Leaves:
    """Return trees of a deciduous broadleaf with these ordinals of bud break and leaf fall."""
    full, bare, first, last = (np.repeat(each, trees) for each in (0.9, 0.15, opens, falls))
    return Leaves(full, bare, first, last)


LEAFY = leaves_of()


def one_pot(top: float, canopy: float, easy: float, watered: date | None = None) -> Pots:
    """Return a single pot [m2, m2, L]."""
    return Pots(np.array([top]), np.array([canopy]), np.array([easy]), (watered,))


def july(days: int = 12, precipitation: float = 0.0) -> HourlySeries:
    """Return sunny July weather that begins six days before the day of the tests."""
    hours = np.arange(24 * days)
    sun = np.maximum(800 * np.sin(2 * np.pi * (hours - 6) / 24), 0)
    air = a_daily_wave(days, 24, 6)
    return some_hours("2013-07-04T00", air, global_radiation=sun, precipitation=precipitation)


def test_stress_in_the_manner_of_example_36() -> None:
    """FAO-56 example 36: TAW 160, RAW 57.6, ETc 6 mm/d; Ks within 0.002 and Dr within 0.3 mm."""
    expected, ends = published_columns("ks_example36.csv", "Ks", "Dr_end")
    share = adjusted_ready_share(0.40, 6.0)
    assert share == pytest.approx(0.36)
    depletion = 55.0
    for stress, end in zip(expected, ends, strict=True):
        found = float(stress_coefficient(depletion, 160.0, share))
        assert found == pytest.approx(stress, abs=0.002)
        depletion += found * 6.0
        assert depletion == pytest.approx(end, abs=0.1)


@pytest.mark.parametrize(
    "case", json.loads((PUBLISHED / "water_examples.json").read_text("utf-8")),
    ids=lambda case: case["name"],
)  # fmt: skip
def test_use_of_seven_pots(case: dict[str, float]) -> None:
    """Use [L/d] within 0.002, and emptyings a day within 2 %, of seven pots."""
    areas = (case["canopy_m2"], case["top_m2"])
    use = float(daily_use(case["ETo"], case["Kcb"], case["Ke"], areas))
    assert use == pytest.approx(case["use_L_d"], abs=0.002)
    assert use / case["EAW_L"] == pytest.approx(case["waterings_per_day"], rel=0.02)
    pots = one_pot(case["top_m2"], case["canopy_m2"], case["EAW_L"])
    top = top_coefficient(np.array([[case["Kcb"]]]), pots)
    assert top[0, 0] == pytest.approx(case["Ke"], abs=1e-9)


def test_a_container_shrub_uses_what_was_measured() -> None:
    """Beeson 2010: an 11.4 L shrub of 0.65 m at 5.5 mm uses 1.3 L a day; within 0.1."""
    canopy = np.pi / 4 * 0.65**2
    assert daily_use(5.5, 0.7, 0.0, (canopy, 0.05)) == pytest.approx(1.3, abs=0.1)


series = st.lists(
    st.tuples(st.floats(0, 1.2), st.floats(0, 20), st.booleans()), min_size=1, max_size=60
)


@given(series, st.floats(0.005, 0.2), st.floats(0.2, 6), st.floats(0.01, 3), st.floats(0, 1))
def test_the_balance_closes_and_stays_within_the_pot(
    hours: list[tuple[float, float, bool]], top: float, wide: float, easy: float, liquid: float
) -> None:
    """Every litre is accounted for: in − out = change; 0 ≤ left ≤ full; use ≤ demand."""
    evaporation, rain, filled = (np.array(column) for column in zip(*hours, strict=True))
    shape = (1, len(hours))
    pots = one_pot(top, top * wide, easy)
    course = Course(evaporation, rain, np.full(shape, 0.9), np.full(shape, liquid), filled[None, :])
    trace = water_trace(pots, course)
    flow = trace.entered - trace.drained - trace.use + trace.poured
    total = pots.total_water[0]
    np.testing.assert_allclose(np.diff(trace.left[0], prepend=total), flow[0], atol=1e-9)
    assert (trace.left >= -1e-12).all()
    assert (trace.left <= total + 1e-12).all()
    assert (trace.use <= trace.demand + 1e-12).all()
    assert trace.entered.sum() <= rain.sum() * top + 1e-9


@given(st.floats(0, 1.2), st.floats(0, 1.2))
def test_a_thirstier_hour_never_leaves_more_water(some: float, other: float) -> None:
    """More evaporation leaves the pot drier, hour by hour."""
    left = []
    for evaporation in sorted((some, other)):
        steady = np.full(24, evaporation)
        course = Course(
            steady, np.zeros(24), np.full((1, 24), 0.9), np.ones((1, 24)), np.zeros((1, 24), bool)
        )
        left.append(water_trace(one_pot(0.066, 0.159, 0.69), course).left)
    assert (left[1] <= left[0] + 1e-12).all()


def test_an_unknown_hour_hides_the_pot_until_it_is_filled() -> None:
    """NaN evaporation makes the water unknown, never full; the next filling ends that."""
    evaporation = np.full(10, 0.3)
    evaporation[3] = np.nan
    filled = np.zeros((1, 10), bool)
    filled[0, 7] = True
    course = Course(evaporation, np.zeros(10), np.full((1, 10), 0.9), np.ones((1, 10)), filled)
    left = water_trace(one_pot(0.066, 0.159, 0.69), course).left[0]
    assert np.isfinite(left[:3]).all()
    assert np.isnan(left[3:7]).all()
    assert np.isfinite(left[7:]).all()


def test_forecast_rain_counts_half_and_small_showers_not_at_all() -> None:
    """Measured rain whole; 4 mm forecast as 2; a forecast day of 1.5 mm as none."""
    rain = np.zeros(72)
    rain[5], rain[30], rain[60] = 4.0, 4.0, 1.5
    here = some_hours("2013-07-10T00", np.full(72, 20.0), precipitation=rain)
    here.origin[24:] = Origin.FORECAST
    days = np.repeat([1, 2, 3], 24)
    found = counted_rain(here, days)
    assert (found[5], found[30], found[60]) == (4.0, 2.0, 0.0)


def test_a_small_pot_dries_in_a_summer_afternoon_and_a_large_one_does_not() -> None:
    """Filled at 6 h: 0.15 L under 30 cm of leaves is used up that day, 2.2 L is not."""
    pots = Pots(
        np.array([0.018, 0.1485]), np.array([0.0707, 0.2827]), np.array([0.148, 2.228]),
        (None, None),
    )  # fmt: skip
    leaves = leaves_of(trees=2)
    found = water_outlook(july(), SITE, pots, leaves, ON)
    small, large = (days[0] for days in found.pots)
    assert small.day == ON
    assert small.share_morning == 1.0
    assert small.share_evening == 0.0
    assert small.dry_at is not None
    assert (
        datetime(2013, 7, 10, 10, tzinfo=UTC) < small.dry_at < datetime(2013, 7, 10, 20, tzinfo=UTC)
    )
    assert 2 < small.empties < 4
    assert large.dry_at is None
    assert 0.2 < large.share_evening < 0.6
    assert len(found.pots[0]) == 4
    assert found.remarks == ()


def test_the_time_to_dry_has_a_spread() -> None:
    """25 % more use dries a small pot sooner, 25 % less later, within the same day."""
    day = water_outlook(july(), SITE, one_pot(0.018, 0.0707, 0.148), LEAFY, ON).pots[0][0]
    assert day.dry_earliest is not None
    assert day.dry_at is not None
    assert day.dry_latest is not None
    assert day.dry_earliest < day.dry_at < day.dry_latest
    large = water_outlook(july(), SITE, one_pot(0.1485, 0.2827, 3.0), LEAFY, ON).pots[0][0]
    assert (large.dry_at, large.dry_latest) == (None, None)


def test_a_pot_known_less_well_dries_in_a_wider_span_of_hours() -> None:
    """A table's e^±0.4 beside a weighing's ±10 %: earlier and later, about the same hour."""
    pots, days = one_pot(0.018, 0.0707, 0.148), []
    for wide in (np.log(1.1), 0.4):
        held = EasyWater(0.148, 0.148 * np.exp(-wide), 0.148 * np.exp(wide), "x")
        days.append(water_outlook(july(), SITE, pots, LEAFY, ON, held=(held,)).pots[0][0])
    weighed, table = days
    assert weighed.dry_at == table.dry_at
    assert weighed.dry_earliest is not None
    assert table.dry_earliest is not None
    assert table.dry_earliest < weighed.dry_earliest
    assert weighed.dry_latest is not None
    assert table.dry_latest is None or table.dry_latest > weighed.dry_latest


def test_a_recorded_watering_is_carried_on_until_it_is_used_up() -> None:
    """Watered the day before: the pot starts today with what yesterday left."""
    pots = one_pot(0.1485, 0.2827, 2.228, watered=date(2013, 7, 9))
    first, second = water_outlook(july(), SITE, pots, LEAFY, ON).pots[0][:2]
    assert 0 < first.share_morning < 0.6
    assert first.dry_at is None
    assert 0 <= second.share_morning < 0.05
    assert second.dry_at is not None


def test_rain_on_a_pot_in_the_open_and_under_a_roof() -> None:
    """A day of heavy measured rain keeps an open pot full; under a roof it dries."""
    wet = july(precipitation=1.0)
    pots = one_pot(0.1485, 0.2827, 2.228)
    shares = []
    for roof in (1.0, 0.0):
        here = at_place(wet, a_place(rain_share=roof))
        shares.append(water_outlook(here, SITE, pots, LEAFY, ON).pots[0][0].share_evening)
    assert shares[0] > shares[1]


def test_days_without_weather_are_left_out_and_named() -> None:
    """Seven unknown hours hide their day; the days beyond the series are named too."""
    here = july()
    here.air_temperature[24 * 7 + 9 : 24 * 7 + 16] = np.nan
    found = water_outlook(here, SITE, one_pot(0.066, 0.159, 0.69), LEAFY, ON)
    assert [day.day for day in found.pots[0]] == [ON, date(2013, 7, 12), date(2013, 7, 13)]
    assert ["2013-07-11" in remark for remark in found.remarks] == [True]
    nothing = water_outlook(some_hours("2013-07-04T00", []), SITE, one_pot(1, 1, 1), LEAFY, ON)
    assert nothing.pots == ((),)
    assert len(nothing.remarks) == 4


def test_a_frozen_root_ball_gives_no_water() -> None:
    """Frozen through: no use, and the day says so."""
    here = july()
    solid = np.ones((1, len(here.origin)))
    roots = RootBallTemperatures(here.start, -solid, -solid, solid)
    day = water_outlook(here, SITE, one_pot(0.066, 0.159, 0.69), LEAFY, ON, roots).pots[0][0]
    assert (day.use, day.frozen, day.share_evening) == (0.0, True, 1.0)


def test_the_coefficient_follows_the_leaves() -> None:
    """Bare before bud break, half way after 15 days, full after 30, bare after leaf fall."""
    day = date(2013, 4, 12).toordinal()
    fall = date(2013, 11, 1).toordinal()
    leaves = leaves_of(day, fall)
    days = np.array([day - 1, day, day + 15, day + 30, fall, fall + 21, fall + 60])
    found = basal_coefficient(leaves, days)[0]
    np.testing.assert_allclose(found, [0.15, 0.15, 0.525, 0.9, 0.9, 0.15, 0.15])


def test_unknown_dates_count_as_in_full_leaf() -> None:
    """A tree whose bud break is not foreseeable is not left to dry: it counts as leafy."""
    leaves = Leaves.of([a_taxon()], [None], [None])
    assert basal_coefficient(leaves, np.array([735000]))[0, 0] == 0.9


def test_roots_take_room_from_water() -> None:
    """Full just after repotting, 15 % less after a year, 30 % less when pot-bound."""
    substrate = a_rulebook().substrates["mixed-mineral"]
    share = substrate.easily_available_water.value
    found = []
    for repotted in ("2013-03-01", "2012-03-01", "2009-03-01"):
        tree = a_tree(records=[a_record("repotted", repotted)])
        found.append(easy_water(tree, substrate, ON) / (tree.pot.volume * share))
    assert found == pytest.approx([1.0, 0.85, 0.7])


def test_only_a_recent_watering_counts() -> None:
    """A record of yesterday stands; one of a week ago gives way to the daily routine."""
    substrates = a_rulebook().substrates
    trees = [
        a_tree("New", records=[a_record("watered", "2013-07-09")]),
        a_tree("Old", records=[a_record("watered", "2013-07-03")]),
    ]
    assert Pots.of(trees, substrates, ON).watered == (date(2013, 7, 9), None)


def test_two_weighings_give_the_available_water() -> None:
    """1 kg is 1 L; a pot that gets heavier by drying is refused."""
    assert water_between_weighings(5.4, 4.7) == pytest.approx(0.7)
    with pytest.raises(RangeError, match=r"weighed 5 kg before watering and 4\.7 kg after"):
        water_between_weighings(4.7, 5.0)
    with pytest.raises(RangeError, match="easy_water"):
        one_pot(0.1, 0.1, 0.0)
