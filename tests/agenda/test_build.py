"""Advice of many trees becomes entries under stable keys."""

from __future__ import annotations

import doctest
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from mebuki.agenda import grouping, noticed, titles
from mebuki.agenda.build import build
from mebuki.agenda.done import held_keys
from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.agenda.situation import Situation
from mebuki.domain import wording
from mebuki.domain.advice import Advice, CareKind, Certainty, Days, Moments, Urgency
from mebuki.domain.weather import Freshness
from mebuki.rules.evaluate import evaluate
from tests.builders import (
    AT,
    ON,
    a_case,
    a_day,
    a_frost_advice,
    a_frost_free_place,
    a_garden,
    a_moment,
    a_night,
    a_place,
    a_record,
    a_sight,
    a_situation,
    a_tree,
    a_water_day,
    an_advice,
    by_tree,
)


def one(situation: Situation) -> Entry:
    """Return the only entry of a situation."""
    (entry,) = build(situation)
    return entry


THREE = a_garden([a_tree("Alba"), a_tree("Bo"), a_tree("Cy", place="shed")])


def test_a_repotting_is_one_entry_a_tree_with_the_likely_day_in_its_title() -> None:
    """The key holds garden, kind, action, tree and season, and no predicted day."""
    entry = one(a_situation(advice=(an_advice(),)))
    assert entry.key == "home/repot/repot-window/maple/2013"
    assert entry.title == "Repot Maple when buds swell (likely 29 Mar)"
    assert entry.span == Days(date(2013, 3, 22), date(2013, 4, 4), date(2013, 3, 29))
    assert entry.status is EntryStatus.CONFIRMED
    assert not entry.alarm


def test_an_unsure_window_is_tentative() -> None:
    """Possible is tentative, likely is confirmed."""
    advice = an_advice(certainty=Certainty.POSSIBLE, probability=0.2)
    assert one(a_situation(advice=(advice,))).status is EntryStatus.TENTATIVE


def test_the_body_says_what_when_how_sure_why_and_what_to_mind() -> None:
    """Every part, with sources, the day it was written, and what is on record."""
    tree = a_tree(records=[a_record("repotted", "2010-03-12")])
    advice = an_advice(cautions=("sharp-tools",))
    body = one(a_situation(a_garden([tree]), (advice,))).body
    for part in (
        "Repot while the buds swell.",
        "When: 22 Mar – 4 Apr, likely 29 Mar",
        "How sure: about even, 60 %",
        "Bench:\n- Maple: repot when buds swell",
        "- last repotted: never [records]",
        "On record\n- repotted 12 Mar 2010",
        "Mind sharp-tools. (an authority)",
        "As of 27 Mar 2013, Home. Weather measured until 27 Mar 07:00.",
    ):
        assert part in body
    assert body.splitlines()[0] == "Repot while the buds swell."


def test_what_is_put_off_is_shown_as_put_off() -> None:
    """Not as work to do: title, first line and status say so."""
    entry = one(a_situation(advice=(an_advice(blocked="the tree is weak"),)))
    assert entry.title == "Put off: repot Maple"
    assert entry.body.startswith("Wait: the tree is weak.")
    assert entry.status is EntryStatus.TENTATIVE


def test_a_frost_night_is_one_timed_entry_for_all_trees_by_place() -> None:
    """An alarm, the trees by place inside, the coldest air in the title."""
    advice = tuple(a_frost_advice(tree.id) for tree in THREE.trees)
    entry = one(a_situation(THREE, advice))
    assert entry.key == "home/frost/frost-night/all/2013-03-27"
    assert entry.title == "Light frost −2 °C: bring in 3 trees"
    assert isinstance(entry.span, Moments)
    assert entry.alarm
    assert entry.trees == ("alba", "bo", "cy")
    assert entry.place == ""
    assert entry.body.index("Bench:") < entry.body.index("- Alba") < entry.body.index("Shed:")


def test_a_tree_is_not_called_in_twice_for_one_night() -> None:
    """Frost on its growth and cold at its roots make one entry; a watch makes none."""
    cold = a_frost_advice(kind=CareKind.WINTER, action="winter-night")
    watch = a_frost_advice(action="frost-watch", evening="2013-03-28")
    found = build(a_situation(advice=(a_frost_advice(), cold, watch)))
    assert [entry.kind for entry in found] == [CareKind.FROST]


