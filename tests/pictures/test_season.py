"""The season's picture: where ink lies, how dense, and what is said beside it."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from mebuki.domain.outlook import Milestone
from mebuki.pictures.coming_season import describe_season, season_rows, season_table
from mebuki.pictures.season import season_chart
from mebuki.pictures.style import ACCENT
from tests.builders import ON, a_stage, an_outlook, some_stages
from tests.plans import TAXA, a_plan


def drawn(spec: dict[str, Any], field: str) -> list[dict[str, Any]]:
    """Return the rows of every layer that hold a field."""
    return [
        row
        for part in spec["layer"]
        for row in part["data"]["values"]
        if row.get(field) is not None
    ]


def test_trees_that_share_their_season_share_a_strip() -> None:
    """Fifteen trees of five taxa make five strips, the earliest first."""
    rows = season_rows(a_plan())
    assert len(rows) == len(TAXA)
    assert sorted(len(row.trees) for row in rows) == [3] * 5
    likely = [row.swell.likely for row in rows]
    assert likely == sorted(likely, key=str)
    assert rows[0].label == "European larch: 3 trees"


def test_a_tree_of_its_own_season_has_a_strip_with_its_place() -> None:
    """One maple in the warm shed moves earlier and is told apart."""
    plan = a_plan()
    early = an_outlook("japanese-maple-3", stages=some_stages("2013-03-20"))
    plan = replace(plan, outlooks={**plan.outlooks, early.tree: early})
    labels = [row.label for row in season_rows(plan)]
    assert "Japanese maple, Garden shed: Japanese maple 3" in labels
    assert "Japanese maple, Lower bench: 2 trees" in labels


def test_density_is_the_probability_between_swell_and_leaf_out() -> None:
    """P(swollen by then) less P(leaves unfolded by then), from the published quantiles."""
    row = season_rows(a_plan(each=1))[0]
    assert row.density(date(2013, 1, 1)) == 0
    assert row.density(date(2013, 3, 27)) == 1
    assert row.density(date(2013, 6, 1)) == 0
    swell = row.swell.likely
    assert swell is not None
    assert abs(row.density(swell) - 0.5) < 0.06


def test_ink_covers_each_strip_without_gap_or_overlap() -> None:
    """Stretches of equal density follow one another day by day."""
    ink = drawn(season_chart(a_plan()), "ink")
    for lane in {row["top"] for row in ink}:
        stretches = sorted((row["from"], row["to"]) for row in ink if row["top"] == lane)
        assert all(a[1] == b[0] for a, b in itertools.pairwise(stretches))
    assert all(0 < row["ink"] <= 0.9 for row in ink)


def test_only_windows_that_hold_today_are_coloured() -> None:
    """The accent is for what needs a hand today: four taxa, the beech's opens later."""
    spec = season_chart(a_plan())
    coloured = [part for part in spec["layer"] if part["mark"].get("stroke") == ACCENT]
    (part,) = coloured
    assert len(part["data"]["values"]) == 4
    assert all(row["from"] <= ON.isoformat() < row["to"] for row in part["data"]["values"])


def test_blocked_advice_draws_no_window() -> None:
    """What must wait is no open window."""
    plan = a_plan(each=1)
    waiting = tuple(replace(advice, blocked="weak") for advice in plan.advice)
    assert all(row.windows == () for row in season_rows(replace(plan, advice=waiting)))


def test_a_season_long_past_gives_way_to_the_next() -> None:
    """In autumn the next spring is drawn."""
    plan = a_plan(each=1)
    outlooks = {
        key: replace(outlook, stages=(*outlook.stages, *some_stages("2014-04-12", season=2014)))
        for key, outlook in plan.outlooks.items()
    }
    autumn = replace(plan, on=date(2013, 10, 1), outlooks=outlooks)
    assert {row.swell.season for row in season_rows(autumn)} == {2014}
    assert {row.swell.season for row in season_rows(plan)} == {2013}


def test_a_tree_that_will_not_move_has_no_strip() -> None:
    """No quantile is reached: nothing is drawn, and the words say so."""
    plan = a_plan(each=1)
    never = tuple(
        a_stage(milestone, None)
        for milestone in (Milestone.SWELL, Milestone.BREAK, Milestone.UNFOLDED)
    )
    plan = replace(plan, outlooks={key: an_outlook(key, stages=never) for key in plan.outlooks})
    assert season_rows(plan) == ()
    assert describe_season(plan) == "No bud swell can be foreseen for any tree."
    assert drawn(season_chart(plan), "ink") == []


def test_the_numbers_stand_beside_the_picture() -> None:
    """Likely day and the span of eight cases of ten, as the builder's normal distribution has."""
    table = season_table(a_plan())
    larch = dict(zip(table.columns, table.rows[0], strict=True))
    assert larch["Trees"] == "European larch: 3 trees"
    assert larch["Buds open"] == "6 Apr (1 to 11 Apr)"  # 4 days x 1.28 either way
    assert larch["Repotting window"] == "16 Mar to 6 Apr"


def test_the_words_name_first_last_and_what_moves_today() -> None:
    """A listener learns what a viewer sees."""
    words = describe_season(a_plan())
    assert "First: European larch: 3 trees, likely 7 Mar" in words
    assert "Last: Japanese beech: 3 trees, likely 27 Mar" in words
    assert "Moving today, 27 Mar: European larch" in words


def test_the_same_plan_draws_the_same() -> None:
    """The specification is a pure function of plan and width."""
    assert json.dumps(season_chart(a_plan())) == json.dumps(season_chart(a_plan()))
    assert season_chart(a_plan(), 350)["width"] == 350


def test_every_day_lies_within_the_axis() -> None:
    """Nothing drawn falls off the picture."""
    spec = season_chart(a_plan())
    first, last = spec["layer"][0]["encoding"]["x"]["scale"]["domain"]
    days = [row["from"] for row in drawn(spec, "from")] + [row["to"] for row in drawn(spec, "to")]
    assert first < min(days)
    assert max(days) < last
    assert date.fromisoformat(last) - date.fromisoformat(first) < timedelta(days=400)
