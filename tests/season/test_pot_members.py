"""A garden under an ensemble: the same as member by member, and what follows from it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.weather import HourlySeries
from mebuki.errors import RangeError
from mebuki.season.frost import coming_nights
from mebuki.season.hardiness import RootLimit
from mebuki.season.places import at_place
from mebuki.season.pot_members import MemberExtremes, Stand, member_extremes
from mebuki.season.pot_store import Leaves, Pots
from mebuki.season.root_ball import RootBalls
from mebuki.season.root_temperature import root_ball, root_nights
from mebuki.season.water_outlook import water_outlook
from tests.builders import a_place, a_pot, a_rulebook, a_site, a_tree
from tests.season.hourly_weather import a_daily_wave, some_hours

SITE = a_site(longitude=0, time_zone="UTC")
ON = date(2013, 3, 20)
LIMIT = RootLimit(-3.0, -1.0, "a source")
TREES = [a_tree("Small", pot=a_pot(length_cm=9, width_cm=7, height_cm=3)), a_tree("Large")]


def a_member(colder: float, days: int = 10) -> HourlySeries:
    """Return ten days of sunny weather with frosts, five of them before the day of the tests."""
    hours = np.arange(24 * days)
    sun = np.maximum(500 * np.sin(2 * np.pi * (hours - 6) / 24), 0)
    air = a_daily_wave(days, 2 - colder, 7)
    return some_hours("2013-03-15T00", air, global_radiation=sun, cloud_cover=0.2)


def a_stand(place_id: str = "bench", **changes: object) -> Stand:
    """Return two trees, a small and a larger one, at one place."""
    place = a_place(place_id, **changes)
    unknown = np.full(2, np.nan)
    return Stand(
        place=place,
        balls=RootBalls.of(TREES, place),
        limits=[LIMIT, LIMIT],
        pots=Pots.of(TREES, a_rulebook().substrates, ON),
        leaves=Leaves(np.full(2, 0.9), np.full(2, 0.15), unknown, unknown),
    )


STANDS = [a_stand(), a_stand("frame", sky_share=0.3, wind_share=0.3, insulation=0.4)]
MEMBERS = [a_member(colder) for colder in (0.0, 3.0, 6.0)]
FOUND = member_extremes(MEMBERS, SITE, STANDS, ON, nights=6)


@pytest.mark.parametrize("member", range(3))
@pytest.mark.parametrize("stand", range(2))
def test_members_are_as_the_outlook_of_each_alone(member: int, stand: int) -> None:
    """Root-balls, leaves and water of every night equal those of the single models."""
    here = at_place(MEMBERS[member], STANDS[stand].place)
    nights = coming_nights(here, SITE, STANDS[stand].place, ON).nights
    balls = root_ball(here, STANDS[stand].balls, STANDS[stand].place.sky_share)
    alone = root_nights(balls, [LIMIT, LIMIT], nights)
    for tree in range(2):
        row = 2 * stand + tree
        for night, root in enumerate(alone[tree][:4]):
            assert FOUND.root_minimum[member, row, night] == pytest.approx(root.mean_minimum)
            assert FOUND.wall_minimum[member, row, night] == pytest.approx(root.wall_minimum)
            assert FOUND.hours_below[member, row, night] == root.hours_below
            leaf = nights[night].leaf_minimum
            assert FOUND.leaf_minimum[member, row, night] == pytest.approx(leaf)
    water = water_outlook(here, SITE, STANDS[stand].pots, STANDS[stand].leaves, ON, balls)
    first = FOUND.least_share[member, 2 * stand : 2 * stand + 2, 0]
    dry = [water.pots[tree][0].dry_at is not None for tree in range(2)]
    assert (first <= 1e-9).tolist() == dry


def test_nights_beyond_the_weather_are_unknown() -> None:
    """Ten days of hours end in the fifth night: it and the sixth are NaN, not safe."""
    assert np.isfinite(FOUND.root_minimum[..., :4]).all()
    assert np.isnan(FOUND.root_minimum[..., 4:]).all()
    assert np.isnan(FOUND.hours_below[..., 4:]).all()
    assert np.isnan(FOUND.root_chance(LIMIT.mature)[..., 4:]).all()
    assert FOUND.evenings.tolist() == [ON.toordinal() + ahead for ahead in range(6)]


def test_an_unknown_stretch_of_one_member_leaves_the_others_known() -> None:
    """Members with a gap do not count; the chance comes from the rest."""
    broken = a_member(0.0)
    broken.air_temperature[130:150] = np.nan
    found = member_extremes([broken, *MEMBERS[1:]], SITE, STANDS[:1], ON, nights=2)
    assert np.isnan(found.root_minimum[0, :, 0]).all()
    assert np.isfinite(found.root_minimum[1:]).all()
    assert found.root_chance(100.0)[0, 0] == pytest.approx((2 + 1 / 3) / (2 + 2 / 3))


@given(st.floats(-12, 5), st.floats(0, 5))
def test_chances_lie_in_bounds_and_rise_with_the_limit(limit: float, higher: float) -> None:
    """Roots, walls and leaves: a chance in 0..1 that never falls when the limit rises."""
    cut = replace(FOUND, **{name: getattr(FOUND, name)[..., :4] for name in
                            ("root_minimum", "wall_minimum", "leaf_minimum")})  # fmt: skip
    for chance in (cut.root_chance, cut.wall_chance, cut.leaf_chance):
        low, high = chance(limit), chance(limit + higher)
        assert ((low >= 0) & (high <= 1) & (low <= high)).all()


def test_chances_of_lasting_cold_and_of_dry_pots() -> None:
    """Two of three members with two hours below: (2 + 1/3)/(3 + 2/3); one dry of three likewise."""
    shape = (3, 1, 1)
    blank = np.zeros(shape)
    found = MemberExtremes(
        np.array([1]), blank, blank, blank,
        np.array([0.0, 2.0, 5.0]).reshape(shape), blank, np.array([0.4, 0.0, 0.1]).reshape(shape),
    )  # fmt: skip
    assert found.lasting_chance(2).item() == pytest.approx((2 + 1 / 3) / (3 + 2 / 3))
    assert found.dry_chance().item() == pytest.approx((1 + 1 / 3) / (3 + 2 / 3))


def test_nothing_to_step_is_refused() -> None:
    """No member, no stand, or members of different hours."""
    with pytest.raises(RangeError, match="0 members and 2 stands"):
        member_extremes([], SITE, STANDS, ON)
    with pytest.raises(RangeError, match="the same hours"):
        member_extremes([a_member(0), a_member(0, days=9)], SITE, STANDS, ON)


def test_use_is_that_of_a_local_day() -> None:
    """The sum over the hours of the day of the evening, as the single balance has it."""
    later = member_extremes(MEMBERS[:1], SITE, STANDS[:1], ON + timedelta(days=1), nights=1)
    np.testing.assert_allclose(FOUND.use[0, :2, 1], later.use[0, :, 0])
    assert (FOUND.use[0, :, 0] > 0).all()
