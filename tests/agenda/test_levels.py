"""Cautious, balanced, few: who is told when, what is worse, and how many mails a day bears."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.agenda.entry import NoticeStep
from mebuki.agenda.memory import levels_of
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import Advice, CareKind, Severity
from mebuki.domain.garden import Caution, Garden
from mebuki.domain.weather import Freshness
from tests.agenda.rounds import Readers, steps
from tests.builders import (
    ON,
    a_frost_advice,
    a_garden,
    a_moment,
    a_night,
    a_sight,
    a_situation,
    a_subscriber,
    a_tree,
    an_outlook,
    by_tree,
)

LEVELS: tuple[Caution, ...] = ("cautious", "balanced", "few")
ACT, PREPARE, OVER = NoticeStep.ACT, NoticeStep.PREPARE, NoticeStep.OVER
NAMES = ("Alba", "Bo", "Cy")


def garden(*levels: Caution) -> Garden:
    """Return a garden of three trees with a reader of each level."""
    people = tuple(
        a_subscriber(name=level, email=f"{level}@example.org", notice_level=level)
        for level in levels or LEVELS
    )
    return a_garden([a_tree(name) for name in NAMES], subscribers=people)


def chance(
    probability: float, tree: str = "alba", evening: date = ON, threshold: float = 0.15
) -> Advice:
    """Return what the frost rule says of one tree with a chance of harm."""
    share = probability / threshold
    word = "night" if share > 1 else "watch" if share >= 0.5 else "trace"
    return a_frost_advice(
        tree, evening, action=f"frost-{word}", probability=probability, threshold=threshold,
        severity=Severity.MODERATE if word == "night" else Severity.MINOR,
    )  # fmt: skip


def at(
    *advice: Advice, on: date = ON, hour: int = 11, kept: Garden | None = None, blind: bool = False
) -> Situation:
    """Return a situation of the garden with two nights in view."""
    here = kept or garden()
    nights = tuple(a_night(on + timedelta(days=n), -2, on) for n in range(4))
    return a_situation(
        here, advice, on=on, at=a_moment(on, hour),
        outlooks=by_tree([an_outlook(tree.id, nights=nights) for tree in here.trees]),
        sight=a_sight(freshness=Freshness.BLIND if blind else Freshness.FRESH),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("probability", "told"),
    [
        (0.04, []), (0.06, ["cautious"]), (0.14, ["cautious"]), (0.16, ["cautious", "balanced"]),
        (0.29, ["cautious", "balanced"]), (0.31, ["cautious", "balanced", "few"]),
    ],
)  # fmt: skip
def test_each_level_is_told_from_its_own_chance_on(probability: float, told: list[str]) -> None:
    """A good tree tonight: 5, 15 and 30 %."""
    found = Readers().hear(at(chance(probability)))
    assert steps(found) == [(level, ACT, 0) for level in told]


def test_the_worth_of_a_tree_moves_every_level_but_never_above_likely() -> None:
    """Prized at 15 % balanced over 3; ordinary at twice that, few held at one half."""
    prized = Readers().hear(at(chance(0.02, threshold=0.05)))
    assert [each.level for each in prized] == ["cautious"]
    ordinary = Readers().hear(at(chance(0.51, threshold=0.30)))
    assert [each.level for each in ordinary] == ["cautious", "balanced", "few"]
    below = Readers().hear(at(chance(0.49, threshold=0.30)))
    assert [each.level for each in below] == ["cautious", "balanced"]


def test_a_notice_reaches_the_readers_of_its_level_alone() -> None:
    """The balanced one bears the bare key, others say their level."""
    found = Readers().hear(at(chance(0.16)))
    assert [each.told for each in found] == [
        "frost:2013-03-27:act@cautious", "frost:2013-03-27:act",
    ]  # fmt: skip
    few = a_subscriber(notice_level="few")
    assert not any(each.concerns(few) for each in found)
    assert [each.concerns(a_subscriber()) for each in found] == [False, True]


def test_notices_are_made_for_levels_that_somebody_reads_and_the_balanced_one() -> None:
    """The calendar follows the balanced level, whoever reads."""
    assert levels_of(garden("few")) == ("balanced", "few")
    assert levels_of(garden("cautious")) == ("cautious", "balanced")


def test_what_was_told_to_one_level_is_new_to_another() -> None:
    """The chance grows over the day: each level hears of it once."""
    readers = Readers()
    heard = [steps(readers.hear(at(chance(p), hour=h))) for p, h in ((0.1, 11), (0.2, 15))]
    assert heard == [[("cautious", ACT, 0)], [("balanced", ACT, 0)]]


def test_a_state_kept_before_there_were_levels_stays_valid() -> None:
    """A bare key counts for the balanced level."""
    readers = Readers(("frost:2013-03-27:act",))
    assert steps(readers.hear(at(chance(0.2), kept=garden("balanced")))) == []


def test_a_cold_root_ball_is_told_whatever_its_chance() -> None:
    """What the rule asks for by hours below the limit stands at every level."""
    lasting = a_frost_advice(
        "alba", kind=CareKind.WINTER, action="winter-night", probability=0.01, threshold=0.15
    )
    assert [each.level for each in Readers().hear(at(lasting))] == list(LEVELS)


def test_a_night_that_nears_its_threshold_twice_is_called_once() -> None:
    """Called in at 20 %, 10 % later in the day, 20 % again: one mail."""
    readers = Readers()
    few = garden("balanced")
    said = [
        steps(readers.hear(at(chance(p), hour=h, kept=few)))
        for p, h in ((0.2, 11), (0.1, 14), (0.01, 16), (0.2, 18))
    ]
    assert said == [[("balanced", ACT, 0)], [], [], []]


def test_after_a_word_to_prepare_the_day_decides_anew() -> None:
    """Prepared for at 40 %, 10 % on the day: nothing is asked, nor is it over; 5 % is over."""
    kept, ahead = garden("balanced"), ON + timedelta(days=2)
    for left, said in ((0.2, [("balanced", ACT, 0)]), (0.1, []), (0.05, [("balanced", OVER, 0)])):
        readers = Readers()
        first = readers.hear(at(chance(0.4, evening=ahead), kept=kept))
        assert steps(first) == [("balanced", PREPARE, 0)]
        assert "chance of harm 40 %" in first[0].lead
        assert steps(readers.hear(at(chance(left, evening=ahead), on=ahead, kept=kept))) == said


def test_a_tree_that_was_not_named_is_told_as_an_update_in_the_thread() -> None:
    """The same key with a revision, so that it answers the first mail; a tree less is no news."""
    readers, kept = Readers(), garden("balanced")
    (first,) = readers.hear(at(chance(0.2), chance(0.2, "bo"), kept=kept))
    assert readers.hear(at(chance(0.2), kept=kept, hour=13)) == []
    (update,) = readers.hear(at(*(chance(0.2, tree) for tree in ("alba", "bo", "cy")), kept=kept))
    assert (update.key, update.revision, update.thread) == (first.key, 1, first.thread)
    assert update.told == "frost:2013-03-27:act#1"
    assert update.subject == "Worse tonight, light frost −2 °C: bring in Cy as well"
    assert update.named == ("cy",)
    told = [(line.heading, line.trees) for line in update.lines]
    assert told == [("New: Bench", ("Cy",)), ("Told before: Bench", ("Alba", "Bo"))]


def test_a_graver_danger_is_an_update_and_the_same_danger_is_not() -> None:
    """A likely loss of a good tree is severe; told once."""
    readers, kept = Readers(), garden("balanced")
    readers.hear(at(chance(0.2), kept=kept))
    worse = a_frost_advice("alba", probability=0.7, severity=Severity.SEVERE)
    assert steps(readers.hear(at(worse, kept=kept, hour=14))) == [("balanced", ACT, 1)]
    assert readers.hear(at(worse, kept=kept, hour=16)) == []


def test_a_second_update_waits_for_another_day() -> None:
    """Two mails a day: the call and one more."""
    readers, kept = Readers(), garden("balanced")
    for count in (1, 2, 3):
        now = at(*(chance(0.2, name.lower()) for name in NAMES[:count]), kept=kept)
        readers.hear(now)
    assert steps(readers.told) == [("balanced", ACT, 0), ("balanced", ACT, 1)]


chances = st.lists(
    st.tuples(
        st.sampled_from([name.lower() for name in NAMES]),
        st.integers(0, 3),
        st.floats(0.01, 0.99),
        st.sampled_from([Severity.MODERATE, Severity.SEVERE]),
    ),
    max_size=8,
)
rounds = st.lists(
    st.tuples(chances, st.integers(0, 1), st.integers(0, 23), st.booleans()), max_size=12
)


@given(rounds)
def test_whatever_happens_nobody_gets_more_than_one_call_a_night_and_two_mails_a_day(
    course: list[tuple[list[tuple[str, int, float, Severity]], int, int, bool]],
) -> None:
    """Any course of chances, severities and blindness, several rounds a day."""
    readers, on = Readers(), ON
    mails: dict[tuple[str | None, date], int] = {}
    for found, later, hour, blind in course:
        on += timedelta(days=later)
        advice = {
            (tree, ahead): a_frost_advice(
                tree, on + timedelta(days=ahead), probability=p, severity=severity,
                action=f"frost-{'night' if p > 0.15 else 'watch' if p >= 0.075 else 'trace'}",
            )
            for tree, ahead, p, severity in found
        }  # fmt: skip
        for notice in readers.hear(at(*advice.values(), on=on, hour=hour, blind=blind)):
            place = (notice.level, on)
            mails[place] = mails.get(place, 0) + 1
            assert not (blind and notice.step is OVER)
    assert all(count <= 2 for count in mails.values())
    calls = [each.told for each in readers.told if each.step is ACT and not each.revision]
    assert len(calls) == len(set(calls))
    everything = [each.told for each in readers.told]
    assert len(everything) == len(set(everything))


def test_a_call_is_never_kept_back_by_another_mail() -> None:
    """Blindness told in the morning, frost seen at noon."""
    readers, kept = Readers(), garden("balanced")
    readers.hear(at(kept=kept, blind=True, hour=6))
    assert steps(readers.hear(at(chance(0.5), kept=kept, hour=12))) == [("balanced", ACT, 0)]


def test_the_facts_name_the_threshold_of_the_level() -> None:
    """Each reader sees the chance above which they asked to be told."""
    found = Readers().hear(at(chance(0.4)))
    shown = [dict(each.facts)["You are told from a chance of"] for each in found]
    assert shown == ["5 %", "15 %", "30 %"]


def test_a_call_after_nightfall_does_not_speak_of_dark() -> None:
    """The sun sets at 19:15 (23:15 UTC); a round at dusk may be the first to see the danger."""
    (late,) = Readers().hear(at(chance(0.4), kept=garden("balanced"), hour=23))
    assert late.lead.endswith("act now.")
    (early,) = Readers().hear(at(chance(0.4), kept=garden("balanced"), hour=22))
    assert re.search(r"act before dark \(sunset 19:1[3-6]\)\.$", early.lead)
