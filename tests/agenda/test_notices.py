"""What is told by mail, once."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from mebuki.agenda.build import build
from mebuki.agenda.entry import Notice, NoticeStep, Published
from mebuki.agenda.memory import remembered
from mebuki.agenda.notices import Told, notices
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import Advice, CareKind
from mebuki.domain.practice import CautionText
from mebuki.domain.warning import OfficialWarning, Severity
from tests.agenda.test_build import THREE
from tests.builders import (
    ON,
    a_frost_advice,
    a_garden,
    a_moment,
    a_night,
    a_rulebook,
    a_sight,
    a_situation,
    a_tree,
    an_advice,
    an_outlook,
    by_tree,
)

ACT = "frost:2013-03-27:act"


def told(situation: Situation, *before: str) -> list[Notice]:
    """Return the notices of a round, after some were told."""
    published = Published(at=None, entries=(), notices=before)
    return list(notices(situation, build(situation), published).notices)


def after(situation: Situation, *before: str) -> tuple[str, ...]:
    """Return what is remembered after a round."""
    found = all_told(situation, *before)
    return remembered(before, found.notices, found.marks, situation.on)


def all_told(situation: Situation, *before: str) -> Told:
    """Return the notices of a round with their marks."""
    return notices(situation, build(situation), Published(None, (), before))


def steps(situation: Situation, *before: str) -> list[NoticeStep]:
    """Return the steps told, without the digest."""
    found = told(situation, *before)
    return [notice.step for notice in found if notice.step is not NoticeStep.DIGEST]


def test_frost_tonight_is_told_with_fact_and_deed_by_place() -> None:
    """Subject, first line, trees by place, numbers, until when it is of use."""
    advice = tuple(a_frost_advice(tree.id, cautions=("night-work",)) for tree in THREE.trees)
    notice = told(a_situation(THREE, advice))[0]
    assert notice.key == ACT
    assert notice.thread == "frost:2013-03-27"
    assert notice.subject == "Light frost −2 °C tonight: bring in 3 trees"
    lead = (
        r"Lowest −2\.0 °C about 05:00, chance of harm 60 %; act before dark \(sunset 19:1[3-6]\)\."
    )
    assert re.fullmatch(lead, notice.lead)
    assert [(line.heading, line.trees) for line in notice.lines] == [
        ("Bench", ("Alba", "Bo")), ("Shed", ("Cy",)),
    ]  # fmt: skip
    assert dict(notice.facts)["Chance of harm"] == "about even, 60 % (Alba)"
    assert notice.cautions == ("Mind night-work. (an authority)",)
    assert notice.useful_until == a_moment("2013-03-28", 12)
    assert notice.chart == "nights"


def test_a_notice_is_told_once() -> None:
    """Its key among those told before silences it."""
    situation = a_situation(advice=(a_frost_advice(),))
    assert steps(situation) == [NoticeStep.ACT]
    assert steps(situation, ACT) == []


def test_frost_and_cold_roots_of_one_night_are_one_notice() -> None:
    """Nobody gets more than one act a night."""
    cold = a_frost_advice("bo", kind=CareKind.WINTER, action="winter-night", deed="Cover it.")
    situation = a_situation(THREE, (a_frost_advice("alba"), cold))
    assert steps(situation) == [NoticeStep.ACT]
    assert len(told(situation)[0].lines) == 2


@pytest.mark.parametrize(
    ("lead", "probability", "expected"),
    [(2, 0.31, True), (3, 0.31, True), (2, 0.30, False), (1, 0.9, False), (4, 0.9, False)],
)
def test_a_likely_danger_is_told_two_or_three_days_ahead(
    lead: int, probability: float, expected: bool
) -> None:
    """Above twice the threshold of 15 %, at leads of two and three days."""
    evening = ON + timedelta(days=lead)
    situation = a_situation(advice=(a_frost_advice(evening=evening, probability=probability),))
    assert (steps(situation) == [NoticeStep.PREPARE]) is expected


def test_a_spell_of_cold_nights_is_prepared_for_once() -> None:
    """The night before is cold too, or was told of: no second call to make room."""
    second, third = ON + timedelta(days=2), ON + timedelta(days=3)
    both = tuple(a_frost_advice(evening=day, probability=0.9) for day in (second, third))
    situation = a_situation(advice=both)
    assert [n.key for n in told(situation)][:1] == ["frost:2013-03-29:prepare"]
    assert steps(situation) == [NoticeStep.PREPARE]
    later = a_situation(advice=both[1:])
    assert steps(later) == [NoticeStep.PREPARE]
    assert NoticeStep.PREPARE not in steps(later, "frost:2013-03-29:prepare")


def test_cold_roots_are_told_again_only_for_other_trees() -> None:
    """In a winter spell the trees of the night before need no second mail; frost always does."""

    def cold(on: date, *names: str, **changes: Any) -> Situation:
        kind: dict[str, Any] = {"kind": CareKind.WINTER, "action": "winter-night", **changes}
        advice = tuple(a_frost_advice(name, on, **kind) for name in names)
        return a_situation(THREE, advice, on=on, at=a_moment(on))

    def acts(situation: Situation, before: tuple[str, ...]) -> int:
        return sum(1 for step in steps(situation, *before) if step is NoticeStep.ACT)

    first, second, third = (ON + timedelta(days=n) for n in range(3))
    once = after(cold(first, "alba", "bo"))
    assert acts(cold(second, "alba"), once) == 0
    assert acts(cold(second, "alba", "bo"), once) == 0
    assert acts(cold(second, "alba", "cy"), once) == 1
    assert acts(cold(second, "alba", kind=CareKind.FROST, action="frost-night"), once) == 1
    twice = after(cold(second, "alba", "bo"), *once)
    assert acts(cold(second, "alba", "bo"), twice) == 0
    assert acts(cold(third, "alba", "bo"), twice) == 0
    over = mild(on=third, at=a_moment(third), outlooks=by_tree(
        [an_outlook(nights=(a_night(third, 5, third),))]
    ))  # fmt: skip
    (end,) = [n for n in told(over, *twice) if n.step is NoticeStep.OVER]
    assert end.key == f"frost:{second}:over"
    assert end.thread == f"frost:{first}"
    fourth = third + timedelta(days=1)
    past = mild(on=fourth, at=a_moment(fourth), outlooks=by_tree(
        [an_outlook(nights=(a_night(fourth, 5, fourth),))]
    ))  # fmt: skip
    assert told(past, *after(over, *twice)) == []


def test_one_end_is_told_a_round_the_night_ahead_first() -> None:
    """A prepared night that is safe now comes before a past one."""
    keys = ("frost:2013-03-26:act", "frost:2013-03-28:prepare")
    assert [n.key for n in told(mild(), *keys)] == ["frost:2013-03-28:over"]
    assert [n.key for n in told(mild(), *keys, "frost:2013-03-28:over")] == [
        "frost:2013-03-26:over"
    ]


def mild(**changes: Any) -> Situation:
    """Return a situation without any danger, its coming night seen."""
    return a_situation(**changes)


PREPARE = "frost:2013-03-27:prepare"


def test_a_danger_that_was_prepared_for_and_is_gone_is_told_as_over() -> None:
    """Once; and only for a night that can be seen."""
    assert steps(mild(), PREPARE) == [NoticeStep.OVER]
    assert steps(mild(), PREPARE, "frost:2013-03-27:over") == []
    unseen = by_tree([an_outlook(nights=())])
    assert steps(mild(outlooks=unseen), PREPARE) == []


def test_trees_called_in_today_are_not_called_out_again() -> None:
    """The night may turn once more, and no further mail could call them in a second time."""
    assert steps(mild(), ACT) == []
    assert steps(mild(), PREPARE, ACT) == []


def test_a_danger_that_was_not_told_has_no_end() -> None:
    """No over without an act or a prepare."""
    assert steps(mild()) == []


def test_a_small_chance_left_holds_the_end_back() -> None:
    """Between half the threshold and the threshold it is not over."""
    for chance, left in ((0.1, []), (0.074, [NoticeStep.OVER])):
        watch = a_frost_advice(action="frost-watch", probability=chance)
        assert steps(a_situation(advice=(watch,)), PREPARE) == left


def test_after_the_night_trees_may_go_back_if_the_next_is_mild() -> None:
    """Told the evening before; tonight brings no harm."""
    on = ON + timedelta(days=1)
    next_day = mild(on=on, outlooks=by_tree([an_outlook(nights=(a_night(on, 5, on),))]))
    (notice,) = [n for n in told(next_day, ACT) if n.step is NoticeStep.OVER]
    assert notice.key == "frost:2013-03-27:over"
    assert "may go back" in notice.lead
    again = replace(next_day, advice=(a_frost_advice(evening=on),))
    assert NoticeStep.OVER not in steps(again, ACT)


def the_end(on: date, *before: str, advice: tuple[Advice, ...] = ()) -> Notice:
    """Return the end of a danger of `THREE`, told on a day before a mild night."""
    nights = (a_night(on, 5, on), a_night(on + timedelta(days=1), -2, on))
    outlooks = by_tree([an_outlook(tree.id, nights=nights) for tree in THREE.trees])
    quiet = a_situation(THREE, advice, on=on, at=a_moment(on), outlooks=outlooks)
    (notice,) = [each for each in told(quiet, *before) if each.step is NoticeStep.OVER]
    return notice


def test_the_end_names_the_trees_that_were_called_in() -> None:
    """By place, whichever night of the spell called them; not those that stayed out."""
    first = after(a_situation(THREE, (a_frost_advice("alba"),)))
    on = ON + timedelta(days=1)
    second = after(a_situation(THREE, (a_frost_advice("cy", on),), on=on, at=a_moment(on)), *first)
    end = the_end(on + timedelta(days=1), *second)
    assert [(line.heading, line.deed, line.trees) for line in end.lines] == [
        ("Bench", "", ("Alba",)), ("Shed", "", ("Cy",)),
    ]  # fmt: skip


def test_the_end_says_when_it_may_be_cold_again_soon() -> None:
    """Within three days: who carries heavy pots may leave them in."""
    before = after(a_situation(THREE, (a_frost_advice("alba"),)))
    on = ON + timedelta(days=1)
    soon = a_frost_advice("alba", on + timedelta(days=1))
    told_again = the_end(on, *before, advice=(soon,)).lead
    assert told_again.endswith(
        "The night of Fri 29 Mar may be cold again: leave in what is hard to move."
    )
    assert "again" not in the_end(on, *before).lead


def test_a_word_to_prepare_moves_nothing_yet() -> None:
    """The night, the number and the chance; that another word comes; short enough for a list."""
    evening = ON + timedelta(days=2)
    advice = tuple(a_frost_advice(tree.id, evening) for tree in THREE.trees)
    nights = (a_night(evening, -0.4),)
    outlooks = by_tree([an_outlook(tree.id, nights=nights) for tree in THREE.trees])
    (notice,) = told(a_situation(THREE, advice, outlooks=outlooks))[:1]
    assert notice.subject == "Frost possible, low 0 °C, night of Fri 29 Mar: make room for 3 trees"
    assert len(notice.subject) <= 70
    assert notice.lead == (
        "Lowest −0.4 °C about 05:00, chance of harm 60 %. "
        "Move nothing yet: if it stays so, another word comes on the day."
    )


def test_a_caution_says_which_trees_it_is_about() -> None:
    """Where it is not about all of them: by name, or how many of how many."""
    heavy = a_frost_advice("alba", cautions=("lifting", "night-work"))
    light = a_frost_advice("bo", cautions=("night-work",))
    (notice, *_) = told(a_situation(THREE, (heavy, light)))
    assert notice.cautions == (
        "Alba: Mind lifting. (an authority)", "Mind night-work. (an authority)",
    )  # fmt: skip
    many = a_garden([a_tree(f"Elm {number}") for number in range(9)])
    advice = tuple(
        a_frost_advice(tree.id, cautions=("lifting",) if number < 5 else ())
        for number, tree in enumerate(many.trees)
    )
    (notice, *_) = told(a_situation(many, advice))
    assert notice.cautions == ("5 of the 9 trees: Mind lifting. (an authority)",)


def test_trees_stand_in_the_order_of_their_numbers() -> None:
    """Elm 2 before Elm 10."""
    many = a_garden([a_tree(f"Elm {number}") for number in (10, 2, 1)])
    advice = tuple(a_frost_advice(tree.id) for tree in many.trees)
    (notice, *_) = told(a_situation(many, advice))
    assert [line.trees for line in notice.lines] == [("Elm 1", "Elm 2", "Elm 10")]
    assert notice.lines[0].ids == tuple(f"elm-{number}" for number in (1, 2, 10))


def test_an_authority_with_brackets_brings_no_brackets_within_brackets() -> None:
    """A doubt about a source is told after a comma."""
    text = CautionText(id="lifting", text="Lift well.", authority="CDC on falls (from memory)")
    book = a_rulebook().model_copy(update={"cautions": {"lifting": text}})
    advice = (a_frost_advice("alba", cautions=("lifting",)),)
    (notice, *_) = told(a_situation(THREE, advice, rulebook=book))
    assert notice.cautions == ("Lift well. (CDC on falls, from memory)",)


def test_only_the_newest_of_several_nights_is_ended() -> None:
    """A week of frost ends with one mail."""
    on = ON + timedelta(days=2)
    later = mild(on=on, outlooks=by_tree([an_outlook(nights=(a_night(on, 5, on),))]))
    keys = ("frost:2013-03-26:act", "frost:2013-03-27:act", "frost:2013-03-28:act")
    assert [n.key for n in told(later, *keys)] == ["frost:2013-03-28:over"]


def test_the_digest_tells_today_the_week_and_what_is_put_off() -> None:
    """One a day, with the remarks on the weather."""
    advice = (
        a_frost_advice("alba"),
        an_advice("bo"),
        an_advice("cy", blocked="the tree is weak"),
    )
    situation = a_situation(THREE, advice, sight=a_sight(remarks=("Few climate years.",)))
    (digest,) = [n for n in told(situation) if n.step is NoticeStep.DIGEST]
    assert digest.key == "digest:2013-03-27:digest"
    headings = [line.heading for line in digest.lines]
    assert headings == ["Today", "Going on", "Put off"]
    assert digest.lines[-1].deed == "Repot Cy: the tree is weak"
    assert ("Note", "Few climate years.") in digest.facts
    assert told(situation, *after(situation)) == []


def test_a_day_without_work_has_no_digest() -> None:
    """Silence is worth more than an empty letter."""
    assert told(mild()) == []


def test_no_notice_shouts() -> None:
    """No exclamation marks, and a minus sign where one belongs."""
    for notice in told(a_situation(advice=(a_frost_advice(), an_advice()))):
        text = " ".join([notice.subject, notice.lead, *(line.deed for line in notice.lines)])
        assert "!" not in text
        assert "-" not in notice.subject


def test_an_official_warning_stands_verbatim_beside_our_advice() -> None:
    """Its headline, issuer and link are facts of the act and of the digest; no number changes."""
    warning = OfficialWarning(
        key="k", issuer="NWS New York NY", event="Freeze Warning",
        headline="Freeze Warning issued March 27", description="", instruction="", area="",
        severity=Severity.MODERATE, urgency="", certainty="", sent=a_moment(ON, 9), onset=None,
        ends=None, expires=None, link="https://alerts.weather.gov/",
    )  # fmt: skip
    plain = told(a_situation(advice=(a_frost_advice(),)))
    warned = told(a_situation(advice=(a_frost_advice(),), sight=a_sight(warnings=(warning,))))
    words = "Freeze Warning issued March 27 (NWS New York NY) https://alerts.weather.gov/"
    for notice in warned:
        assert ("Official warning", words) in notice.facts
    chances = [dict(notice.facts).get("Chance of harm") for notice in plain]
    assert chances == [dict(notice.facts).get("Chance of harm") for notice in warned]


def test_every_notice_gives_the_weather_services_their_credit() -> None:
    """Terms of the services: attribution wherever their data are shown, mails too."""
    credit = "Data from MET Norway, CC BY 4.0"
    sight = a_sight(credits_=(credit,))
    for notice in told(a_situation(advice=(a_frost_advice(),), sight=sight)):
        assert ("Credit", credit) in notice.facts
