"""What a reader would notice, and what stays as it was."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from mebuki.agenda.changes import CANCELLED, revise, shown, tasks
from mebuki.agenda.done import done_keys, held_keys, parted_trees
from mebuki.agenda.entry import Entry, EntryStatus, Gone
from mebuki.domain.advice import CareKind, Days, Moments
from mebuki.domain.weather import Freshness
from tests.builders import (
    AT,
    a_frost_advice,
    a_garden,
    a_moment,
    a_record,
    a_sight,
    a_situation,
    a_tree,
    an_advice,
    an_entry,
)

NOISE, KEPT = 3, 5
DAY = timedelta(days=1)
OLD = an_entry()


def moved(days: int, **changes: Any) -> Entry:
    """Return the entry with its window moved, written anew a day later."""
    shift = timedelta(days=days)
    span = Days(date(2013, 3, 22) + shift, date(2013, 4, 4) + shift, date(2013, 3, 29) + shift)
    title = f"Repot Maple when buds swell (likely {29 + days} Mar)"
    start: dict[str, Any] = {"span": span, "title": title, "body": "Other numbers.", **changes}
    return replace(OLD, created=AT + DAY, changed=AT + DAY, **start)


def one(previous: Entry, *fresh: Entry, at: datetime = AT + DAY, **keys: Any) -> Entry:
    """Return the only entry that readers are shown."""
    (entry,) = revise([previous], fresh, at, NOISE, **keys)
    return entry


def test_a_new_entry_is_published_as_it_is() -> None:
    """Revision 0, created and changed at the round."""
    (entry,) = revise([], [moved(0)], AT + DAY, NOISE)
    assert (entry.revision, entry.created, entry.changed) == (0, AT + DAY, AT + DAY)


def test_a_window_that_moves_within_its_noise_is_kept_word_for_word() -> None:
    """Three days, other numbers in title and body: the very same entry is shown."""
    assert one(OLD, moved(3)) is OLD
    assert one(OLD, moved(-3)) is OLD


def test_a_window_that_moves_further_is_told_under_the_same_identity() -> None:
    """Four days: next revision, same UID, same creation."""
    entry = one(OLD, moved(4))
    assert entry.uid == OLD.uid
    assert (entry.revision, entry.created, entry.changed) == (1, OLD.created, AT + DAY)
    assert entry.body == "Other numbers."


def test_a_far_window_may_move_a_little_more() -> None:
    """Sixty days ahead two more days are noise."""
    early = AT - timedelta(days=61)
    assert one(OLD, moved(5), at=early) is OLD
    assert one(OLD, moved(6), at=early).revision == 1


def test_small_moves_add_up_until_they_are_told() -> None:
    """Each is measured against what was published, not against yesterday."""
    shown = OLD
    for step in range(1, 5):
        shown = one(shown, moved(step))
    assert shown.revision == 1
    assert shown.span == Days(date(2013, 3, 22), date(2013, 4, 8), date(2013, 4, 2))


def test_other_words_in_the_title_are_told() -> None:
    """Put off is another fact; another day alone is not."""
    assert one(OLD, moved(0, title="Put off: repot Maple")).revision == 1


def test_becoming_likely_is_told_and_becoming_unsure_is_not() -> None:
    """Tentative to confirmed counts; back again would only flicker."""
    confirmed = one(OLD, moved(0, status=EntryStatus.CONFIRMED))
    assert confirmed.revision == 1
    assert one(confirmed, moved(0)) is confirmed


def test_another_tree_in_the_list_is_told() -> None:
    """The trees are compared as a set."""
    assert one(OLD, moved(0, trees=("maple", "pine"))).revision == 1


def test_a_night_entry_moves_only_by_more_than_two_hours() -> None:
    """Timed spans have a noise of their own."""
    night = Moments(a_moment("2013-03-29", 20), a_moment("2013-03-30", 12))
    old = an_entry(span=night)
    hour = timedelta(hours=1)
    assert one(old, replace(old, span=Moments(night.begins + hour, night.ends))) is old
    assert one(old, replace(old, span=Moments(night.begins + 3 * hour, night.ends))).revision == 1


def test_a_night_is_told_anew_by_two_degrees_and_not_by_what_its_frost_is_called() -> None:
    """Just above and just below a limit a frost is light and not light from round to round."""
    night = Moments(a_moment("2013-03-29", 20), a_moment("2013-03-30", 12))
    kept: dict[str, Any] = {"kind": CareKind.FROST, "span": night, "trees": ("a", "b")}
    old = an_entry(**kept, title="Frost −2 °C: bring in 2 trees")
    assert one(old, replace(old, title="Light frost −1 °C: bring in 2 trees")) is old
    colder = one(old, replace(old, title="Hard frost −4 °C: bring in 2 trees"))
    assert (colder.revision, colder.title) == (1, "Hard frost −4 °C: bring in 2 trees")
    warmer = replace(old, title="Frost possible, low 0 °C: bring in 2 trees")
    other_deed = replace(old, title="Frost −2 °C: protect 2 trees")
    hour_before = night.begins - timedelta(hours=1)
    for changed in (warmer, other_deed):
        assert one(old, changed) is old
        assert one(old, changed, at=hour_before).revision == 1
    assert one(old, replace(old, title="Frost −2 °C: bring in Maple", trees=("a",))) is old


def test_a_begin_that_is_past_does_not_move() -> None:
    """A window under way whose reckoned begin shifts by weeks is the same to its reader."""
    at = a_moment("2013-03-30")
    early = replace(OLD, span=Days(date(2013, 2, 20), date(2013, 4, 4), date(2013, 3, 29)))
    assert one(OLD, early, at=at) is OLD
    ends = replace(OLD, span=Days(date(2013, 3, 22), date(2013, 4, 8), date(2013, 3, 29)))
    assert one(OLD, ends, at=at).revision == 1
    begins_now = replace(OLD, span=Days(date(2013, 3, 18), date(2013, 4, 4), date(2013, 3, 29)))
    assert one(OLD, begins_now, at=a_moment("2013-03-19")).revision == 1


def test_a_window_that_has_begun_keeps_its_begin_when_it_is_told_anew() -> None:
    """The trees whose days are over leave the entry; the bar does not shrink from the front."""
    at = a_moment("2013-03-30")
    fewer = moved(6, trees=("pine",))
    entry = one(OLD, fewer, at=at)
    assert entry.span == Days(date(2013, 3, 22), date(2013, 4, 10), date(2013, 4, 4))
    later = one(OLD, fewer, at=a_moment("2013-03-25"))
    assert later.span == fewer.span


def test_a_tree_more_in_a_far_window_is_not_worth_telling() -> None:
    """Next spring's list fills up through this one; near its time every tree counts."""
    ten = tuple(f"tree-{number}" for number in range(10))
    old = replace(OLD, trees=ten)
    far, near = a_moment("2013-03-14"), a_moment("2013-03-15")
    assert one(old, moved(0, trees=(*ten, "new")), at=far) is old
    assert one(old, moved(0, trees=(*ten, "new", "x", "y")), at=far).revision == 1
    assert one(old, moved(0, trees=(*ten, "new")), at=near).revision == 1