def test_wire_checks_are_grouped_by_place_and_number() -> None:
    """Trees wired in one year at one place share an entry; a far check waits inside its key."""

    def check(tree: str, number: int, first: str) -> Advice:
        start = a_day(first)
        return an_advice(
            tree, kind=CareKind.WIRE, action="wire-check", cycle=f"2012-10-20/{number}",
            span=Days(start, start + timedelta(days=6), start), fact="check the wire",
        )  # fmt: skip

    advice = (
        check("alba", 1, "2013-04-20"),
        check("bo", 1, "2013-04-24"),
        check("cy", 2, "2013-05-20"),
    )
    shed, bench = sorted(build(a_situation(THREE, advice)), key=lambda entry: entry.trees)[::-1]
    assert bench.key == "home/wire/wire-check/bench/2012-1"
    assert bench.title == "Check the wire on 2 trees, Bench"
    assert bench.span == Days(date(2013, 4, 20), date(2013, 4, 30), date(2013, 4, 20))
    assert shed.key == "home/wire/wire-check/shed/2012-2"
    later = (check("alba", 1, "2013-04-20"), check("bo", 1, "2013-06-24"))
    assert one(a_situation(THREE, later)).trees == ("alba",)


def test_a_garden_of_many_places_gets_one_entry_for_all_of_them() -> None:
    """Six benches must not make six entries a day; the places stand inside, none in the title."""
    places = [a_place(f"bench-{number}", name=f"Bench {number}") for number in range(6)]
    trees = [a_tree(f"Tree {number}", place=f"bench-{number}") for number in range(6)]
    span = Days(date(2013, 4, 20), date(2013, 4, 26), date(2013, 4, 20))
    advice = tuple(
        an_advice(
            tree.id, kind=CareKind.WIRE, action="wire-check", cycle="2012-10-20/1", span=span,
            fact="check the wire",
        )
        for tree in trees
    )  # fmt: skip
    entry = one(a_situation(a_garden(trees, places), advice))
    assert entry.key == "home/wire/wire-check/all/2012-1"
    assert entry.title == "Check the wire on 6 trees"
    assert entry.place == ""
    assert all(f"{place.name}:" in entry.body for place in places)
    alone = one(a_situation(a_garden(trees, places), advice[:1]))
    assert (alone.key, alone.title) == (entry.key, "Check the wire on Tree 0, Bench 0")


def test_an_entry_says_whom_its_weather_is_owed_to() -> None:
    """In the text itself: a calendar program may show nothing of the calendar's own."""
    sight = a_sight(credits_=("A Service, CC BY 4.0", "Another"))
    entry = one(a_situation(THREE, (an_advice("alba"),), sight=sight))
    assert entry.body.splitlines()[-2:] == ["Weather: A Service, CC BY 4.0", "Weather: Another"]


def test_watering_is_one_entry_a_day() -> None:
    """Two days, two entries, each with its trees."""

    def thirsty(tree: str, day: str) -> Advice:
        span = Days(a_day(day), a_day(day))
        return an_advice(tree, kind=CareKind.WATER, action="water-today", cycle=day, span=span)

    advice = (
        thirsty("alba", "2013-03-27"), thirsty("bo", "2013-03-27"), thirsty("cy", "2013-03-28"),
    )  # fmt: skip
    found = build(a_situation(THREE, advice))
    assert [entry.title for entry in found] == ["Water 2 trees", "Water Cy"]


def test_frozen_pots_are_one_entry_a_week() -> None:
    """Two frozen days: one caution until Sunday, which stands although nothing asks for it."""

    def frozen(tree: str, day: str) -> Advice:
        span = Days(a_day(day), a_day(day))
        return an_advice(
            tree, kind=CareKind.WATER, action="do-not-water-frozen", cycle=day, span=span
        )

    advice = (frozen("alba", "2013-03-27"), frozen("bo", "2013-03-28"))
    entry = one(a_situation(THREE, advice))
    assert entry.key == "home/water/do-not-water-frozen/all/2013-W13"
    assert entry.span == Days(date(2013, 3, 27), date(2013, 3, 31))
    assert entry.title == "Pots freeze this week, water none that is frozen: 2 trees"
    assert held_keys([entry], a_situation(THREE)) == {entry.key}


