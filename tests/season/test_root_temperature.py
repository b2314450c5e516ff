"""Root-balls against exact solutions, a radial freezing model, and the laws of cooling."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import RangeError
from mebuki.season.frost import coming_nights
from mebuki.season.hardiness import RootLimit
from mebuki.season.root_ball import Matter, RootBalls, Surroundings, surface_transfer
from mebuki.season.root_studies import KillingRange
from mebuki.season.root_temperature import root_ball, root_nights, stepped
from tests.builders import ON, a_place, a_pot, a_site, a_tree
from tests.published_tables import PUBLISHED, published_columns
from tests.season.hourly_weather import a_daily_wave, some_hours

FULL_LATENT = Matter(latent_share=1.0)


def checks() -> dict[str, Any]:
    """Return the thermal check cases."""
    text = (PUBLISHED / "thermal_checks.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    return found


def one_pot(
    volume: float, surface: float, insulation: float = 0.0, ground: float = 0.0
) -> RootBalls:
    """Return a single pot [m3, m2, m2 K/W]."""
    return RootBalls(*(np.array([v]) for v in (volume, surface, ground, insulation, 0.0)))


def constant_air(hours: int, first: float, then: float, transfer: float) -> Surroundings:
    """Return surroundings that step from one air temperature to another after one hour."""
    air = np.full(hours, then)
    air[0] = first
    quiet = np.zeros(hours)
    return Surroundings(air, air, np.full(hours, transfer), quiet, quiet)


@pytest.mark.parametrize("row", checks()["lumped"], ids=lambda row: f"{row['V_L']} L")
def test_transfer_and_time_constant_of_boxes(row: dict[str, float]) -> None:
    """Three boxes with all faces in air: U within 0.01 W/m²K, τ within 0.01 h."""
    pot = one_pot(row["V_L"] / 1000, row["A_m2"])
    through = pot.conductance(row["h"], row["k"])[0]
    assert through / row["A_m2"] == pytest.approx(row["U"], abs=0.01)
    tau = Matter().thawed * row["V_L"] / 1000 / through / 3600
    assert tau == pytest.approx(row["tau_h"], abs=0.01)


@pytest.mark.parametrize("air", [-2, -5, -10])
def test_time_constants_and_freezing_times_of_the_pot_table(air: int) -> None:
    """24 pots and winds: U and τ to the digits printed, hours to freeze within 2 %."""
    columns = published_columns(
        "pot_time_constants.csv", "volume_L", "area_m2", "h_W_m2K", "U_eff_W_m2K", "tau_h",
        "hours_to_freeze_through_at_-2C" if air == -2 else f"at_{air}C",
    )  # fmt: skip
    matter = Matter(latent_share=1.0, frozen_conductivity=0.5)
    for litres, area, transfer, u_value, tau, hours in np.column_stack(columns):
        pot = one_pot(litres / 1000, area)
        through = pot.conductance(transfer, 0.5)[0]
        assert through / area == pytest.approx(u_value, abs=0.02)
        assert matter.thawed * litres / 1000 / through / 3600 == pytest.approx(tau, abs=0.01)
        heat = matter.latent * pot.volume[0] / (through * -air * 3600)
        assert heat == pytest.approx(hours, rel=0.02, abs=0.06)
        if hours < 3:  # too short to be seen in full hours
            continue
        found = stepped(constant_air(int(hours) + 4, 0.0, air, transfer), pot, matter=matter)
        share = found.frozen_share[0]
        last = int(np.flatnonzero(share < 1)[-1])
        done = last + (1 - share[last]) / (share[last] - share[last - 1])
        # the air falls over the first hour, as if at once after half of it
        assert done == pytest.approx(hours + 0.5, rel=0.02, abs=0.06)


BODIES = {"slab": (1.0, 1 / 3), "cylinder": (1 / 2, 1 / 2), "sphere": (1 / 3, 3 / 5)}
"""V/A over the half thickness or radius, and the shape factor, of each body."""


@pytest.mark.parametrize(
    "case", checks()["cases"], ids=lambda row: f"{row['shape']} {row['r_or_half_m']} m"
)
def test_bodies_cool_as_the_exact_series_says(case: dict[str, Any]) -> None:
    """Slab, cylinder, sphere: mean of the exact series within 0.12 K, the lumped one to 0.01."""
    length, factor = BODIES[case["shape"]]
    pot = one_pot(case["r_or_half_m"] * length, 1.0)
    rate = pot.conductance(case["h"], case["k"], factor)[0] / (case["C"] * pot.volume[0])
    fall = np.exp(-rate * case["hours"] * 3600)
    found = case["Tair"] + (case["T0"] - case["Tair"]) * fall
    assert found == pytest.approx(case["T_mean_exact"], abs=0.12)
    assert found == pytest.approx(case["T_lumped_with_m"], abs=0.01)


@pytest.mark.parametrize(
    ("body", "column", "wide"), [("slab", "slab", 0.09), ("cylinder", "cyl", 0.13),
                                 ("sphere", "sphere", 0.20)],
)  # fmt: skip
def test_the_time_constant_agrees_with_the_first_term_of_the_series(
    body: str, column: str, wide: float
) -> None:
    """Within 5 % of the exact first root to a Biot number of 2; to 5, slab 9, sphere 20 %.

    At 10, beyond what the model is for, within 25 %.
    """
    biot, root = published_columns("heisler_one_term.csv", "Bi", f"{column}_zeta1")
    length, factor = BODIES[body]
    for number, zeta in zip(biot, root, strict=True):
        radius, conductivity = 0.1, 0.5
        pot = one_pot(radius * length, 1.0)
        transfer = number * conductivity / radius
        lumped = pot.conductance(transfer, conductivity, factor)[0] / pot.volume[0]
        exact = zeta**2 * conductivity / radius**2
        within = 0.05 if number <= 2 else wide if number <= 5 else 0.25
        assert lumped == pytest.approx(exact, rel=within)


def bessel_one(x: float) -> float:
    """Return the Bessel function J1 by its integral (Bessel 1824)."""
    turn = (np.arange(2000) + 0.5) / 2000 * np.pi
    return float(np.cos(turn - x * np.sin(turn)).mean())


@pytest.mark.parametrize(("body", "column"), [("slab", "slab"), ("cylinder", "cyl"),
                                              ("sphere", "sphere")])  # fmt: skip
def test_nearly_all_heat_leaves_with_the_time_constant(body: str, column: str) -> None:
    """The mean's share of the first term, from C1: 1 in the model, above 0.95 to Bi 2, 0.75 to 10.

    The mean of C1 cos ζ, C1 J0(ζ) and C1 sin ζ / ζ over slab, cylinder and sphere.
    """
    columns = published_columns("heisler_one_term.csv", "Bi", f"{column}_zeta1", f"{column}_C1")
    for biot, zeta, first in np.column_stack(columns):
        share = (
            first
            * {
                "slab": np.sin(zeta) / zeta,
                "cylinder": 2 * bessel_one(zeta) / zeta,
                "sphere": 3 * (np.sin(zeta) - zeta * np.cos(zeta)) / zeta**3,
            }[body]
        )
        assert (0.95 if biot <= 2 else 0.75) < share <= 1


@pytest.mark.parametrize("case", checks()["cases"], ids=lambda row: row["shape"])
def test_the_core_lags_behind_the_mean_that_the_model_gives(case: dict[str, Any]) -> None:
    """Centre of the exact series: always warmer than the cooling mean, as the model's note says."""
    assert case["Tcentre"] > case["T_mean_exact"]
    length, factor = BODIES[case["shape"]]
    pot = one_pot(case["r_or_half_m"] * length, 1.0)
    rate = pot.conductance(case["h"], case["k"], factor)[0] / (case["C"] * pot.volume[0])
    mean = case["Tair"] + (case["T0"] - case["Tair"]) * np.exp(-rate * case["hours"] * 3600)
    assert mean < case["Tcentre"]