def test_a_request_stands_while_half_of_its_trees_are_asked_for() -> None:
    """Which buds are best to look at changes by the hour; a person needs no word of it."""
    week = Days(date(2013, 3, 25), date(2013, 3, 31))
    old = an_entry(
        "home/observe/observe-buds/all/2013-W13", kind=CareKind.OBSERVE, span=week,
        trees=("a", "b", "c"),
    )  # fmt: skip
    assert one(old, replace(old, trees=("a", "b", "x"))) is old
    assert one(old, replace(old, trees=("a", "x", "y"))).revision == 1


def test_a_tree_due_later_is_told_when_its_own_days_are_at_hand() -> None:
    """Trees that come one by one: a word when it matters, none when days are over."""
    ten = tuple(f"tree-{number}" for number in range(10))
    old, at = replace(OLD, trees=ten), a_moment("2013-03-28")

    def with_pine(first: date) -> Entry:
        advice = an_advice("pine", span=Days(first, first + 5 * DAY))
        return replace(moved(0), trees=(*ten[3:], "pine"), advice=(advice,))

    assert one(old, with_pine(date(2013, 4, 5)), at=at) is old
    assert one(old, with_pine(date(2013, 4, 4)), at=at).revision == 1


def test_a_tree_that_is_done_or_sold_leaves_the_list() -> None:
    """Four trees named, one repotted and one no longer there: told, though half remain."""
    old = replace(OLD, trees=("alba", "bo", "cy", "dot"))
    garden = a_garden([a_tree("Alba"), a_tree("Bo", records=[a_record("repotted", "2013-03-28")]),
                       a_tree("Cy")])  # fmt: skip
    parted = parted_trees([old], garden)
    assert parted == {OLD.key: {"bo", "dot"}}
    fewer = moved(0, trees=("alba", "cy"))
    assert one(old, fewer) is old
    assert one(old, fewer, parted=parted).trees == ("alba", "cy")


