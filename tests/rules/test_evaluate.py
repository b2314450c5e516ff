"""All rules together, and the practice figures they ask for."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from mebuki.rules.evaluate import RULES, evaluate, evaluate_all
from tests.builders import (
    CAUTIONS,
    PRACTICE,
    a_case,
    a_night,
    a_record,
    a_root_night,
    a_tree,
    a_water_day,
)

RULE_FILES = sorted((Path(__file__).parents[2] / "service/mebuki/rules").glob("*.py"))
BUSY = a_case(
    a_tree(records=[a_record("repotted", "2011-03-20"), a_record("wired", "2012-10-20")]),
    nights=[a_night("2013-03-27", -8)],
    roots=[a_root_night("2013-03-27", -6)],
    water=[a_water_day("2013-03-27", 0.1)],
)


def test_the_order_of_the_rules_is_fixed() -> None:
    """The same case gives the same advice in the same order."""
    modules = [rule.__module__.rsplit(".", 1)[-1] for rule in RULES]
    assert modules == [
        "frost", "winter", "heat", "wind", "water", "repot", "wire", "prune", "deadwood", "feed",
        "scout", "observe", "records",
    ]  # fmt: skip
    assert evaluate(BUSY) == evaluate(BUSY)
    assert evaluate_all([BUSY, BUSY]) == (*evaluate(BUSY), *evaluate(BUSY))


def test_every_advice_names_rule_deed_reasons_and_known_cautions() -> None:
    """Nothing is advised without its numbers, and no caution without a text."""
    found = evaluate(BUSY)
    assert {advice.kind.value for advice in found} >= {"frost", "winter", "water", "repot", "wire"}
    for advice in found:
        assert advice.rule.startswith(advice.kind.value)
        assert advice.deed
        assert advice.reasons
        assert all(reason.source and reason.value for reason in advice.reasons)
        assert set(advice.cautions) <= set(CAUTIONS)
        assert "!" not in advice.deed + advice.fact


def test_rules_ask_only_for_known_figures() -> None:
    """Every ``section.key`` in the rules is one of the practice figures of the story."""
    sections = "repot|recovery|wire|frost|water|winter|heat|wind|pot|substrate|lift"
    asked = {
        key
        for path in RULE_FILES
        for key in re.findall(rf'"((?:{sections})\.[a-z_]+)"', path.read_text("utf-8"))
    }
    assert asked <= set(PRACTICE)
    assert len(asked) > 15


def test_the_shipped_files_have_every_figure_and_caution() -> None:
    """What the rules ask for is in ``practice.toml`` and ``cautions.toml``, with its source."""
    config = Path(__file__).parents[2] / "config"
    practice = tomllib.loads((config / "practice.toml").read_text("utf-8"))
    for key in PRACTICE:
        section, name = key.split(".")
        assert practice[section][name]["source"], key
    cautions = tomllib.loads((config / "cautions.toml").read_text("utf-8"))
    assert set(CAUTIONS) <= set(cautions)
