"""The year of a tree in plain words, and how long a garden can be left."""

from __future__ import annotations

from datetime import date, timedelta

from mebuki.agenda.absence import absence_lines, lasts, stays
from mebuki.agenda.year import year_of
from mebuki.domain.advice import Days
from mebuki.domain.outlook import TreeOutlook
from tests.builders import (
    ON,
    a_frost_advice,
    a_garden,
    a_rulebook,
    a_situation,
    a_tree,
    a_water_day,
    an_advice,
    an_outlook,
    by_tree,
)


def thirst(tree: str, use: float) -> TreeOutlook:
    """Return an outlook of a pot that uses so much of 0.4 L a day."""
    days = tuple(
        a_water_day(ON + timedelta(days=lead), 0.5, use=use, spread=use / 4) for lead in range(4)
    )
    return an_outlook(tree, water=days)


def test_the_year_tells_what_is_coming_in_order_why_how_sure_and_the_sources() -> None:
    """A frost tonight comes before a repotting in April, each with its grounds."""
    late = an_advice(span=Days(date(2013, 4, 2), date(2013, 4, 9)))
    advice = (late, a_frost_advice())
    text = "\n".join(year_of(a_situation(advice=advice), "maple", advice))
    assert text.index("night of 27 Mar 2013") < text.index("2–9 Apr 2013: repot when buds swell")
    for part in (
        "about 12 Apr 2013: buds open; 7 Apr at the earliest, by 17 Apr in nine years of ten",
        "Repot while the buds swell.",
        "How sure: about even, 60 %. Because: last repotted never.",
        "Sources\n  records",
    ):
        assert part in text


def test_what_must_wait_says_why_and_until_when() -> None:
    """The reason of the block stands where the deed would."""
    blocked = an_advice(blocked="major bend on 1 Dec 2012: the tree rests until 2 Jun 2013")
    lines = year_of(a_situation(advice=(blocked,)), "maple", (blocked,))
    assert "    This must wait: major bend on 1 Dec 2012: the tree rests until 2 Jun 2013." in lines


def test_a_quiet_tree_is_told_so() -> None:
    """No advice, no stage: plain words instead of an empty page."""
    situation = a_situation(outlooks=by_tree([an_outlook(stages=())]))
    text = "\n".join(year_of(situation, "maple", ()))
    assert "Nothing is coming that asks for a hand" in text
    assert "no stage of the season can be foreseen" in text
    assert "Sources" not in text


def test_how_long_a_pot_lasts_stands_in_the_year() -> None:
    """0.4 L at 0.1 L a day, three days if it uses a quarter more."""
    outlook = thirst("maple", 0.1)
    situation = a_situation(outlooks=by_tree([outlook]))
    assert (
        "Without water a full pot lasts about 4 days, 3 days if the tree uses more than reckoned, "
        "if no rain falls." in year_of(situation, "maple", ())
    )


def test_a_garden_is_told_until_when_nobody_need_come() -> None:
    """The thirstiest first, those that last for weeks counted."""
    trees = [a_tree("Alba"), a_tree("Bo"), a_tree("Cy")]
    outlooks = by_tree([thirst("alba", 0.15), thirst("bo", 0.5), thirst("cy", 0.001)])
    situation = a_situation(a_garden(trees), outlooks=outlooks)
    assert absence_lines(situation) == (
        "Needs water every day: Bo",
        "Watered this morning, lasts until 29 Mar: Alba",
        "More than 14 days: 1 tree",
    )
    assert [each.tree for each in stays(situation)] == ["Bo", "Alba", "Cy"]


def test_many_names_are_counted() -> None:
    """Five are named, the rest counted."""
    trees = [a_tree(f"T{number}") for number in range(8)]
    outlooks = by_tree([thirst(tree.id, 0.5) for tree in trees])
    (line,) = absence_lines(a_situation(a_garden(trees), outlooks=outlooks))
    assert line == "Needs water every day: T0, T1, T2, T3, T4 and 3 more"


def test_where_the_weather_is_unseen_nothing_is_promised() -> None:
    """No days of water, no line."""
    assert lasts(an_outlook(), a_rulebook()) is None
    assert absence_lines(a_situation()) == ()