def test_that_tomorrow_became_today_is_no_news() -> None:
    """The same trees to water, now sure: no word; one tree more is told."""
    day = Days(date(2013, 3, 28), date(2013, 3, 28))
    old = an_entry(kind=CareKind.WATER, span=day, trees=("a",), status=EntryStatus.TENTATIVE)
    assert one(old, replace(old, status=EntryStatus.CONFIRMED)) is old
    more = replace(old, status=EntryStatus.CONFIRMED, trees=("a", "b"))
    assert one(old, more).revision == 1


def test_a_night_or_day_ahead_is_not_taken_back_before_it_is_at_hand() -> None:
    """Two days ahead forecasts come and go; on the day itself it is taken back."""
    night = an_entry(
        kind=CareKind.FROST, span=Moments(a_moment("2013-03-29", 20), a_moment("2013-03-30", 12))
    )
    assert one(night, at=a_moment("2013-03-28", 11)) is night
    assert one(night, at=a_moment("2013-03-29", 11)).status is EntryStatus.CANCELLED
    heat = an_entry(kind=CareKind.HEAT, span=Days(date(2013, 3, 29), date(2013, 3, 29)))
    assert one(heat, at=a_moment("2013-03-28", 11)) is heat
    assert one(heat, at=a_moment("2013-03-29", 11)).gone is Gone.DROPPED


def test_a_look_for_pests_runs_out_and_is_told_anew_for_another_pest() -> None:
    """Not asked for any more: it stays. One pest less: no word. Another at hand: a word."""
    span = Days(date(2013, 3, 25), date(2013, 4, 15))
    old = an_entry(
        "home/scout/scout/all/2013-spring", kind=CareKind.SCOUT, span=span,
        title="Look for red mite and weevil: 2 trees", body="red mite: look\nweevil: look",
        trees=("a", "b"),
    )  # fmt: skip
    assert one(old, held=held_keys([old], a_situation())) is old

    def looks(*pests: str) -> Entry:
        advice = [an_advice("a", kind=CareKind.SCOUT, span=span, fact=f"{each}: look")
                  for each in pests]  # fmt: skip
        return replace(old, title=f"Look for {pests[0]}", trees=("a",), advice=tuple(advice))

    assert one(old, looks("weevil")) is old
    assert one(old, looks("weevil", "leafminer")).revision == 1


def test_a_request_that_was_answered_is_not_made_again_in_its_week() -> None:
    """One pot was weighed: no second pot is asked for under the same identity."""
    week = Days(date(2013, 3, 25), date(2013, 3, 31))
    old = an_entry(
        "home/observe/observe-weigh/all/2013-W13", kind=CareKind.OBSERVE, span=week, trees=("a",)
    )
    other = replace(old, trees=("b",))
    assert one(old, other) is old
    left = one(old, done={old.key})
    assert one(left, other) is left


def test_a_tree_more_counts_for_tonight_and_a_tree_less_does_not() -> None:
    """A night's list must be whole when one acts; it may be too long by a few."""
    span = Moments(a_moment("2013-03-28", 20), a_moment("2013-03-29", 12))
    ten = tuple(f"tree-{number}" for number in range(10))
    old = an_entry(kind=CareKind.WINTER, span=span, trees=ten)
    tonight, ahead = a_moment("2013-03-28", 11), a_moment("2013-03-26", 11)
    assert one(old, replace(old, trees=(*ten, "new")), at=tonight).revision == 1
    assert one(old, replace(old, trees=ten[1:]), at=tonight) is old
    assert one(old, replace(old, trees=ten[:4]), at=tonight).revision == 1
    assert one(old, replace(old, trees=(*ten, "new")), at=ahead) is old
    assert one(old, replace(old, trees=(*ten, "new", "x", "y")), at=ahead).revision == 1


