"""Coming nights, leaf depression, night formulas and critical temperatures."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.outlook import Milestone
from mebuki.errors import RangeError
from mebuki.season.frost import coming_nights, frost_type, leaf_depression
from mebuki.season.frost_hours import BudHarm, frost_hours
from mebuki.season.frost_thresholds import (
    APPLE,
    APRICOT,
    CHERRY,
    PEACH,
    PLUM,
    BudStage,
    bud_stage,
    celsius,
    critical_temperature,
    fruit_table,
    killed_share,
)
from mebuki.season.night_formulas import cooling_curve, fit_night_minimum
from tests.builders import a_figure, a_place, a_site, a_taxon
from tests.published_tables import PUBLISHED, published_rows
from tests.season.hourly_weather import a_daily_wave, some_hours

ON = date(2013, 4, 1)
BARE: dict[str, object] = {"shoot": "unknown", "new_growth_damage": "unknown"}


def frost_checks() -> dict[str, Any]:
    """Return the check cases of the night formulas."""
    text = (PUBLISHED / "frost_checks.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    return found


@pytest.mark.parametrize(
    ("wind", "cloud", "kelvin"),
    [(0.2, 0, 2.9), (0.5, 0, 2.0), (1, 0, 1.5), (2, 0, 1.1), (4, 0, 0.8), (0.5, 0.5, 1.2),
     (0.5, 1.0, 0.3)],
)  # fmt: skip
def test_leaves_are_colder_than_the_air_by_wind_and_cloud(
    wind: float, cloud: float, kelvin: float
) -> None:
    """At 0 °C and 5 hPa for a leaf of 5 cm: inside Leuning and Cremer's 1 to 3 K, ±0.06."""
    assert leaf_depression(0.0, 0.5, wind, cloud) == pytest.approx(kelvin, abs=0.06)


@given(st.floats(-20, 20), st.floats(0.05, 2), st.floats(0, 10), st.floats(0, 1), st.floats(0, 1))
def test_a_leaf_under_the_night_sky_is_never_warmer_than_the_air(
    air: float, vapour: float, wind: float, cloud: float, sky: float
) -> None:
    """The depression lies between 0 and 5 K and shrinks with the sky that is hidden."""
    found = float(leaf_depression(air, vapour, wind, cloud, sky))
    assert 0 <= found <= 5
    assert found <= float(leaf_depression(air, vapour, wind, cloud, 1.0)) + 1e-12


def test_the_two_step_night_formula_of_the_fao() -> None:
    """Ten FAO nights: coefficients to 1e-3, and −0.741 °C for 10 and 2 °C."""
    case = frost_checks()["ffst"]
    found = fit_night_minimum(case["T0"], case["Td"], case["Tn"])
    assert found.air == pytest.approx(case["two_step"]["b1"], abs=1e-4)
    assert found.dew == pytest.approx(case["two_step"]["b2"], abs=1e-3)
    assert found.constant == pytest.approx(case["two_step"]["b0"], abs=1e-3)
    np.testing.assert_allclose(
        found.predict(case["T0"], case["Td"]), case["two_step"]["predicted"], atol=6e-3
    )
    assert found.predict(10, 2) == pytest.approx(case["check"]["Tmin"], abs=1e-4)


def test_the_first_step_of_the_night_formula_is_the_fit_on_air_alone() -> None:
    """Ten FAO nights: −5.909 °C beside the slope, and errors of 0.638 and 0.631 °C."""
    case = frost_checks()["ffst"]
    air, dew, lowest = (np.array(case[name]) for name in ("T0", "Td", "Tn"))
    found = fit_night_minimum(air, dew, lowest)
    alone = lowest.mean() - found.air * air.mean()
    assert found.air == pytest.approx(case["t_only"]["b1"], abs=1e-4)
    assert alone == pytest.approx(case["t_only"]["b0"], abs=1e-3)
    for rest, key in ((found.air * air + alone, "t_only"), (found.predict(air, dew), "two_step")):
        error = np.sqrt(np.mean((lowest - rest) ** 2))
        assert error == pytest.approx(case[key]["rmse"], abs=1e-3)


def test_the_cooling_curve_of_the_fao() -> None:
    """A night of 15 h from 0.95 to −5.45 °C, hours 3 to 15, to 1e-6."""
    case = frost_checks()["ftrend"]
    found = cooling_curve(case["T0"], case["Tmin"], case["n"], np.arange(3, 16))
    np.testing.assert_allclose(found, case["expected_h3_to_h15"], atol=1e-6)
    with pytest.raises(RangeError, match="begins 2 h after sunset"):
        cooling_curve(1, -5, 15, [1])


