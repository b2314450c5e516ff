"""What keepers found in their pots, beside the water reckoned since the last watering."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from mebuki.domain.tree import Record, Tree
from mebuki.domain.weather import DailySeries
from mebuki.season.pot_calibration import EasyWater
from mebuki.season.pot_checks import PotDays, believed, filled_before, known_pots
from mebuki.season.pot_store import Leaves, Pots
from mebuki.season.water_outlook import is_dry, time_spread
from tests.builders import a_record, a_rulebook, a_site, a_tree, a_water_day

ON = date(2013, 7, 20)
SITE = a_site(latitude=45.7167)
SUBSTRATES = a_rulebook().substrates
UNSEEN = np.array([np.nan])
LEAFY = Leaves(np.array([0.9]), np.array([0.15]), UNSEEN, UNSEEN)


def july(rain: float = 0.0) -> DailySeries:
    """Return six weeks of the days of FAO-56 example 20: Lyon, 14.8 to 26.6 °C."""
    size = 42
    days = np.full(size, 1.0)
    return DailySeries(
        ON.toordinal() - 40, 14.8 * days, 26.6 * days, rain * days, 2 * days,
        np.zeros(size, np.int8),
    )  # fmt: skip


def known(tree: Tree, rain: float = 0.0) -> EasyWater:
    """Return what is known of the water of one tree's pot."""
    pots = Pots.of([tree], SUBSTRATES, ON)
    found, held = known_pots([tree], pots, LEAFY, SUBSTRATES, (july(rain), SITE, ON))
    assert found.easy_water[0] == held[0].litres
    return held[0]


def found_dry(*ago: int) -> list[Record]:
    """Return records of pots found dry, each filled the day before."""
    return [
        record
        for days in ago
        for record in (
            a_record("watered", ON - timedelta(days=days + 1)),
            a_record("dry-seen", ON - timedelta(days=days)),
        )
    ]


def test_the_use_of_past_days_is_that_of_fao_56() -> None:
    """Hargreaves, FAO-56 eq. 52, for Lyon in July: 5.0 mm; 0.9 of the crown and 0.3 of the top."""
    tree = a_tree()
    days = PotDays.of(july(), SITE, Pots.of([tree], SUBSTRATES, ON), LEAFY)
    expected = 5.0 * (0.9 * tree.canopy_area + 0.3 * tree.pot.top_area)
    middle = date(2013, 7, 15).toordinal() - days.start
    assert days.use[0, middle] == pytest.approx(expected, rel=0.02)
    one = days.used(0, date(2013, 7, 14), date(2013, 7, 15))
    assert one == pytest.approx(1.5 * expected, rel=0.02)


def test_rain_fills_what_was_used_and_unknown_weather_stays_unknown() -> None:
    """Days of heavy rain leave the last half day; a missing extreme, or a day before all: NaN."""
    pots = Pots.of([a_tree()], SUBSTRATES, ON)
    wet = PotDays.of(july(100), SITE, pots, LEAFY)
    filled = ON - timedelta(days=5)
    assert wet.used(0, filled, ON) == pytest.approx(0.5 * wet.use[0, 40])
    gap = july()
    gap.minimum[38] = np.nan
    assert np.isnan(PotDays.of(gap, SITE, pots, LEAFY).used(0, filled, ON))
    assert np.isnan(wet.used(0, date(2012, 1, 1), ON))


def test_a_pot_found_dry_early_holds_less_than_the_table_says() -> None:
    """Dry after a day and a half of a tiny crown holds less; wet after two and a half, more."""
    plain = known(a_tree(canopy_cm=4))
    dry = known(a_tree(canopy_cm=4, records=found_dry(3, 6, 9)))
    wet_records = [
        a_record("watered", ON - timedelta(days=9)), a_record("wet-seen", ON - timedelta(days=7)),
    ]  # fmt: skip
    wet = known(a_tree(canopy_cm=4, records=wet_records))
    assert dry.litres < plain.litres < wet.litres
    assert dry.high / dry.low < plain.high / plain.low
    assert "found dry or wet 3 times" in dry.source


def test_findings_without_a_watering_on_record_are_left_out() -> None:
    """Nobody knows when the pot was filled: within ten days before, and not on the same day."""
    bare = [a_record("dry-seen", "2013-07-18")]
    assert known(a_tree(records=bare)).litres == known(a_tree()).litres
    same = a_tree(records=[*bare, a_record("watered", "2013-07-18")])
    assert filled_before(same, date(2013, 7, 18)) is None
    early = a_tree(records=[*bare, a_record("watered", "2013-07-08")])
    assert filled_before(early, date(2013, 7, 18)) == date(2013, 7, 8)
    assert filled_before(early, date(2013, 7, 19)) is None


def test_findings_that_cannot_be_are_doubted_and_left_out() -> None:
    """Still wet six to nine days after watering in July, four times: to be checked."""
    records = [
        record
        for ago in (1, 2, 3, 4)
        for record in (
            a_record("watered", ON - timedelta(days=ago + 9)),
            a_record("wet-seen", ON - timedelta(days=ago)),
        )
    ]
    doubted = known(a_tree(records=records))
    assert doubted.litres == known(a_tree()).litres
    assert "it would hold" in doubted.doubt
    tree = a_tree()
    before = EasyWater(0.4, 0.36, 0.44, "2 weighings")
    near = EasyWater(0.42, 0.4, 0.44, "found dry or wet")
    assert believed(before, tree, near) is near
    far = EasyWater(0.5, 0.45, 0.55, "found dry or wet")
    assert believed(before, tree, far).litres == 0.4
    much = EasyWater(2.2, 2.0, 2.4, "found dry or wet")
    assert "2.20 L" in believed(EasyWater(2.0, 1.0, 4.0, "x"), tree, much).doubt


def test_absurd_weighings_are_named_and_the_table_is_kept() -> None:
    """A difference of 3.9 kg in a pot of 3.3 L."""
    weighed = [
        a_record("pot-weighed", "2013-06-01", amount=5.4),
        a_record("pot-weighed", "2013-06-02", amount=1.5),
    ]
    found = known(a_tree(records=weighed))
    assert found.litres == known(a_tree()).litres
    assert "weighings differ by 3.90 kg" in found.doubt


def test_the_time_to_dry_is_as_unsure_as_use_and_pot_together() -> None:
    """25 % of use with nothing of the pot; with a range of e^±0.4 √(0.25² + 0.4²)."""
    assert time_spread((), 2) == pytest.approx([0.25, 0.25])
    wide = EasyWater(1.0, float(np.exp(-0.4)), float(np.exp(0.4)), "table")
    assert time_spread((wide,), 1) == pytest.approx([np.hypot(0.25, 0.4)])


@pytest.mark.parametrize(
    ("records", "share", "dry"),
    [
        ([], 0.4, False),
        ([], 0.0, True),
        ([("dry-seen", 1)], 0.4, True),
        ([("dry-seen", 9)], 0.4, False),
        ([("dry-seen", 1), ("watered", 1)], 0.4, False),
        ([("dry-seen", 1), ("watered", 2)], 0.4, True),
        ([("dry-seen", 2), ("wet-seen", 1)], 0.4, False),
    ],
)
def test_a_pot_is_dry_if_seen_so_or_reckoned_so(
    records: list[tuple[str, int]], share: float, dry: bool
) -> None:
    """A finding stands for three days, or until somebody watered or found it wet."""
    tree = a_tree(records=[a_record(kind, ON - timedelta(days=ago)) for kind, ago in records])
    day = a_water_day(ON, 0.0, share_morning=share)
    assert is_dry(tree, ON, [day]) is dry
