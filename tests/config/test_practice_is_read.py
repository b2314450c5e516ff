"""Every figure of the practice file is read, and a figure of one's own changes what is said."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import fields, replace
from datetime import UTC, date, datetime, time
from pathlib import Path

import pytest

import mebuki
from mebuki.agenda.entry import Published
from mebuki.bootstrap import demo_inputs, plan_day
from mebuki.domain.figure import Figure
from mebuki.domain.practice import Practice
from mebuki.rounds.look import look
from mebuki.rulebook import read_rulebook
from mebuki.season.outlook import Stock, outlooks
from mebuki.season.parameters import Parameters

FIGURES = read_rulebook().practice.figures
SERVICE = Path(mebuki.__file__).parent
TOLD_ONLY = (SERVICE / "rulebook" / "possible.py", SERVICE / "rules" / "spans.py")
"""Files that name figures without asking for them by these names alone."""

DAYS = ("2013-01-24", "2013-03-23", "2013-04-20", "2013-05-20", "2013-07-18", "2013-08-25",
        "2013-10-25")  # fmt: skip
"""Days of the demo year: hard frost, late frost, growth, heat, autumn."""

UNHEARD = {
    "agenda.cancelled_kept_days": "when a plan is shown",
    "feed.stop_weeks_before_frost": "for taxa whose file says nothing",
    "frost.prepare_factor": "when a night days ahead is in danger",
    "observe.minimum_pause_days": "on clear calm nights",
    "repot.growth_weeks": "for taxa repotted in late spring",
    "repot.bloom_weeks": "for evergreens whose bloom is not computed",
    "wind.gust_limit": "where gusts are measured",
    "winter.cold_days": "for a tree that stands too warm",
    "winter.tropical_minimum": "for tropical trees out of doors in autumn",
    "wire.bend_after_repotting_weeks": "after a bend in the cold",
    "wire.bend_frost_limit": "after a strong bend in the cold",
    "wire.bend_minimum": "after a bend in the cold",
    "wire.ring_width_strong": "for a strong tree in wire",
    "wire.ring_width_weak": "for a weak tree in wire",
}
"""Figures that the example garden has no need of on these days, and when they are asked for."""


class Heard(Practice):
    """A practice file that remembers which of its figures were asked for."""

    asked: set[str]

    def figure(self, key: str) -> Figure:
        """Return a figure, and remember that it was asked for."""
        self.asked.add(key)
        return super().figure(key)

    def value(self, key: str) -> float:
        """Return a number, and remember that it was asked for."""
        self.asked.add(key)
        return super().value(key)


def _named(path: Path) -> Iterator[str]:
    """Yield what stands in a file for figures: their keys, with ``*`` for parts filled in."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.JoinedStr):
            yield "".join(
                str(part.value) if isinstance(part, ast.Constant) else "*" for part in node.values
            )
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def _keys_in_code() -> set[str]:
    named = {
        name for path in SERVICE.rglob("*.py") if path not in TOLD_ONLY for name in _named(path)
    }
    return {name for name in named if re.fullmatch(r"[a-z]+\.[a-z_*]+", name)}


def test_no_figure_is_dead() -> None:
    """Each key of the practice file stands in the code of a rule or a model."""
    families = [re.compile(re.escape(name).replace(r"\*", "[a-z_]+")) for name in _keys_in_code()]
    dead = [key for key in FIGURES if not any(each.fullmatch(key) for each in families)]
    assert dead == []


def test_no_figure_is_asked_for_that_is_not_there() -> None:
    """A key in the code that looks like a figure of a section is in the file."""
    sections = {key.split(".")[0] for key in FIGURES}
    asked = re.compile(r"""(?:\.(?:value|figure)\(\s*|"key":\s*)"([a-z_]+\.[a-z_]+)\"""")
    found = {
        key for path in SERVICE.rglob("*.py") for key in asked.findall(path.read_text("utf-8"))
    }
    assert len(found) > 100
    assert {key for key in found if key.split(".")[0] in sections} - set(FIGURES) == set()


def test_a_year_of_the_example_garden_asks_for_all_but_a_few_named_figures() -> None:
    """What is not asked for on seven days of the year is named, with when it is."""
    inputs = demo_inputs()
    heard = Heard(figures=FIGURES, asked=set())
    inputs = replace(inputs, rulebook=inputs.rulebook.model_copy(update={"practice": heard}))
    for text in DAYS:
        day = date.fromisoformat(text)
        plan_day(inputs, day, datetime.combine(day, time(12), UTC), Published.nothing())
    assert heard.asked <= set(FIGURES)
    assert set(FIGURES) - heard.asked - set(UNHEARD) == set()


def test_the_models_stand_on_the_shipped_figures_where_no_file_is_at_hand() -> None:
    """The defaults of all groups are the values of the shipped file."""
    assert Parameters() == Parameters.of(read_rulebook().practice)


@pytest.mark.parametrize(
    ("key", "value", "day"),
    [
        ("water.crop_deciduous", 0.5, "2013-07-18"),
        ("winter.unhardened_limit", -6, "2013-11-24"),
        ("winter.hardening_hours", 2000, "2013-11-24"),
        ("growth.span_deciduous_days", 90, "2013-03-23"),
        ("pot.latent_heat_share", 0.9, "2013-01-24"),
        ("frost.radiation_cloud", 0.01, "2013-01-24"),
        ("heat.root_watch", 20, "2013-07-18"),
        ("winter.chill_below", 8, "2013-01-24"),
        ("repot.warm_night_minimum", 19, "2013-05-20"),
    ],
)
def test_a_figure_of_ones_own_reaches_the_outlook(key: str, value: float, day: str) -> None:
    """One figure of each group of models, laid over the shipped file, changes what is foreseen."""
    inputs, on = demo_inputs(), date.fromisoformat(day)
    picture = look(inputs.weather, inputs.garden.site, datetime.combine(on, time(12), UTC))
    garden = inputs.garden.known_on(on)

    def seen(practice: Practice) -> object:
        parameters = Parameters.of(practice)
        substrates = inputs.rulebook.substrates
        return outlooks(
            Stock(garden.trees, garden.places, inputs.taxa, substrates, parameters), picture, on
        )

    own = FIGURES[key].model_copy(update={"value": value})
    shipped = Practice(figures=FIGURES)
    assert seen(shipped) == seen(shipped)
    assert seen(Practice(figures={**FIGURES, key: own})) != seen(shipped)


def test_every_group_of_figures_is_filled_from_the_file() -> None:
    """A changed file changes each field of each group, and its source is kept."""
    doubled = {
        key: figure.model_copy(update={"value": figure.value + 1, "source": f"mine: {key}"})
        for key, figure in FIGURES.items()
    }
    found = Parameters.of(Practice(figures=doubled))
    for part in fields(found):
        group, shipped = getattr(found, part.name), getattr(Parameters(), part.name)
        for each in fields(group):
            if each.metadata:
                assert getattr(group, each.name) == getattr(shipped, each.name) + 1
                assert group.source(each.name) == f"mine: {each.metadata['key']}"