def test_light_work_on_shoots_is_one_entry_a_season_that_says_each_deed() -> None:
    """Pinching in April and clipping in June: one identity, both deeds, each tree its days."""

    def shoots(tree: str, action: str, first: str) -> Advice:
        span = Days(a_day(first), a_day(first) + timedelta(days=20))
        return an_advice(
            tree, kind=CareKind.PRUNE, action=action, cycle="2013/a-part", span=span,
            deed=f"Now {action}.", probability=None,
        )  # fmt: skip

    advice = (shoots("alba", "clip", "2013-06-01"), shoots("bo", "pinch", "2013-04-20"))
    entry = one(a_situation(THREE, advice))
    assert entry.key == "home/prune/shoot-work/all/2013"
    assert entry.title == "Work on new shoots: 2 trees, each in its window"
    assert entry.body.startswith("Now pinch.\nNow clip.")
    assert entry.span == Days(date(2013, 4, 20), date(2013, 6, 21))


def test_the_bar_of_work_without_hurry_marks_its_begin() -> None:
    """Feeding for months is two weeks in the calendar; the text says until when."""
    span = Days(date(2013, 4, 20), date(2013, 9, 20))
    advice = an_advice(
        kind=CareKind.FEED, action="feed-season", cycle="2013/early", span=span, probability=None
    )
    entry = one(a_situation(advice=(advice,)))
    assert entry.span == Days(date(2013, 4, 20), date(2013, 5, 3))
    assert "When: 20 Apr – 20 Sep" in entry.body
    assert "The calendar marks when it begins" in entry.body


def test_without_weather_an_entry_says_so() -> None:
    """Blindness is told plainly; with a forecast and fresh data there is no such entry."""
    blind = a_sight(freshness=Freshness.BLIND, measured_until=None, remarks=("No answer.",))
    entry = one(a_situation(sight=blind))
    assert entry.key == "home/weather/blind/all/2013-03-27"
    assert "cannot see the coming nights" in entry.body
    assert "No answer." in entry.body
    assert entry.urgency is Urgency.IMMEDIATE
    short = a_sight(forecast_until=AT + timedelta(hours=5))
    assert "does not reach" in one(a_situation(sight=short)).body
    assert build(a_situation()) == ()


@given(shuffled=st.permutations(range(7)))
def test_the_order_of_advice_does_not_matter(shuffled: list[int]) -> None:
    """Any order gives the same entries, to the last sign."""
    advice = (
        *(a_frost_advice(tree.id, probability=0.5) for tree in THREE.trees),
        *(an_advice(tree.id) for tree in THREE.trees),
        an_advice("alba", action="aftercare", cycle="2013-03-20"),
    )
    straight = build(a_situation(THREE, advice))
    other = build(a_situation(THREE, tuple(advice[number] for number in shuffled)))
    assert other == straight
    assert [entry.advice for entry in other] == [entry.advice for entry in straight]


def test_two_hundred_trees_give_a_handful_of_entries_a_day() -> None:
    """All due, wired, thirsty and in frost on one day: six entries, and two observations asked."""
    places = [a_place("upper"), a_place("lower"), a_frost_free_place()]
    trees = [
        a_tree(
            f"Tree {number}", place=places[number % 2].id,
            records=[a_record("wired", "2012-10-20"), a_record("repotted", "2011-03-01")],
        )
        for number in range(200)
    ]  # fmt: skip
    garden = a_garden(trees, places)
    water = [a_water_day(ON, 0.0), a_water_day(ON + timedelta(days=1), 0.0)]
    nights = [a_night(ON + timedelta(days=lead), -6) for lead in range(3)]
    cases = [a_case(tree, garden.place(tree.place), nights=nights, water=water) for tree in trees]
    advice = tuple(found for case in cases for found in evaluate(case))
    assert len(advice) > 800
    outlooks = by_tree([case.outlook for case in cases])
    entries = build(a_situation(garden, advice, outlooks=outlooks))
    for lead in range(-5, 60):
        day = ON + timedelta(days=lead)
        assert sum(1 for entry in entries if _covers(entry, day)) <= 8


def _covers(entry: Entry, day: date) -> bool:
    if isinstance(entry.span, Days):
        return entry.span.first <= day <= entry.span.last
    return entry.span.begins <= a_moment(day, 23) <= entry.span.ends


def test_an_unknown_tree_in_the_advice_is_left_out() -> None:
    """A tree that left the garden gets no entry."""
    assert build(a_situation(advice=(an_advice("gone"),))) == ()


def test_the_examples_in_the_docstrings_hold() -> None:
    """Days, temperatures, chances and titles are worded as their examples say."""
    for module in (wording, titles, noticed, grouping):
        result = doctest.testmod(module)
        assert result.attempted > 0
        assert result.failed == 0