def test_a_window_for_shelter_has_a_wider_noise() -> None:
    """It follows past years alone: ten days."""
    old = replace(OLD, kind=CareKind.WINTER)
    assert one(old, moved(10, kind=CareKind.WINTER)) is old
    assert one(old, moved(11, kind=CareKind.WINTER)).revision == 1


def test_a_window_that_closes_while_it_is_shown_is_not_rewritten() -> None:
    """Published until 4 April, over by 31 March in a later reckoning: it stays as it is."""
    assert one(OLD, moved(-5), at=a_moment("2013-04-01")) is OLD


def test_what_is_no_longer_so_is_cancelled_in_words_then_only_remembered() -> None:
    """Cancelled once, shown unchanged for five days, then out of sight but not forgotten."""
    cancelled = one(OLD)
    assert cancelled.status is EntryStatus.CANCELLED
    assert cancelled.title == CANCELLED + OLD.title
    assert (cancelled.revision, cancelled.changed) == (1, AT + DAY)
    assert one(cancelled, at=AT + 3 * DAY) is cancelled
    later = revise([cancelled], [], AT + 6 * DAY, NOISE)
    assert later == (cancelled,)
    assert shown([cancelled], AT + 5 * DAY, KEPT) == (cancelled,)
    assert shown([cancelled], AT + 6 * DAY, KEPT) == ()
    assert revise([cancelled], [], AT + 500 * DAY, NOISE) == ()


def test_what_comes_back_long_after_goes_on_counting() -> None:
    """A month after it was cancelled and out of sight: the same UID with the next revision."""
    (asleep,) = revise([one(OLD)], [], AT + 8 * DAY, NOISE)
    back = one(asleep, moved(0), at=AT + 9 * DAY)
    assert (back.revision, back.status) == (2, EntryStatus.TENTATIVE)


def test_what_comes_back_goes_on_counting() -> None:
    """A cancelled entry that is so again: same UID, next revision."""
    back = one(one(OLD), moved(0), at=AT + 2 * DAY)
    assert (back.revision, back.status) == (2, EntryStatus.TENTATIVE)
    assert back.title.startswith("Repot")
    assert back.created == OLD.created


def test_past_work_stays_for_sixty_days() -> None:
    """A window that has passed is a diary, not a cancellation."""
    later = a_moment("2013-06-03")
    assert one(OLD, at=later) is OLD
    assert revise([OLD], [], later + DAY, NOISE) == ()


def test_past_nights_and_waterings_are_dropped_after_a_day() -> None:
    """Nobody reads last week's watering."""
    water = an_entry(kind=CareKind.WATER, span=Days(date(2013, 3, 27), date(2013, 3, 27)))
    assert one(water, at=a_moment("2013-03-28")) is water
    assert revise([water], [], a_moment("2013-03-29"), NOISE) == ()


def test_a_night_under_way_is_not_cancelled() -> None:
    """At seven in the morning the frost of the night is not yet over, and no longer forecast."""
    span = Moments(a_moment("2013-03-28", 20), a_moment("2013-03-29", 14))
    night = an_entry(kind=CareKind.FROST, span=span)
    assert one(night, at=a_moment("2013-03-29", 11)) is night
    assert one(night, at=a_moment("2013-03-28", 11)).status is EntryStatus.CANCELLED


def test_a_watering_that_rain_made_needless_vanishes_without_a_word() -> None:
    """Nobody wants to read that watering is cancelled."""
    water = an_entry(kind=CareKind.WATER, span=Days(date(2013, 3, 28), date(2013, 3, 28)))
    left = one(water)
    assert (left.gone, left.revision, left.title) == (Gone.DROPPED, 1, water.title)
    assert shown([left], AT + DAY, KEPT) == tasks([left], AT + DAY, KEPT) == ()
    assert one(left, at=AT + 10 * DAY) is left
    assert revise([left], [], AT + 20 * DAY, NOISE) == ()


def test_what_left_without_a_word_goes_on_counting_if_it_comes_back() -> None:
    """Dropped in the morning, asked for again at noon: the same UID with a later revision."""
    water = an_entry(kind=CareKind.WATER, span=Days(date(2013, 3, 28), date(2013, 3, 28)))
    back = one(one(water), water, at=AT + DAY + timedelta(hours=5))
    assert (back.gone, back.revision, back.created) == (Gone.NO, 2, water.created)
    assert shown([back], AT + DAY, KEPT) == (back,)


