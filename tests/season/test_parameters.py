"""Every figure of the practice file that a model stands on changes what the model says."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields, replace
from datetime import date

import numpy as np
import pytest

from mebuki.domain.outlook import LEVELS, Milestone, StageOutlook
from mebuki.domain.taxon import Group
from mebuki.domain.weather import Origin
from mebuki.season.acclimation import hardening
from mebuki.season.frost import frost_type
from mebuki.season.frost_thresholds import BudStage, critical_temperature
from mebuki.season.growth import LIKE, clock_for
from mebuki.season.hardiness import Circumstances, circumstances, root_limit
from mebuki.season.heat_wind import DryAir, scorches, wall_heat
from mebuki.season.parameters import (
    BudLimits,
    ClearNights,
    Figures,
    HardDayLimits,
    Hardening,
    PotFreezing,
    PotWater,
    RootCold,
    Thickening,
)
from mebuki.season.pot_store import Leaves, Pots, basal_coefficient, easy_water, full_and_bare
from mebuki.season.pot_water import Course, counted_rain, top_coefficient, water_trace
from mebuki.season.root_ball import Matter, RootBalls, surroundings
from mebuki.season.root_temperature import stepped
from tests.builders import a_figure, a_pot, a_record, a_rulebook, a_taxon, a_tree
from tests.season.hourly_weather import some_hours

ON = date(2013, 1, 9)
UNKNOWN = {"root_alert": None, "root_kill": None, "new_growth_damage": None}
NONE = Circumstances()
MIX = a_rulebook().substrates["mixed-mineral"]


def _water(figures: PotWater) -> object:
    taxa = [
        a_taxon(group=group, upkeep={"water_class": need})
        for group in LIKE
        for need in ("low", "medium", "high")
    ]
    trees = [a_tree(records=[a_record("repotted", f"{year}-01-01")]) for year in (2011, 2005)]
    opened = Leaves.of([a_taxon()], [date(2013, 4, 1)], [None], figures)
    pots = Pots(np.array([0.06]), np.array([0.03]), np.array([0.4]), (None,), figures)
    rain = np.array([0.0, 8.0, 0.0, 0.0])
    course = Course(
        np.full(4, 0.2), rain, np.full((1, 4), 0.9), np.ones((1, 4)), np.zeros((1, 4), dtype=bool)
    )
    forecast = some_hours(
        "2013-06-01T00", np.full(4, 20.0), Origin.FORECAST, precipitation=[0.5, 0.5, 1.5, 0.0]
    )
    return (
        [full_and_bare(taxon, figures) for taxon in taxa],
        [easy_water(tree, MIX, ON, figures) for tree in trees],
        basal_coefficient(opened, np.array([date(2013, 4, 15).toordinal()])).tolist(),
        top_coefficient(np.full((1, 1), 0.9), pots).tolist(),
        water_trace(pots, course).left.tolist(),
        water_trace(pots, course).entered.tolist(),
        counted_rain(forecast, np.zeros(4, dtype=np.int64), figures).tolist(),
    )


def _roots(figures: RootCold) -> object:
    taxa = [a_taxon(name, hardiness=UNKNOWN) for name in ("buxus-a", "acer-b", "larix-c")]
    killed = a_taxon(hardiness=UNKNOWN | {"root_kill": a_figure(-10)})
    tropical = a_taxon(group="tropical", hardiness=UNKNOWN)
    tree = a_tree(records=[a_record("repotted", "2012-04-01")])
    limits = [
        root_limit(taxon, share, now, figures)
        for taxon in (*taxa, killed, tropical)
        for share in (1.0, 0.5)
        for now in (NONE, Circumstances(dry=True))
    ]
    spells = [
        circumstances(tree, day, southern=False, figures=figures)
        for day in (date(2013, 1, 9), date(2013, 1, 20), date(2013, 3, 30), date(2013, 9, 1))
    ]
    return limits, spells


def _hardening(figures: Hardening) -> object:
    low = np.where(np.arange(150) < 90, 1.0, 4.0)
    return [rows.tolist() for rows in hardening(low, low + 4, figures)]


def _thickening(figures: Thickening) -> object:
    opens = StageOutlook(Milestone.BREAK, 2013, (date(2013, 4, 20),) * len(LEVELS))
    groups: tuple[Group, ...] = tuple(LIKE)
    return [clock_for(a_taxon(group=group), opens, figures) for group in groups]


def _freezing(figures: PotFreezing) -> object:
    here = some_hours("2013-01-09T00", np.r_[np.full(6, 3.0), np.full(30, -6.0)])
    balls = RootBalls.around([a_pot()], 0.0, grounded=False)
    found = stepped(surroundings(here), balls, matter=Matter.by(figures))
    return found.mean.tolist(), found.wall.tolist()


def _nights(figures: ClearNights) -> object:
    winds, clouds = (0.5, 1.5, 2.5, 3.5, 5), (0.1, 0.3, 0.5, 0.7)
    return [frost_type(wind, cloud, 0, figures) for wind in winds for cloud in clouds]


def _buds(figures: BudLimits) -> object:
    oak = a_taxon("quercus-robur", hardiness=UNKNOWN)
    return [critical_temperature(oak, stage, figures) for stage in BudStage]


def _days(figures: HardDayLimits) -> object:
    walls = [[heat] * hours + [20] * (6 - hours) for heat in range(30, 50) for hours in (1, 2, 4)]
    dry = [
        scorches(DryAir([[deficit] * hours + [0.0] * (9 - hours)], wind), [age], figures).tolist()
        for deficit in (1.5, 2.5, 3.5, 4.5)
        for hours in (2, 3, 5, 8)
        for wind in (2.5, 4.5, 7)
        for age in (5, 90)
    ]
    return wall_heat(np.array(walls, dtype=float), figures).tolist(), dry


MODELS: Mapping[type[Figures], Callable[..., object]] = {
    PotWater: _water,
    RootCold: _roots,
    Hardening: _hardening,
    Thickening: _thickening,
    PotFreezing: _freezing,
    ClearNights: _nights,
    BudLimits: _buds,
    HardDayLimits: _days,
}
"""What each group of figures drives."""


def _each() -> Iterator[tuple[type[Figures], str]]:
    for group in MODELS:
        for each in fields(group):
            if each.metadata:
                yield group, each.name


@pytest.mark.parametrize(
    ("group", "name"), list(_each()), ids=[f"{group.__name__}.{name}" for group, name in _each()]
)
def test_each_figure_changes_what_its_model_says(group: type[Figures], name: str) -> None:
    """Half as much or one and a half times as much gives another answer than the shipped value."""
    shipped = group()
    value = getattr(shipped, name)
    others = [replace(shipped, **{name: other}) for other in (value * 0.5, value * 1.5, value + 1)]
    told = MODELS[group](shipped)
    assert told == MODELS[group](group())
    assert any(MODELS[group](other) != told for other in others)


def test_a_limit_says_whose_figures_it_was_reckoned_with() -> None:
    """The class, the margin in need and the growth clock name the source of their figures."""
    own = "your practice file: my winters"
    sources = dict.fromkeys(("b_mature", "extra", "margin", "tender"), own)
    figures = replace(RootCold(), b_mature=-4.0, sources=sources)
    limit = root_limit(a_taxon(hardiness=UNKNOWN), 1.0, Circumstances(dry=True), figures)
    assert limit.mature == pytest.approx(-0.5)
    assert limit.source == f"class B, middling or unknown: {own}; +3 °C for dry substrate ({own})"
    opens = StageOutlook(Milestone.BREAK, 2013, (date(2013, 4, 20),) * len(LEVELS))
    clock = clock_for(a_taxon(), opens, replace(Thickening(), sources={"deciduous_span": own}))
    assert clock is not None
    assert own in clock.basis
