"""Heat, gusts and drought as notices of their own."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from mebuki.agenda.audience import for_reader
from mebuki.agenda.entry import Notice
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import Advice, CareKind, Days, Severity
from mebuki.domain.exposure import HardDay
from tests.agenda.rounds import Readers
from tests.builders import (
    ON,
    a_garden,
    a_hard_day,
    a_moment,
    a_night,
    a_situation,
    a_subscriber,
    a_tree,
    a_water_day,
    an_advice,
    an_outlook,
    by_tree,
)

NAMES = ("Alba", "Bo", "Cy")
GARDEN = a_garden([a_tree(name) for name in NAMES])
EVENING, MORNING, AFTERNOON = 20, 11, 18
"""Hours (UTC) of rounds at 16, 7 and 14 h in New York."""


def hard(action: str, day: date, tree: str = "alba", grave: bool = True) -> Advice:
    """Return what a rule of hard days says of one tree."""
    kind = {"heat-day": CareKind.HEAT, "gale-day": CareKind.WIND, "water-today": CareKind.WATER}
    return an_advice(
        tree, kind=kind[action], action=action, cycle=day.isoformat(), span=Days(day, day),
        fact="pot wall up to 44 °C in the sun", deed="Shade the pot.", probability=None,
        severity=Severity.SEVERE if grave else Severity.MODERATE,
    )  # fmt: skip


def at(
    *advice: Advice,
    on: date = ON,
    hour: int = MORNING,
    empties: float = 5,
    days: tuple[HardDay, ...] = (),
) -> Situation:
    """Return a mild situation with what rules say of hard days."""
    water = (a_water_day(on, -1, empties=empties),)
    nights = (a_night(on, 15, on),)
    return a_situation(
        GARDEN, advice, on=on, at=a_moment(on, hour),
        outlooks=by_tree(
            [
                an_outlook(tree.id, nights=nights, water=water, hard_days=days)
                for tree in GARDEN.trees
            ]
        ),
    )  # fmt: skip


def keys(found: list[Notice]) -> list[str]:
    """Return the keys of notices."""
    return [each.key for each in found]


def test_heat_is_told_the_evening_before_or_in_the_morning() -> None:
    """Not in the morning of the day before, and not when the day is past its middle."""
    tomorrow = ON + timedelta(days=1)
    assert Readers().hear(at(hard("heat-day", tomorrow))) == []
    (before,) = Readers().hear(at(hard("heat-day", tomorrow), hour=EVENING))
    assert before.subject == "Heat at the pots tomorrow: shade Alba"
    (morning,) = Readers().hear(at(hard("heat-day", ON)))
    assert morning.subject == "Heat at the pots today: shade Alba"
    assert morning.lead == "Alba: pot wall up to 44 °C in the sun."
    assert Readers().hear(at(hard("heat-day", ON), hour=AFTERNOON)) == []


def test_a_reader_who_chose_trees_reads_of_his_own_in_lead_and_numbers() -> None:
    """Cy is the worst of three; who chose Alba reads Alba, and Cy is not named."""
    (notice,) = Readers().hear(at(*(hard("heat-day", ON, tree) for tree in ("alba", "bo", "cy"))))
    assert notice.lead.startswith("Cy: ")
    mine = for_reader(notice, a_subscriber(trees=("alba",)), ZoneInfo("America/New_York"))
    assert mine is not None
    assert mine.lead == "Alba: pot wall up to 44 °C in the sun."
    assert mine.facts[0] == ("Most at risk", "Alba: pot wall up to 44 °C in the sun")
    assert "Cy" not in " ".join((mine.subject, mine.lead, *(value for _, value in mine.facts)))


def test_a_spell_that_reaches_the_tree_of_a_reader_is_told_to_him() -> None:
    """Alba and Bo were told; Cy joins, too few for another mail, but one reader chose Cy alone."""
    for chosen, mails in ((("cy",), 2), (("alba", "cy"), 1), ((), 1)):
        readers, told = Readers(), 0
        for number in range(3):
            day = ON + timedelta(days=number)
            trees = ("alba", "bo") if number == 0 else ("alba", "bo", "cy")
            situation = at(*(hard("heat-day", day, tree) for tree in trees), on=day)
            reader = a_subscriber(trees=chosen)
            garden = situation.garden.model_copy(update={"subscribers": (reader,)})
            told += len(readers.hear(replace(situation, garden=garden)))
        assert told == mails


def test_the_number_and_the_worst_hour_are_told_where_they_are_known() -> None:
    """In the subject how much, in the first line when, by the garden's clock; both in the facts."""
    hot = a_hard_day(
        ON, wall_warmest=46.6, heat=3, gust_most=33.6,
        hottest_at=a_moment(ON, 19), gust_at=a_moment(ON, 15),
    )  # fmt: skip
    (heat,) = Readers().hear(at(hard("heat-day", ON), days=(hot,)))
    assert heat.subject == "Heat today, pots to 47 °C: shade Alba"
    assert heat.lead == "Alba: pot wall up to 44 °C in the sun; hottest about 15:00."
    assert ("Hottest about", "15:00 local time") in heat.facts
    (gale,) = Readers().hear(at(hard("gale-day", ON), days=(hot,)))
    assert gale.subject == "Gusts to 34 m/s today: tie down Alba"
    assert gale.lead.endswith("; strongest about 11:00.")