def test_freezing_follows_the_radial_model() -> None:
    """A cylinder of 8 cm at −6 °C: frozen share within 0.06 of the one-dimensional model."""
    case = checks()["plateau_radial_vs_lumped"]
    found = stepped(constant_air(27, 2.0, -6.0, 12.0), one_pot(0.04, 1.0), matter=FULL_LATENT)
    hours = np.array(case["hours"][:-1]) + 0.5
    share = np.interp(hours, np.arange(27), found.frozen_share[0])
    # to 16 h as published; at 20 h the lumped model is 0.10 ahead of the radial one
    np.testing.assert_allclose(share[:-1], np.array(case["frozen_1d"][:-2]), atol=0.06)
    np.testing.assert_allclose(share, np.array(case["frozen_lumped"][:-1]), atol=0.03)


def test_the_wall_is_near_that_of_the_radial_model() -> None:
    """While the core stays at 0 °C the wall is within 0.45 K of the one-dimensional model."""
    case = checks()["plateau_radial_vs_lumped"]
    found = stepped(constant_air(27, 2.0, -6.0, 12.0), one_pot(0.04, 1.0), matter=FULL_LATENT)
    hours, wall = np.array(case["hours"]), np.array(case["T_wall_1d"])
    freezing = (hours >= 4) & (hours <= 20)
    modelled = np.interp(hours[freezing] + 0.5, np.arange(27), found.wall[0])
    np.testing.assert_allclose(modelled, wall[freezing], atol=0.45)


