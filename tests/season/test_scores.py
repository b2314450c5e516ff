"""Scores against Finley's tornado table, a worked Brier case, and closed forms."""

from __future__ import annotations

import json
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import RangeError
from mebuki.season.scores import Contingency, brier, contingency, crps_ensemble, crps_gaussian
from tests.published_tables import PUBLISHED


def table(name: str) -> dict[str, Any]:
    """Return a check table in JSON."""
    found: dict[str, Any] = json.loads((PUBLISHED / name).read_text(encoding="utf-8"))
    return found


def test_finleys_tornadoes_have_their_well_known_scores() -> None:
    """Finley 1884: POD .549, FAR .720, POFD .0262, CSI .228, bias 1.96, HSS .355, ETS .216."""
    finley = table("finley.json")
    counts, scores = finley["table"], finley["scores"]
    found = Contingency(
        counts["hits"], counts["false_alarms"], counts["misses"], counts["correct_neg"]
    )
    for name, key in (
        ("pod", "POD"), ("far", "FAR"), ("pofd", "POFD"), ("csi", "CSI"), ("bias", "bias"),
        ("pss", "PSS"), ("hss", "HSS"), ("ets", "ETS"), ("base_rate", "base_rate"),
        ("proportion_correct", "PC"), ("odds_ratio", "OR"), ("orss", "ORSS"), ("seds", "SEDS"),
    ):  # fmt: skip
        assert getattr(found, name) == pytest.approx(scores[key], rel=1e-12)
    assert found.total == scores["n"]


def test_the_worked_brier_case_and_its_parts() -> None:
    """Ten cases: .114 = .014 − .150 + .250, skill .544, exact."""
    case = table("probability_checks.json")["brier"]
    found = brier(case["y"], case["p"])
    assert found.score == pytest.approx(case["BS"], abs=1e-12)
    assert found.reliability == pytest.approx(case["reliability"], abs=1e-12)
    assert found.resolution == pytest.approx(case["resolution"], abs=1e-12)
    assert found.uncertainty == pytest.approx(case["uncertainty"], abs=1e-12)
    assert found.skill == pytest.approx(case["BSS"], abs=1e-12)


@pytest.mark.parametrize("case", table("probability_checks.json")["crps"], ids=str)
def test_crps_of_a_gaussian(case: dict[str, float]) -> None:
    """Against properscoring 0.1: four cases, to the five digits printed."""
    found = crps_gaussian(case["y"], case["mu"], case["sigma"])
    assert found == pytest.approx(case["crps"], abs=6e-6)


def test_crps_without_spread_is_the_absolute_error() -> None:
    """A forecast that is sure of itself is scored by how far it missed."""
    assert crps_gaussian([3.0], [1.0], [0.0])[0] == 2.0


pairs = st.lists(
    st.tuples(st.booleans(), st.sampled_from(np.linspace(0, 1, 6).tolist())), min_size=1
)


@given(pairs)
def test_the_brier_parts_add_up(cases: list[tuple[bool, float]]) -> None:
    """Score = reliability − resolution + uncertainty, and it lies in 0..1."""
    event, probability = zip(*cases, strict=True)
    found = brier(event, probability)
    parts = found.reliability - found.resolution + found.uncertainty
    assert found.score == pytest.approx(parts, abs=1e-12)
    assert 0 <= found.score <= 1


@given(pairs, st.floats(0, 1))
def test_every_case_is_counted_once(cases: list[tuple[bool, float]], threshold: float) -> None:
    """The four counts add up to the cases, and unknown pairs are left out."""
    event, probability = zip(*cases, strict=True)
    found = contingency(event, probability, threshold)
    with_unknown = contingency([*event, np.nan], [*probability, 0.5], threshold)
    assert found.total == len(cases)
    assert with_unknown == found


def test_a_score_without_cases_is_unknown() -> None:
    """No alarm and no event: POD, FAR and CSI are NaN, not 0."""
    quiet = Contingency(0, 0, 0, 10)
    assert np.isnan([quiet.pod, quiet.far, quiet.csi, quiet.bias]).all()
    assert quiet.pofd == 0


def test_impossible_pairs_are_refused() -> None:
    """An event of 2, a probability of 1.4 and an empty table name themselves."""
    with pytest.raises(RangeError, match="an event is 0 or 1, not 2"):
        brier([2, 0], [0.5, 0.5])
    with pytest.raises(RangeError, match=r"probability 1\.4"):
        contingency([1], [1.4], 0.5)
    with pytest.raises(RangeError, match="no pair"):
        brier([np.nan], [0.5])


def test_crps_of_an_ensemble_comes_near_that_of_its_gaussian() -> None:
    """4,000 equal steps through N(0, 1): 0.2337 at 0 and 0.6024 at 1, within 0.001."""
    steps = np.array([NormalDist().inv_cdf((k + 0.5) / 4000) for k in range(4000)])
    assert crps_ensemble(0.0, steps) == pytest.approx(0.23369, abs=1e-3)
    assert crps_ensemble(1.0, steps) == pytest.approx(0.60244, abs=1e-3)


def test_crps_of_few_members_by_hand() -> None:
    """Members 1 and 3 against 2: mean distance 1 less half of 1; NaN members do not count."""
    assert crps_ensemble(2.0, [1.0, 3.0]) == pytest.approx(0.5)
    assert crps_ensemble(2.0, [3.0, np.nan, 1.0]) == pytest.approx(0.5)
    assert crps_ensemble(2.0, [5.0]) == pytest.approx(3.0)
    unknown = crps_ensemble([2.0, np.nan], [[np.nan, 1.0], [np.nan, 2.0]])
    assert np.isnan(unknown).all()