@pytest.mark.parametrize(
    ("wind", "cloud", "rain", "kind"),
    [(1.0, 0.1, 0, "radiation"), (3.0, 0.1, 0, "advective"), (1.0, 0.8, 0, "advective"),
     (1.0, 0.1, 2, "advective"), (1.0, float("nan"), 0, "radiation")],
)  # fmt: skip
def test_kinds_of_frost(wind: float, cloud: float, rain: float, kind: str) -> None:
    """Calm, clear and dry is radiation frost; wind, cloud or rain is not."""
    assert frost_type(wind, cloud, rain) == kind


def test_ten_nights_with_their_minimum_time_and_lead() -> None:
    """A daily wave with its minimum at 5 h UTC: ten nights, leads 0 to 9, spread growing."""
    site = a_site(longitude=0, time_zone="UTC")
    here = some_hours(f"{ON}T00", a_daily_wave(14, 5, 6), cloud_cover=0.0, wind_speed=0.5)
    found = coming_nights(here, site, a_place(), ON)
    assert [night.lead_days for night in found.nights] == list(range(10))
    assert found.remarks == ()
    first = found.nights[0]
    assert first.evening == ON
    assert first.air_minimum == pytest.approx(-1.0)
    assert first.minimum_at == datetime(2013, 4, 2, 5, tzinfo=UTC)
    assert first.begins == datetime(2013, 4, 1, 16, tzinfo=UTC)
    assert first.ends == datetime(2013, 4, 2, 10, tzinfo=UTC)
    assert 1.0 < first.air_minimum - first.leaf_minimum < 3.5
    assert first.frost_type == "radiation"
    spreads = [night.spread for night in found.nights]
    assert spreads == sorted(spreads)
    assert (spreads[0], spreads[-1]) == (2.0, 4.0)


def test_a_night_with_unknown_hours_is_left_out_and_named() -> None:
    """Three missing core hours hide a night; two do not."""
    site = a_site(longitude=0, time_zone="UTC")
    air = a_daily_wave(5, 5, 6)
    air[24 + 2 : 24 + 5] = np.nan
    air[48 + 3 : 48 + 5] = np.nan
    found = coming_nights(some_hours(f"{ON}T00", air), site, a_place(), ON)
    assert [night.lead_days for night in found.nights] == [1, 2, 3]
    assert len(found.remarks) == 1
    assert "2013-04-01" in found.remarks[0]
    assert "3 of its hours" in found.remarks[0]


def test_no_weather_at_all_names_the_next_nights() -> None:
    """Without any hour the coming nights are named as not to be judged, none is safe."""
    found = coming_nights(some_hours(f"{ON}T00", []), a_site(), a_place(), ON)
    assert found.nights == ()
    assert [remark[13:23] for remark in found.remarks] == ["2013-04-01", "2013-04-02", "2013-04-03"]


def test_a_night_carries_its_leaf_hours_for_the_severity() -> None:
    """19 hours from 16 h to 10 h; their lowest is the leaf minimum, and they have a class."""
    here = some_hours(f"{ON}T00", a_daily_wave(3, 1, 6), wind_speed=0.5, cloud_cover=0.0)
    night = coming_nights(here, a_site(longitude=0, time_zone="UTC"), a_place(), ON).nights[0]
    assert len(night.leaf_hours) == 19
    assert min(night.leaf_hours) == night.leaf_minimum
    bloom = critical_temperature(a_taxon("malus-halliana", hardiness=BARE), BudStage.FLOWERING)
    assert bloom is not None
    assert frost_hours(night.leaf_hours, bloom).severity == BudHarm.MOST


@pytest.mark.parametrize(("day", "hours"), [(date(2013, 3, 9), 17), (date(2013, 11, 2), 19)])
def test_nights_of_the_clock_change_have_their_hours(day: date, hours: int) -> None:
    """In New York the night to 10 March has an hour less, that to 3 November one more."""
    start = f"{day - timedelta(days=1)}T00"
    found = coming_nights(some_hours(start, a_daily_wave(6, 5, 6)), a_site(), a_place(), day)
    night = found.nights[0]
    assert (night.ends - night.begins).total_seconds() / 3600 == hours


def test_a_minimum_that_is_held_has_little_spread() -> None:
    """Where a heater holds 2 °C the forecast's error does not reach the tree."""
    here = some_hours(f"{ON}T00", np.maximum(a_daily_wave(4, 3, 6), 2.0))
    place = a_place("house", kind="greenhouse", minimum_held=2.0)
    found = coming_nights(here, a_site(longitude=0, time_zone="UTC"), place, ON)
    assert found.nights[0].air_minimum == 2.0
    assert found.nights[0].spread == 0.5