@pytest.mark.parametrize(
    ("tau", "share"), [(1.0, 0.97), (2.0, 0.89), (4.0, 0.69), (8.0, 0.43), (24.0, 0.16)]
)
def test_a_daily_wave_is_damped_as_a_first_order_system(tau: float, share: float) -> None:
    """Amplitude 1/√(1+(ωτ)²) of a sine day, within 0.015."""
    surface, transfer = 1.0, 10.0
    volume = 0.001
    wanted = Matter().thawed * volume / (tau * 3600)
    resistance = surface / wanted - 1 / transfer - 0.5 * volume / surface / 0.5
    pot = one_pot(volume, surface, insulation=resistance)
    air = a_daily_wave(20, 20, 8)
    quiet = np.zeros(len(air))
    found = stepped(Surroundings(air, air, np.full(len(air), transfer), quiet, quiet), pot)
    last = found.mean[0][-24:]
    assert (last.max() - last.min()) / 16 == pytest.approx(share, abs=0.015)


def test_energy_is_conserved_across_the_plateau() -> None:
    """Heat given off while freezing through equals the latent heat, whatever the path."""
    pot = one_pot(0.001, 0.0657)
    matter = FULL_LATENT
    through = pot.conductance(15.0, matter.frozen_conductivity)[0]
    found = stepped(constant_air(60, 0.0, -5.0, 15.0), pot, matter=matter)
    freezing = np.flatnonzero((found.frozen_share[0] > 0.2) & (found.frozen_share[0] < 0.9))
    rate = np.diff(found.frozen_share[0][freezing])
    given_off = rate * matter.latent * pot.volume[0]
    np.testing.assert_allclose(given_off, through * 5.0 * 3600, rtol=1e-6)


temperatures = st.lists(st.floats(-20, 15), min_size=6, max_size=6)


@given(temperatures, st.floats(0, 8), st.integers(0, 5))
def test_a_colder_night_never_raises_the_minimum(
    nodes: list[float], colder: float, where: int
) -> None:
    """Lowering the air anywhere never warms a root-ball at any hour."""
    chilled = list(nodes)
    chilled[where] -= colder
    hours = np.arange(0, 60)
    pot = one_pot(0.0046, 0.2)
    found = []
    for points in (nodes, chilled):
        air = np.interp(hours, np.arange(6) * 12, points)
        air[0] = nodes[0]
        quiet = np.zeros(60)
        around = Surroundings(air, air, np.full(60, 12.0), quiet, quiet)
        found.append(stepped(around, pot).mean[0])
    assert (found[1] <= found[0] + 1e-9).all()


@given(st.floats(-18, 0), st.floats(0.05, 3.0))
def test_more_insulation_never_lowers_the_minimum(cold: float, insulation: float) -> None:
    """From one start, through a cold spell and back, insulation keeps a root-ball warmer."""
    hours = np.arange(0, 96)
    air = 6 + (cold - 6) * np.sin(np.pi * hours / 95)
    quiet = np.zeros(96)
    around = Surroundings(air, air, np.full(96, 12.0), quiet, quiet)
    bare, wrapped = (stepped(around, one_pot(0.0046, 0.2, r)).mean[0] for r in (0.0, insulation))
    assert wrapped.min() >= bare.min() - 1e-6


