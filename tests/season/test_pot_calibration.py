"""What weighing, finding a pot dry, and a probe teach of one's own pot."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import RangeError
from mebuki.season.pot_calibration import (
    DryCheck,
    EasyWater,
    checked_water,
    doubtful_weighings,
    dry_checks,
    share_by_particle,
    table_water,
    weighed_water,
)
from mebuki.season.pot_store import easy_water, easy_water_range
from mebuki.season.probe_fit import (
    bare_constant,
    fit_time_constant,
    usual_transfer,
    with_probes,
    with_time_constant,
)
from mebuki.season.root_ball import MOIST, RootBalls, Surroundings
from mebuki.season.root_temperature import stepped
from tests.builders import a_place, a_pot, a_record, a_rulebook, a_tree
from tests.season.hourly_weather import a_daily_wave

ON = date(2013, 7, 10)
TABLE = table_water(0.6, "a table")


def test_two_weighings_replace_the_table() -> None:
    """5.4 kg drained and 4.7 kg when dry: 0.7 L, give or take a tenth, and the table is unused."""
    weighings = [
        a_record("pot-weighed", "2013-06-01", amount=5.4),
        a_record("pot-weighed", "2013-06-02", amount=4.7),
    ]
    tree = a_tree(records=weighings)
    found = weighed_water(tree)
    assert found is not None
    assert found.litres == pytest.approx(0.7)
    assert (found.low, found.high) == pytest.approx((0.63, 0.77))
    assert easy_water(tree, a_rulebook().substrates["mixed-mineral"], ON) == pytest.approx(0.7)


def test_weighings_from_before_a_repotting_and_impossible_ones_do_not_count() -> None:
    """Old ones are of another root-ball; 2 % to 60 % of the volume is what a pot can give."""
    before = [
        a_record("pot-weighed", "2012-06-01", amount=5.4),
        a_record("pot-weighed", "2012-06-02", amount=4.7),
        a_record("repotted", "2013-03-01"),
    ]
    assert weighed_water(a_tree(records=before)) is None
    for lightest in (0.2, 5.39):
        absurd = [
            a_record("pot-weighed", "2013-06-01", amount=5.4),
            a_record("pot-weighed", "2013-06-02", amount=lightest),
        ]
        assert weighed_water(a_tree(records=absurd)) is None
        assert "a pot of 3.27 L" in doubtful_weighings(a_tree(records=absurd))
    assert doubtful_weighings(a_tree(records=before)) == ""


def test_the_table_is_told_with_its_range() -> None:
    """Mixed mineral: 0.12 of the volume, 0.06 to 0.15, cut by 15 % where roots have grown."""
    tree = a_tree()
    substrate = a_rulebook().substrates["mixed-mineral"]
    found = easy_water_range(tree, substrate, ON)
    share = substrate.easily_available_water
    assert found.litres == pytest.approx(share.value * 0.85 * tree.pot.volume)
    assert found.low <= found.litres <= found.high
    assert share.source in found.source


def test_a_pot_found_dry_early_holds_less_and_one_still_wet_holds_more() -> None:
    """After half of the table's water it was dry; after twice of it, still wet."""
    dry = checked_water(TABLE, [DryCheck(0.3, dry=True)])
    wet = checked_water(TABLE, [DryCheck(1.2, dry=False)])
    assert dry.litres < 0.8 * TABLE.litres
    assert wet.litres > 1.2 * TABLE.litres
    assert checked_water(TABLE, []) is TABLE


def test_many_checks_find_the_true_water() -> None:
    """A pot of 0.35 L judged 30 times: within 15 %, with a narrower range than the table's."""
    generator = np.random.default_rng(5)
    used = generator.uniform(0.1, 0.9, 30)
    checks = [DryCheck(u, bool(u > 0.35 * np.exp(generator.normal(0, 0.2)))) for u in used]
    found = checked_water(TABLE, checks)
    assert found.litres == pytest.approx(0.35, rel=0.15)
    assert found.high / found.low < 0.6 * TABLE.high / TABLE.low


def test_weighings_are_hardly_moved_by_one_check() -> None:
    """A narrow value before stays within its range."""
    weighed = EasyWater(0.7, 0.63, 0.77, "2 weighings")
    found = checked_water(weighed, [DryCheck(0.4, dry=True)])
    assert weighed.low < found.litres < weighed.litres


@given(st.lists(st.tuples(st.floats(0.05, 3), st.booleans()), min_size=1, max_size=6))
def test_dry_lowers_and_wet_raises_whatever_else_was_seen(
    seen: list[tuple[float, bool]],
) -> None:
    """One more dry finding never raises the water, one more wet one never lowers it."""
    checks = [DryCheck(*pair) for pair in seen]
    before = checked_water(TABLE, checks).litres
    assert checked_water(TABLE, [*checks, DryCheck(0.5, dry=True)]).litres <= before + 1e-6
    assert checked_water(TABLE, [*checks, DryCheck(0.5, dry=False)]).litres >= before - 1e-6


def test_findings_come_from_the_records_since_the_last_repotting() -> None:
    """Dry and wet with the water used by then; those of an older root-ball are left out."""
    tree = a_tree(
        records=[
            a_record("dry-seen", "2012-07-01"), a_record("repotted", "2013-03-01"),
            a_record("dry-seen", "2013-07-02"), a_record("wet-seen", "2013-07-03"),
            a_record("wet-seen", "2013-07-04"),
        ]
    )  # fmt: skip
    used = {date(2013, 7, 2): 0.5, date(2013, 7, 3): 0.2, date(2013, 7, 4): float("nan")}
    found = dry_checks(tree, used.__getitem__)
    assert found == (DryCheck(0.5, dry=True), DryCheck(0.2, dry=False))