def test_wind_at_a_sheltered_place_does_not_change_the_kind_of_frost() -> None:
    """The kind of frost is that of the open site: 6 m/s outside is advective behind a wall."""
    here = some_hours(f"{ON}T00", a_daily_wave(3, 0, 5), wind_speed=6 * 0.2, cloud_cover=0.0)
    found = coming_nights(here, a_site(longitude=0, time_zone="UTC"), a_place(wind_share=0.2), ON)
    assert found.nights[0].frost_type == "advective"


TABLES = {table.crop: table for table in (APPLE, CHERRY, PEACH, PLUM, APRICOT)}


@pytest.mark.parametrize("row", published_rows("bud_critical_temps.csv"), ids=str)
def test_every_row_of_the_fruit_tables(row: dict[str, str]) -> None:
    """10 and 90 % kill of 41 stages of five crops, as published."""
    ten, ninety = TABLES[row["crop"]].rows[row["stage"]]
    assert ten == float(row["T10_F"])
    assert ninety == (float(row["T90_F"]) if row["T90_F"] else None)
    assert celsius(ten) == pytest.approx(float(row["T10_C"]), abs=0.006)


@pytest.mark.parametrize(
    ("taxon", "crop"),
    [("malus-halliana", "apple"), ("prunus-mume", "apricot"), ("prunus-yedoensis", "sweet cherry"),
     ("prunus-persica", "peach"), ("prunus-spinosa", "european plum")],
)  # fmt: skip
def test_fruit_genera_take_the_table_of_their_crop(taxon: str, crop: str) -> None:
    """Full bloom of a taxon is that of its crop, and the source names it."""
    table = fruit_table(taxon)
    assert table is not None
    assert table.crop == crop
    found = critical_temperature(a_taxon(taxon, hardiness=BARE), BudStage.FLOWERING)
    assert found is not None
    assert found.source.startswith(crop)


@pytest.mark.parametrize(
    ("stage", "ten"),
    [(BudStage.SWELLING, -7), (BudStage.GREEN_TIP, -4), (BudStage.UNFOLDING, -2.5),
     (BudStage.FLOWERING, -2)],
)  # fmt: skip
def test_defaults_by_stage(stage: BudStage, ten: float) -> None:
    """An unknown broadleaf: −7, −4, −2.5 and −2 °C, growing tenderer with the stage."""
    found = critical_temperature(a_taxon("acer-palmatum", hardiness=BARE), stage)
    assert found is not None
    assert found.ten_percent == ten
    assert found.ninety_percent < ten


def test_the_taxons_own_value_comes_first_and_dormant_buds_may_be_unknown() -> None:
    """New growth and shoots from the taxon file; without a shoot value nothing is claimed."""
    known = a_taxon(
        hardiness={"shoot": a_figure(-25, "a trial"), "new_growth_damage": a_figure(-3, "a paper")}
    )
    unfolding = critical_temperature(known, BudStage.UNFOLDING)
    dormant = critical_temperature(known, BudStage.DORMANT)
    assert unfolding is not None
    assert dormant is not None
    assert (unfolding.ten_percent, unfolding.source) == (-3, "a paper")
    assert dormant.ten_percent == -25
    assert critical_temperature(a_taxon(hardiness=BARE), BudStage.DORMANT) is None


def test_milestones_lead_to_stages() -> None:
    """Dormant before any and after the shoots have grown; tender from swelling to flowers."""
    assert bud_stage(None) is BudStage.DORMANT
    assert bud_stage(Milestone.BREAK) is BudStage.GREEN_TIP
    assert bud_stage(Milestone.SHOOTS_GROWN) is BudStage.DORMANT
    opening = (Milestone.SWELL, Milestone.BREAK, Milestone.UNFOLDED, Milestone.FLOWERING)
    assert all(bud_stage(milestone) is not BudStage.DORMANT for milestone in opening)


def test_the_killed_share_passes_through_the_published_points() -> None:
    """10 % at T10, 90 % at T90, never outside 0..1."""
    bloom = critical_temperature(a_taxon("malus-halliana", hardiness=BARE), BudStage.FLOWERING)
    assert bloom is not None
    points = [bloom.ten_percent, bloom.ninety_percent, 5.0, -30.0]
    np.testing.assert_allclose(killed_share(points, bloom), [0.1, 0.9, 0, 1], atol=1e-9)
