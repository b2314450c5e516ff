"""How warnings turned out, counted by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.agenda.judged import TreeNight
from mebuki.agenda.scored import (
    Account,
    KeptCall,
    LevelRecord,
    level_records,
    this_season_and_last,
)
from mebuki.domain.garden import Caution
from tests.builders import ON, a_moment

DAY = timedelta(days=1)


def a_night(tree: str, evening: date = ON, *, harmed: bool = True) -> TreeNight:
    """Return a night that was coldest at 9 h UTC of the morning after."""
    return TreeNight(
        tree, evening, harmed, -2.0 if harmed else 2.0, 0.0, a_moment(evening + DAY, 9)
    )


def a_call(tree: str, evening: date = ON, level: Caution = "balanced", hour: int = 11) -> KeptCall:
    """Return a call that no reader was told of."""
    return KeptCall(level, evening, tree, a_moment(evening, hour))


def an_account(nights: list[TreeNight], calls: list[KeptCall]) -> Account:
    """Return an account in which every night that is named was judged."""
    days = frozenset(each.evening for each in nights)
    return Account(max(days, default=ON), days, days, tuple(nights), tuple(calls))


def balanced(account: Account) -> LevelRecord:
    """Return what is told of the balanced level."""
    return next(each for each in level_records(account) if each.level == "balanced")


def counts(record: LevelRecord) -> tuple[int, int, int, int]:
    """Return hits, false alarms, misses and quiet ones."""
    table = record.table
    return table.hits, table.false_alarms, table.misses, table.correct_negatives


def nights_of(record: LevelRecord) -> tuple[int, int, int, int]:
    """Return harmful nights, those told in time, nights with a call, those in vain."""
    return record.harmful, record.warned, record.calls, record.vain


def test_shares_are_those_that_finley_reached() -> None:
    """Finley's tornado table of 1884: 28 hits, 72 false alarms, 23 misses.

    POD 28/51 = 0.549 and FAR 72/100 = 0.72, as Wilks gives them; the quiet cases, 2680
    there, are 7 here: neither share knows them. One tree, one night each.
    """
    kinds = ["hit"] * 28 + ["vain"] * 72 + ["miss"] * 23 + ["quiet"] * 7
    days = [ON + number * DAY for number in range(len(kinds))]
    pairs = list(zip(kinds, days, strict=True))
    nights = [a_night("alba", day, harmed=kind in ("hit", "miss")) for kind, day in pairs]
    calls = [a_call("alba", day) for kind, day in pairs if kind in ("hit", "vain")]
    told = balanced(an_account(nights, calls))
    assert counts(told) == (28, 72, 23, 7)
    assert told.table.pod == pytest.approx(0.549, abs=0.0005)
    assert told.table.far == pytest.approx(0.72)
    assert nights_of(told) == (51, 28, 100, 72)
    assert told.lead_hours == 22


def test_a_night_is_told_in_time_if_every_tree_it_harms_was_called() -> None:
    """Three nights of two trees: both called; one of two called; one called that was not harmed."""
    nights = [
        a_night("alba"), a_night("bo"),
        a_night("alba", ON + DAY), a_night("bo", ON + DAY),
        a_night("alba", ON + 2 * DAY, harmed=False), a_night("bo", ON + 2 * DAY, harmed=False),
    ]  # fmt: skip
    calls = [
        a_call("alba"), a_call("bo"), a_call("alba", ON + DAY), a_call("bo", ON + 2 * DAY),
    ]  # fmt: skip
    told = balanced(an_account(nights, calls))
    assert counts(told) == (3, 1, 1, 1)
    assert nights_of(told) == (2, 1, 3, 1)
    assert (told.table.pod, told.table.far) == (0.75, 0.25)


def test_a_mail_that_was_never_sent_told_nobody() -> None:
    """The call was made at eleven; no server took the mail: a miss, and named as unsent."""
    call = replace(a_call("alba"), mailed=True)
    told = balanced(an_account([a_night("alba")], [call]))
    assert counts(told) == (0, 0, 1, 0)
    assert (told.mailed, told.unsent) == (1, 1)


def test_a_mail_counts_from_when_it_was_sent() -> None:
    """Held until 6 h by quiet hours: three hours to act; held until ten: too late."""
    for hour, found, lead in ((6, (1, 0, 0, 0), 3), (10, (0, 0, 1, 0), None)):
        call = replace(a_call("alba"), mailed=True, told_at=a_moment(ON + DAY, hour))
        told = balanced(an_account([a_night("alba")], [call]))
        assert (counts(told), told.lead_hours) == (found, lead)
        assert (told.mailed, told.unsent) == (1, 0)


def test_levels_are_counted_apart_the_most_cautious_first() -> None:
    """What the cautious were called for says nothing of the others."""
    records = level_records(an_account([a_night("alba")], [a_call("alba", level="cautious")]))
    assert [(each.level, each.table.hits) for each in records] == [
        ("cautious", 1), ("balanced", 0), ("few", 0),
    ]  # fmt: skip


def test_nights_without_verdict_are_counted_from_the_first_that_was_watched() -> None:
    """Ten evenings from the first, four judged; the days before it are nobody's."""
    watched = frozenset(ON + number * DAY for number in (0, 1, 2, 5))
    judged = frozenset(ON + number * DAY for number in (0, 1, 2, 3))
    account = Account(ON + 20 * DAY, watched, judged, (), ())
    assert account.unjudged(ON + 10 * DAY) == 6
    assert account.unjudged(ON) == account.unjudged(ON - DAY) == 0
    assert replace(account, last=ON + 4 * DAY).unjudged(ON + 10 * DAY) == 1
    assert Account(ON, frozenset(), frozenset(), (), ()).unjudged(ON + 10 * DAY) == 0


def test_the_running_season_and_the_one_before_follow_each_other() -> None:
    """North: from 1 November; south: from 1 May."""
    north = this_season_and_last(date(2013, 4, 2), southern=False)
    south = this_season_and_last(date(2013, 4, 2), southern=True)
    assert north == (
        (date(2012, 11, 1), date(2013, 10, 31)), (date(2011, 11, 1), date(2012, 10, 31)),
    )  # fmt: skip
    assert south == (
        (date(2012, 5, 1), date(2013, 4, 30)), (date(2011, 5, 1), date(2012, 4, 30)),
    )  # fmt: skip


ROWS = st.lists(
    st.tuples(st.sampled_from("abc"), st.integers(0, 5), st.booleans(), st.booleans()),
    unique_by=lambda row: row[:2],
)


@given(ROWS)
def test_every_tree_of_every_night_is_counted_once(
    rows: list[tuple[str, int, bool, bool]],
) -> None:
    """The four counts add up, and those of nights never exceed the nights there are."""
    nights = [a_night(tree, ON + day * DAY, harmed=harm) for tree, day, harm, _ in rows]
    calls = [a_call(tree, ON + day * DAY) for tree, day, _, called in rows if called]
    told = balanced(an_account(nights, calls))
    hits, vain, misses, quiet = counts(told)
    assert hits + misses == sum(harm for _, _, harm, _ in rows)
    assert hits + vain == len(calls)
    assert hits + vain + misses + quiet == len(rows)
    harmful, warned, called, idle = nights_of(told)
    days = {day for _, day, _, _ in rows}
    assert warned <= harmful <= len(days)
    assert idle <= called <= len(days)