def test_impossible_water_is_refused() -> None:
    """Each message names the value."""
    with pytest.raises(RangeError, match="after 0 L"):
        checked_water(TABLE, [DryCheck(0, dry=True)])
    with pytest.raises(RangeError, match=r"0\.5 L must lie within 0\.6 to 0\.7"):
        checked_water(EasyWater(0.5, 0.6, 0.7, "x"), [])
    with pytest.raises(RangeError, match="more than 0 L"):
        table_water(0, "x")
    with pytest.raises(RangeError, match=r"particle size 40 mm is outside 0\.5 to 12"):
        share_by_particle(40)


def one_pot(insulation: float = 0.0) -> RootBalls:
    """Return a pot of 4.6 L with 0.2 m2 of surface."""
    return RootBalls(*(np.array([v]) for v in (0.0046, 0.2, 0.0, insulation, 0.0)))


def nights_of(pot: RootBalls, noise: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Return four days of air and of the root-ball in it, in a wind of 12 W/m²K."""
    air = a_daily_wave(4, 9, 5)
    quiet = np.zeros(len(air))
    found = stepped(Surroundings(air, air, np.full(len(air), 12.0), quiet, quiet), pot).mean[0]
    return air, found + np.random.default_rng(1).normal(0, noise, len(air))


@pytest.mark.parametrize(("insulation", "noise", "within"), [(0.0, 0, 0.03), (0.86, 0, 0.03),
                                                             (0.3, 0.1, 0.1)])  # fmt: skip
def test_a_probe_finds_the_time_constant_that_made_it(
    insulation: float, noise: float, within: float
) -> None:
    """Bare and in 30 mm of foam within 3 %; with 0.1 K of noise within 10 % and in its range."""
    pot = one_pot(insulation)
    true = MOIST.thawed * 0.0046 / pot.conductance(12.0, 0.5)[0] / 3600
    found = fit_time_constant(*nights_of(pot, noise))
    assert found.hours_constant == pytest.approx(true, rel=within)
    assert found.low <= found.hours_constant <= found.high
    assert found.error <= noise * 1.6 + 0.02


def test_the_fitted_constant_goes_into_the_insulation() -> None:
    """A bare pot given the constant of a wrapped one lags as the wrapped one does."""
    air, probe = nights_of(one_pot(0.5))
    fitted = fit_time_constant(air, probe)
    found = with_time_constant(one_pot(), [fitted.hours_constant], 12.0)
    assert found.insulation[0] == pytest.approx(0.5, rel=0.05)
    assert with_time_constant(one_pot(0.2), [np.nan], 12.0).insulation[0] == 0.2
    assert with_time_constant(one_pot(0.2), [0.1], 12.0).insulation[0] == 0


def constant(balls: RootBalls, transfer: float) -> float:
    """Return the model's time constant of one thawed pot [h], C V / (U A)."""
    return float(MOIST.thawed * balls.volume[0] / balls.conductance(transfer, 0.5)[0] / 3600)


@given(st.floats(0.1, 72), st.floats(8, 40))
def test_the_model_has_the_fitted_constant_whatever_it_is(hours: float, transfer: float) -> None:
    """Slower than the bare pot by insulation, faster by less matter: always the fitted one."""
    found = with_time_constant(one_pot(), [hours], transfer)
    assert constant(found, transfer) == pytest.approx(hours, rel=1e-9)
    assert (found.insulation[0] == 0) or (found.volume[0] == one_pot().volume[0])


def test_a_garden_takes_the_constants_that_probes_have_told() -> None:
    """On a bench the model's is the fitted one; foam and soil come on top; others stay."""
    probed, plain = a_tree(pot=a_pot(time_constant_hours=2.5)), a_tree()
    bench = with_probes(RootBalls.of([probed, plain], a_place()), [probed, plain])
    assert constant(bench, usual_transfer()) == pytest.approx(2.5)
    assert bench.volume[1] == RootBalls.of([plain], a_place()).volume[0]
    foam = RootBalls.of([probed, plain], a_place(insulation=0.5))
    assert with_probes(foam, [probed, plain]).insulation == pytest.approx(
        [0.5 + bench.insulation[0], 0.5]
    )
    soil = RootBalls.of([probed], a_place(pot_on_ground=True))
    assert with_probes(soil, [probed]).insulation == pytest.approx(bench.insulation[:1])
    untouched = RootBalls.of([plain], a_place())
    assert with_probes(untouched, [plain]) is untouched


def test_a_constant_found_in_wind_and_foam_is_told_for_the_bare_pot() -> None:
    """Fitted in foam and 25 W/m²K: without foam, in the usual wind, it is the bare pot's own."""
    bare, foam = one_pot(), one_pot(0.5)
    fitted = constant(foam, 25.0)
    told = bare_constant(fitted, bare, foam, 25.0)
    assert told == pytest.approx(constant(bare, usual_transfer()), rel=1e-9)


def test_sunny_frozen_and_unknown_hours_do_not_count() -> None:
    """Hours with sun, below 0.5 °C or unknown leave too few: the error says how many."""
    air, probe = nights_of(one_pot())
    with pytest.raises(RangeError, match="0 night hours"):
        fit_time_constant(air, probe, np.zeros(len(air), dtype=bool))
    with pytest.raises(RangeError, match="0 night hours"):
        fit_time_constant(air, probe - 30)
    with pytest.raises(RangeError, match=r"96 hours of air and 95"):
        fit_time_constant(air, probe[1:])
    with pytest.raises(RangeError, match="apart"):
        fit_time_constant(air, air)
    with pytest.raises(RangeError, match="above 0 h, not -1"):
        with_time_constant(one_pot(), [-1.0], 12.0)