def test_a_window_that_is_past_already_is_not_published_anew() -> None:
    """The first round after a window has closed does not put it into the past."""
    assert revise([], [moved(0)], a_moment("2013-04-06"), NOISE) == ()


def test_done_work_vanishes_without_a_word() -> None:
    """Repotted since the entry was made: not cancelled, gone."""
    garden = a_garden([a_tree(records=[a_record("repotted", "2013-03-28")])])
    done = done_keys([OLD], garden)
    assert done == {OLD.key}
    left = one(OLD, done=done)
    assert (left.gone, left.status, left.title) == (Gone.DONE, OLD.status, OLD.title)
    assert shown([left], AT + DAY, KEPT) == ()
    assert one(left, at=AT + 300 * DAY, done=done) is left
    assert revise([left], [], AT + 500 * DAY, NOISE) == ()
    before = a_garden([a_tree(records=[a_record("repotted", "2010-03-28")])])
    assert done_keys([OLD], before) == frozenset()


def test_work_that_was_done_and_is_asked_for_again_goes_on_counting() -> None:
    """A second tree becomes due under the same key: revised, not born anew."""
    back = one(one(OLD, done={OLD.key}), moved(0, trees=("pine",)), at=AT + 2 * DAY)
    assert (back.gone, back.revision, back.trees) == (Gone.NO, 2, ("pine",))


def test_a_list_of_tasks_ticks_off_what_is_done_and_drops_what_is_past() -> None:
    """Done work is there for some days; work out of its season is not overdue, it is gone."""
    done = one(OLD, done={OLD.key})
    assert tasks([done], AT + 5 * DAY, KEPT) == (done,)
    assert tasks([done], AT + 6 * DAY, KEPT) == ()
    assert tasks([OLD], a_moment("2013-04-04"), KEPT) == (OLD,)
    assert tasks([OLD], a_moment("2013-04-05"), KEPT) == ()
    night = an_entry(span=Moments(a_moment("2013-03-28", 20), a_moment("2013-03-29", 12)))
    assert tasks([night], a_moment("2013-03-28", 19), KEPT) == (night,)
    assert tasks([night], a_moment("2013-03-28", 20), KEPT) == ()
    assert shown([OLD, night], a_moment("2013-04-05"), KEPT) == (OLD, night)


def test_a_night_that_is_watched_is_not_taken_back() -> None:
    """Between half the threshold and the threshold the published warning stands."""
    night = Moments(a_moment("2013-03-28", 20), a_moment("2013-03-29", 12))
    key = "home/frost/frost-night/all/2013-03-28"
    warning = an_entry(key, kind=CareKind.FROST, span=night)
    watched = a_situation(advice=(a_frost_advice(evening="2013-03-28", action="frost-watch"),))
    held = held_keys([warning], watched)
    assert one(warning, held=held) is warning
    assert one(warning, held=held_keys([warning], a_situation())).status is EntryStatus.CANCELLED


def test_while_the_weather_is_not_seen_nothing_is_taken_back() -> None:
    """A failed look must not cancel the season."""
    blind = a_situation(sight=a_sight(freshness=Freshness.BLIND, forecast_until=None))
    assert one(OLD, held=held_keys([OLD], blind)) is OLD


@given(moves=st.lists(st.integers(-9, 9), min_size=1, max_size=12))
def test_a_revision_never_falls_and_grows_only_with_a_change(moves: list[int]) -> None:
    """Over any course of windows: same UID, and the same revision means the same entry."""
    shown = OLD
    for number, move in enumerate(moves, start=1):
        following = one(shown, moved(move), at=AT + number * timedelta(hours=1))
        assert following.uid == OLD.uid
        assert following.revision - shown.revision in (0, 1)
        assert following.changed >= shown.changed
        if following.revision == shown.revision:
            assert following is shown
        shown = following


@given(moves=st.lists(st.integers(-9, 9), max_size=6))
def test_the_same_round_twice_changes_nothing(moves: list[int]) -> None:
    """Revising what was just shown with the same facts gives it back."""
    seen: tuple[Entry, ...] = (OLD,)
    for move in moves:
        seen = revise(seen, [moved(move)], AT + DAY, NOISE)
        assert revise(seen, [moved(move)], AT + DAY, NOISE) == seen
