"""Pests: when to look, on which trees, and in which words."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from mebuki.domain.advice import Advice, Case, Certainty, Days
from mebuki.domain.pest import PestCue
from mebuki.rulebook import read_rulebook
from mebuki.rules import scout
from tests.builders import (
    a_case,
    a_pest,
    a_place,
    a_rulebook,
    a_southern_site,
    a_taxon,
    some_degree_days,
)


def the_case(*cues: PestCue, on: str | date = "2013-03-15", **changes: Any) -> Case:
    """Return a maple in a spring that warms by 5 °C d a day, and some cues."""
    book = a_rulebook().model_copy(update={"pests": {cue.id: cue for cue in cues or (a_pest(),)}})
    warmth: dict[str, Any] = {"degree_days": (some_degree_days(),)} | changes
    return a_case(rulebook=book, on=on, **warmth)


def one(case: Case) -> Advice:
    """Return the one advice of a case."""
    (advice,) = scout.advise(case)
    return advice


def test_a_look_is_due_between_the_degree_days_of_the_cue() -> None:
    """5 °C d a day from 1 March: 100 are full on 20 March, 200 on 9 April."""
    advice = one(the_case())
    assert advice.span == Days(date(2013, 3, 20), date(2013, 4, 9))
    assert advice.cycle == "2013/spring/maple-mite"
    told = {reason.what: reason.value for reason in advice.reasons}
    assert told["degree days above 10 °C since 1 Mar"] == "75 °C d so far"
    assert told["the cue"] == "100 to 200 °C d"
    assert told["reached"] == "20 Mar (8 of 10 cases 17 Mar to 25 Mar)"
    assert told["region of these figures"] == "Somewhere; elsewhere a hint"


@pytest.mark.parametrize(
    ("on", "told"),
    [
        (date(2013, 3, 5), False), (date(2013, 3, 6), True), (date(2013, 4, 9), True),
        (date(2013, 4, 10), False),
    ],
)  # fmt: skip
def test_it_is_told_from_two_weeks_ahead_until_it_is_over(on: date, told: bool) -> None:
    """Neither a season ahead nor after its last day."""
    assert bool(scout.advise(the_case(on=on))) is told


def test_a_long_cue_is_told_for_three_weeks() -> None:
    """From 100 to 600 °C d would be a hundred days."""
    long = a_pest(ends={"value": 600, "source": "practice"})
    assert one(the_case(long)).span == Days(date(2013, 3, 20), date(2013, 4, 10))


def test_a_single_point_is_told_for_ten_days() -> None:
    """A cue without an end."""
    point = a_pest(ends=None)
    advice = one(the_case(point))
    assert advice.span == Days(date(2013, 3, 20), date(2013, 3, 30))
    assert any(reason.value == "100 °C d" for reason in advice.reasons)


def test_only_hosts_are_looked_at() -> None:
    """By taxon id or by genus; a genus is a whole word."""
    assert scout.advise(the_case(a_pest(hosts=("pinus",)))) == ()
    assert scout.advise(the_case(a_pest(hosts=("acer-palmatum",)))) != ()
    assert scout.advise(the_case(a_pest(hosts=("acer-buergerianum",)))) == ()
    malus = a_taxon("malus")
    assert scout.advise(the_case(a_pest(hosts=("malus",)), taxon=malus)) != ()
    assert scout.advise(the_case(a_pest(hosts=("ace",)))) == ()


def test_nothing_is_told_where_the_warmth_is_not_known() -> None:
    """No degree days, a total never reached, or a tree indoors."""
    assert scout.advise(the_case(degree_days=())) == ()
    never = a_pest(begins={"value": 5000, "source": "practice"}, ends=None)
    assert scout.advise(the_case(never)) == ()
    assert scout.advise(the_case(place=a_place(kind="indoors"))) == ()


def test_it_is_likely_once_even_a_late_spring_has_reached_it() -> None:
    """Nine cases of ten have passed 100 °C d on 25 March."""
    assert one(the_case(on="2013-03-24")).certainty is Certainty.POSSIBLE
    assert one(the_case(on="2013-03-25")).certainty is Certainty.LIKELY


def test_in_the_south_warmth_counts_from_september() -> None:
    """The same cue, half a year later."""
    case = the_case(
        on="2013-09-15", site=a_southern_site(),
        degree_days=(some_degree_days(begins="2013-09-01"),),
    )  # fmt: skip
    assert one(case).span == Days(date(2013, 9, 20), date(2013, 10, 10))


@pytest.mark.parametrize(
    ("degree_days", "part"),
    [(4, "early-spring"), (111, "spring"), (222, "early-summer"), (722, "summer"),
     (1319, "late-summer")],
)  # fmt: skip
def test_a_cue_belongs_to_a_part_of_the_season_by_its_own_number(
    degree_days: float, part: str
) -> None:
    """Never by a predicted date: the part is in the key of the entry."""
    assert scout.part_of(a_pest(begins={"value": degree_days, "source": "x y"}, ends=None)) == part


def test_no_shipped_cue_says_spray() -> None:
    """Look, cut off, pick off: never a product, a dose or a treatment."""
    cues = read_rulebook().pests.values()
    assert len(cues) >= 30
    for cue in cues:
        case = the_case(cue, taxon=a_taxon(cue.hosts[0]), on="2013-03-01",
                        degree_days=(some_degree_days(daily=cue.begins.value / 10),))  # fmt: skip
        advice = one(case)
        told = f"{advice.fact} {advice.deed}".lower()
        assert "look" in told
        for word in ("spray", "treat", "insecticid", "pesticid", "oil", "soap"):
            assert word not in told
        assert advice.cautions == ("pesticides-and-preservatives",)
        assert cue.region in advice.fact