def test_heat_that_only_leaves_suffer_from_does_not_speak_of_pots() -> None:
    """Dry air over walls that stay cool."""
    dry = a_hard_day(ON, wall_warmest=34, heat=0, scorches=True)
    (notice,) = Readers().hear(at(hard("heat-day", ON), days=(dry,)))
    assert notice.subject == "Hot dry air today: shade Alba"


def test_heat_that_only_hurts_a_little_stands_in_the_digest_alone() -> None:
    """A wall that is hot and not urgent."""
    assert Readers().hear(at(hard("heat-day", ON, grave=False))) == []


def test_a_spell_of_heat_is_told_once_unless_many_more_trees_suffer() -> None:
    """A week of it: one mail, and a second when three trees suffer in place of one."""
    readers = Readers()
    for number in range(7):
        day = ON + timedelta(days=number)
        trees = ("alba",) if number < 5 else ("alba", "bo", "cy")
        readers.hear(at(*(hard("heat-day", day, tree) for tree in trees), on=day))
    assert keys(readers.told) == ["heat:2013-03-27:act", "heat:2013-04-01:act"]


def test_gusts_are_told_while_there_is_daylight_and_once() -> None:
    """The morning before; the same gale the next day is known."""
    tomorrow = ON + timedelta(days=1)
    readers = Readers()
    (notice,) = readers.hear(at(hard("gale-day", tomorrow)))
    assert notice.subject == "Gusts tomorrow: tie down Alba"
    assert notice.thread == "wind:2013-03-28"
    assert readers.hear(at(hard("gale-day", tomorrow), on=tomorrow)) == []


def test_drought_is_told_for_pots_that_do_not_last_to_the_next_visit() -> None:
    """Pots that empty five times a day; those that last are only in the digest."""
    (notice,) = Readers().hear(at(hard("water-today", ON)))
    assert notice.subject == "Pots run dry today: water Alba twice"
    assert Readers().hear(at(hard("water-today", ON), empties=1)) == []


def test_a_dry_summer_brings_no_daily_mail() -> None:
    """Six weeks of pots that dry within the day are one spell."""
    readers = Readers()
    for number in range(0, 42, 3):
        day = ON + timedelta(days=number)
        readers.hear(at(hard("water-today", day), on=day))
    assert keys(readers.told) == ["drought:2013-03-27:act"]


def test_of_two_hard_things_on_a_day_the_graver_is_told() -> None:
    """Gusts before heat: there is one place beside the call before a night."""
    readers = Readers()
    found = readers.hear(at(hard("gale-day", ON), hard("heat-day", ON)))
    assert keys(found) == ["wind:2013-03-27:act"]
    assert readers.hear(at(hard("gale-day", ON), hard("heat-day", ON), hour=13)) == []
