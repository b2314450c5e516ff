"""Limits of roots through the year."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import RangeError
from mebuki.season.hardiness import Circumstances, circumstances, root_class, root_limit
from tests.builders import a_figure, a_record, a_taxon, a_tree, a_tropical_taxon

QUIET = Circumstances()
UNKNOWN: dict[str, object] = {"root_alert": "unknown", "root_kill": "unknown"}


@pytest.mark.parametrize(
    ("taxon", "mature", "young"),
    [("camellia-japonica", -5, -3), ("acer-palmatum", -7, -4), ("juniperus-chinensis", -12, -7),
     ("pinus-sylvestris", -12, -7), ("pinus-thunbergii", -7, -4), ("carpinus-betulus", -7, -4)],
)  # fmt: skip
def test_default_classes(taxon: str, mature: float, young: float) -> None:
    """Classes A −5, B −7 (young −4), C −12 (young −7); unknown taxa are in B."""
    found = root_class(taxon)
    assert (found.mature, found.young) == (mature, young)


def test_a_known_alert_temperature_comes_first() -> None:
    """The taxon's own alert temperature is the midwinter limit, with its source."""
    taxon = a_taxon(hardiness={"root_alert": a_figure(-6, "a paper"), "root_kill": a_figure(-10)})
    found = root_limit(taxon, 1.0, QUIET)
    assert found.mature == -6
    assert found.source == "a paper"


def test_a_killing_temperature_gets_its_margin() -> None:
    """Without an alert temperature the killing one counts, 2 °C above; young roots likewise."""
    taxon = a_taxon(
        hardiness=UNKNOWN | {"root_kill": a_figure(-10, "a trial"), "root_kill_young": a_figure(-6)}
    )
    found = root_limit(taxon, 1.0, QUIET)
    assert (found.mature, found.young) == (-8, -4)
    assert found.source == "a trial, 2 °C above (default)"


def test_an_unknown_taxon_says_that_its_limit_is_a_default() -> None:
    """Class B: −7 °C and 2 °C above; the source says default."""
    found = root_limit(a_taxon(hardiness=UNKNOWN), 1.0, QUIET)
    assert (found.mature, found.young) == (-5, -2)
    assert "default" in found.source


def test_without_hardening_every_hardy_root_has_the_same_limit() -> None:
    """The limit is L + (−2 − L)(1 − a): −2 °C at a = 0, half way at 0.5."""
    taxon = a_taxon(hardiness=UNKNOWN | {"root_alert": a_figure(-8)})
    assert root_limit(taxon, 0.0, QUIET).mature == -2
    assert root_limit(taxon, 0.5, QUIET).mature == -5


def test_circumstances_add_three_degrees_once_and_never_pass_freezing() -> None:
    """Early winter and dry together add 3 °C; an unhardened tree stays at −0.5 °C."""
    taxon = a_taxon(hardiness=UNKNOWN | {"root_alert": a_figure(-8)})
    worse = Circumstances(early_winter=True, dry=True)
    found = root_limit(taxon, 1.0, worse)
    assert found.mature == -5
    assert "early winter, dry substrate" in found.source
    assert root_limit(taxon, 0.0, worse).mature == -0.5


def test_a_tropical_tree_has_the_temperature_it_is_kept_above() -> None:
    """No hardening for a tree that must be kept above 12 °C."""
    assert root_limit(a_tropical_taxon(), 1.0, QUIET).mature == 12


@given(st.floats(-25, -1), st.floats(0, 1), st.floats(0, 1), st.booleans())
def test_more_hardening_never_raises_the_limit(
    alert: float, some: float, other: float, dry: bool
) -> None:
    """The limit falls, or stays, as hardening grows; young roots are never hardier."""
    taxon = a_taxon(hardiness=UNKNOWN | {"root_alert": a_figure(alert)})
    less, more = sorted((some, other))
    now = Circumstances(dry=dry)
    soft, hard = root_limit(taxon, less, now), root_limit(taxon, more, now)
    assert hard.mature <= soft.mature + 1e-9
    assert hard.mature <= hard.young + 1e-9


@pytest.mark.parametrize(
    ("on", "southern", "early"),
    [(date(2013, 12, 1), False, True), (date(2014, 1, 11), False, True),
     (date(2014, 1, 12), False, False), (date(2013, 6, 15), True, True),
     (date(2013, 11, 30), False, False)],
)  # fmt: skip
def test_early_winter_is_its_first_six_weeks(on: date, southern: bool, early: bool) -> None:
    """From 1 December in the north and 1 June in the south, for 42 days."""
    assert circumstances(a_tree(), on, southern).early_winter is early


def test_repotting_counts_for_a_year() -> None:
    """A tree repotted eleven months ago is still tender, one of thirteen months is not."""
    tree = a_tree(records=[a_record("repotted", "2012-03-20")])
    assert circumstances(tree, date(2013, 2, 20), southern=False).repotted
    assert not circumstances(tree, date(2013, 4, 20), southern=False).repotted


def test_an_impossible_acclimation_is_refused() -> None:
    """A share above 1 names itself."""
    with pytest.raises(RangeError, match=r"acclimation 1\.2"):
        root_limit(a_taxon(), 1.2, QUIET)