def test_foam_turns_hours_into_days() -> None:
    """30 mm of foam turns a small pot's freezing at −5 °C from about 7 into about 79 hours."""
    hours = []
    for resistance in (0.0, 0.86):
        pot = one_pot(0.00099, 0.0657, resistance)
        matter = Matter(latent_share=1.0, frozen_conductivity=0.5)
        found = stepped(constant_air(120, 0.0, -5.0, 15.0), pot, matter=matter)
        hours.append(int((found.frozen_share[0] < 1).sum()))
    assert hours[0] == pytest.approx(7, abs=1.5)
    assert hours[1] == pytest.approx(79, abs=4)


def test_ground_contact_keeps_a_pot_warmer_in_a_sudden_frost() -> None:
    """A pot on soil that is still mild freezes later than the same pot on a bench."""
    air = np.concatenate((np.full(240, 6.0), np.full(6, -8.0)))
    here = some_hours("2013-01-01T00", air, cloud_cover=1.0)
    found = []
    for grounded in (False, True):
        balls = RootBalls.of([a_tree()], a_place(pot_on_ground=grounded))
        found.append(root_ball(here, balls).frozen_share[0, -1])
    assert found[1] < found[0]


def test_a_gap_leaves_the_root_ball_unknown_until_it_has_settled() -> None:
    """A gap of four hours or more is unknown, and so are the twelve hours after it."""
    air = np.full(60, 3.0)
    air[20:26] = np.nan
    found = root_ball(some_hours("2013-01-01T00", air), one_pot(0.005, 0.2))
    assert np.isfinite(found.mean[0, :20]).all()
    assert np.isnan(found.mean[0, 20:38]).all()
    assert np.isfinite(found.mean[0, 39:]).all()


def test_root_nights_tell_the_longest_stretch_below_the_limit() -> None:
    """A night at −8 °C for a small pot with a limit of −4 °C: hours below, limit, source."""
    air = np.full(24 * 5, 4.0)
    air[26:36] = -8.0
    here = some_hours(f"{ON}T00", air, cloud_cover=1.0)
    site, place = a_site(), a_place()
    nights = coming_nights(here, site, place, ON).nights
    trees = [a_tree("Small", pot=a_pot(length_cm=9, width_cm=7, height_cm=3)), a_tree("Large")]
    temperatures_ = root_ball(here, RootBalls.of(trees, place))
    killing = KillingRange(-13.0, -5.0, "two studies", single=False)
    limits = [RootLimit(-4.0, -2.0, "a source", killing), RootLimit(-30.0, -20.0, "another")]
    small, large = root_nights(temperatures_, limits, nights)
    assert small[0].evening == ON
    assert small[0].mean_minimum == pytest.approx(-8, abs=0.5)
    assert 3 <= small[0].hours_below <= 9
    assert small[0].limit_source == "a source"
    assert (small[0].killing_coldest, small[0].killing_warmest) == (-13, -5)
    assert small[0].killing_source == "two studies"
    assert large[0].killing_coldest is None
    assert large[0].hours_below == 0
    assert large[0].mean_minimum > small[0].mean_minimum


def test_transfer_by_wind_matches_the_usual_values() -> None:
    """8 in still air, 15 in a light wind of 2 m/s, 25 on a windy bench of 5 m/s."""
    np.testing.assert_allclose(surface_transfer(np.array([0.0, 2.0, 5.0])), [7.9, 14.9, 25.4])


def test_impossible_pots_and_matter_are_refused() -> None:
    """No volume, negative insulation or more than all of the volume is an error that says so."""
    with pytest.raises(RangeError, match="volume"):
        one_pot(0.0, 0.1)
    with pytest.raises(RangeError, match="insulation"):
        one_pot(0.001, 0.1, insulation=-1)
    with pytest.raises(RangeError, match=r"solids 0\.8 and water 0\.5"):
        Matter(solids=0.8, water=0.5)
