"""Who gets which notice, how much of it, and when."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.agenda.audience import (
    READ_WITHIN,
    for_reader,
    held_back,
    not_before,
    notice_kind,
    quiet_end,
    useful_until,
)
from mebuki.agenda.entry import Notice, NoticeLine, NoticeStep, Risk
from mebuki.domain.advice import CareKind, Severity
from mebuki.domain.garden import Garden, Subscriber
from tests.builders import a_garden, a_subscriber, a_tree

ZONE = ZoneInfo("America/New_York")
AT = datetime(2013, 4, 2, 19, tzinfo=UTC)
TREES = ("elm", "maple", "pine", "yew")
ZONES = ("America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "Asia/Kathmandu")
LINE = NoticeLine("Bench", "Bring in.", ("Elm", "Maple", "Pine", "Yew"), TREES)


def a_notice(**changes: object) -> Notice:
    """Return a call to act for four trees."""
    start: dict[str, object] = {
        "key": "frost:2013-04-02:act", "thread": "frost:2013-04-02", "step": NoticeStep.ACT,
        "kind": CareKind.FROST, "subject": "Frost −3 °C tonight: bring in 4 trees", "lead": "Cold.",
        "lines": (LINE,), "facts": (), "cautions": (), "at": AT,
    }  # fmt: skip
    return Notice(**{**start, **changes})  # type: ignore[arg-type] # fields by name


lines = st.lists(
    st.builds(
        lambda ids, kind: NoticeLine("Bench", "Do it.", tuple(map(str.title, ids)), ids, kind),
        st.lists(st.sampled_from(TREES), unique=True).map(lambda ids: tuple(sorted(ids))),
        st.none() | st.sampled_from(CareKind),
    ),
    max_size=4,
).map(tuple)
chosen = st.lists(st.sampled_from(TREES), unique=True, max_size=3).map(tuple)
kinds = st.lists(st.sampled_from(list(CareKind)), unique=True, max_size=4).map(tuple)


@given(lines, chosen, kinds, st.none() | st.sampled_from(CareKind))
def test_a_reader_gets_no_other_trees_and_all_of_his_own(
    told: tuple[NoticeLine, ...],
    trees: tuple[str, ...],
    care: tuple[CareKind, ...],
    kind: CareKind | None,
) -> None:
    """Of wanted kinds, each line keeps just the chosen trees, with their names beside them."""
    notice = a_notice(key="heat:2013-07-01:act", lines=told, kind=kind)
    reader = a_subscriber(trees=trees, kinds=care)
    mine = for_reader(notice, reader, ZONE)
    wanted = {
        (number, tree)
        for number, line in enumerate(told)
        for tree in line.ids
        if (not trees or tree in trees) and (not care or line.kind in (None, *care))
    }
    if kind is not None and care and kind not in care:
        assert mine is None
        return
    got = [] if mine is None else [tree for line in mine.lines for tree in line.ids]
    assert sorted(got) == sorted(tree for _, tree in wanted)
    for line in () if mine is None else mine.lines:
        assert line.trees == tuple(map(str.title, line.ids))


@given(lines)
def test_who_chose_nothing_gets_the_very_same_notice(told: tuple[NoticeLine, ...]) -> None:
    """The object itself, so that what was made for it can be used again."""
    notice = a_notice(lines=told)
    assert for_reader(notice, a_subscriber(), ZONE) is notice


@given(chosen, kinds, st.sampled_from(["blind", "trouble"]))
def test_blindness_is_told_to_everybody(
    trees: tuple[str, ...], care: tuple[CareKind, ...], word: str
) -> None:
    """No choice of kinds or trees makes silence look like safety."""
    notice = a_notice(key=f"{word}:2013-04-02:blind", step=NoticeStep.BLIND, kind=None, lines=())
    assert for_reader(notice, a_subscriber(trees=trees, kinds=care), ZONE) is notice


def test_frost_and_cold_roots_are_one_danger_at_night() -> None:
    """Who wants one of the two is called whichever the night brings."""
    for wanted in (CareKind.FROST, CareKind.WINTER):
        for kind in (CareKind.FROST, CareKind.WINTER):
            assert for_reader(a_notice(kind=kind), a_subscriber(kinds=(wanted,)), ZONE)
    assert for_reader(a_notice(), a_subscriber(kinds=(CareKind.HEAT,)), ZONE) is None


def test_the_subject_counts_the_trees_of_the_reader() -> None:
    """Two of four, or one by its name; the trees of the list are the same ones."""
    two = for_reader(a_notice(), a_subscriber(trees=("maple", "yew")), ZONE)
    one = for_reader(a_notice(), a_subscriber(trees=("maple",)), ZONE)
    assert two is not None
    assert one is not None
    assert two.subject == "Frost −3 °C tonight: bring in 2 trees"
    assert one.subject == "Frost −3 °C tonight: bring in Maple"
    assert two.lines == (NoticeLine("Bench", "Bring in.", ("Maple", "Yew"), ("maple", "yew")),)


def test_a_number_that_only_looks_alike_is_left_alone() -> None:
    """Of 4 trees as well, in a notice about five, nothing is rewritten."""
    five = NoticeLine("Bench", "Bring in.", ("Elm", "Ivy"), ("elm", "ivy"))
    notice = a_notice(subject="Worse tonight: bring in 4 trees as well", lines=(LINE, five))
    mine = for_reader(notice, a_subscriber(trees=("maple",)), ZONE)
    assert mine is not None
    assert mine.subject == notice.subject


UPDATE = "Worse tonight, frost −4 °C: bring in"


@pytest.mark.parametrize(
    ("named", "subject", "mine", "told"),
    [
        (("pine",), f"{UPDATE} Pine as well", ("pine",), f"{UPDATE} Pine as well"),
        (("pine", "yew"), f"{UPDATE} 2 trees as well", ("elm", "yew"), f"{UPDATE} Yew as well"),
        (("pine",), f"{UPDATE} Pine as well", ("maple",), f"{UPDATE} Maple"),
        (("pine", "yew"), f"{UPDATE} 2 trees as well", ("elm", "maple"), f"{UPDATE} 2 trees"),
        ((), "Worse tonight: bring in all named", ("elm",), "Worse tonight: bring in all named"),
    ],
)
def test_an_update_speaks_of_the_new_trees_of_its_reader(
    named: tuple[str, ...], subject: str, mine: tuple[str, ...], told: str
) -> None:
    """Nobody reads the name of another reader's tree; who has none that is new reads of his own."""
    notice = a_notice(revision=1, subject=subject, named=named)
    got = for_reader(notice, a_subscriber(trees=mine), ZONE)
    assert got is not None
    assert got.subject == told


def test_lead_and_numbers_are_those_of_the_readers_own_trees() -> None:
    """The worst of a garden may be somebody else's tree: then the worst of one's own is told."""
    risks = tuple(
        Risk(tree, f"{tree.title()}: {hot} °C at the roots.",
             (("Most at risk", tree.title()), ("Root ball", f"{hot} °C")))
        for tree, hot in (("pine", 46), ("yew", 44), ("elm", 42), ("maple", 41))
    )  # fmt: skip
    before, after = ("Lowest", "20 °C"), ("Forecast", "from today")
    notice = a_notice(lead=risks[0].lead, facts=(before, *risks[0].facts, after), risks=risks)
    mine = for_reader(notice, a_subscriber(trees=("maple", "elm")), ZONE)
    assert mine is not None
    assert mine.lead == "Elm: 42 °C at the roots."
    assert mine.facts == (before, ("Most at risk", "Elm"), ("Root ball", "42 °C"), after)
    same = for_reader(notice, a_subscriber(trees=("maple", "pine")), ZONE)
    assert same is not None
    assert (same.lead, same.facts) == (notice.lead, notice.facts)


def test_a_lead_about_no_tree_stays() -> None:
    """A night has one lowest temperature for everybody; only the numbers of the tree change."""
    risks = tuple(Risk(tree, "", (("Most at risk", tree),)) for tree in ("pine", "elm"))
    mine = for_reader(
        a_notice(facts=risks[0].facts, risks=risks), a_subscriber(trees=("elm",)), ZONE
    )
    assert mine is not None
    assert (mine.lead, mine.facts) == ("Cold.", (("Most at risk", "elm"),))


def test_a_digest_counts_what_is_left_of_it() -> None:
    """Kinds and trees narrow it; what could not be sent stays; with nothing left there is none."""
    told = (
        NoticeLine("Today", "Check wire on 2 trees", ("Elm", "Maple"), ("elm", "maple"),
                   CareKind.WIRE),
        NoticeLine("Today", "Repot Pine", (), ("pine",), CareKind.REPOT),
        NoticeLine("Thu 4 Apr", "Feed Elm", (), ("elm",), CareKind.FEED),
        NoticeLine("Could not be sent", "A mail to Ben", ()),
    )  # fmt: skip
    notice = a_notice(
        key="digest:2013-04-02:digest", step=NoticeStep.DIGEST, kind=None, lines=told,
        subject="Home, Tue 2 Apr: 2 for today, 1 coming", lead="Check wire on 2 trees",
    )  # fmt: skip
    mine = for_reader(notice, a_subscriber(kinds=(CareKind.REPOT, CareKind.FEED)), ZONE)
    assert mine is not None
    assert mine.subject == "Home, Tue 2 Apr: 1 for today, 1 coming"
    assert mine.lead == "Repot Pine"
    elm = for_reader(notice, a_subscriber(trees=("elm",)), ZONE)
    assert elm is not None
    assert (elm.subject, elm.lead) == (
        "Home, Tue 2 Apr: 1 for today, 1 coming", "Check wire on Elm",
    )  # fmt: skip
    assert elm.lines[-1].heading == "Could not be sent"
    none_left = for_reader(
        a_notice(key="digest:2013-04-02:digest", step=NoticeStep.DIGEST, kind=None, lines=told[:3]),
        a_subscriber(trees=("yew",)),
        ZONE,
    )
    assert none_left is None


@pytest.mark.parametrize(("wanted", "comes"), [(0, False), (1, False), (2, True), (3, True)])
def test_a_word_to_prepare_comes_no_earlier_than_wanted(wanted: int, comes: bool) -> None:
    """Two days ahead on the garden's clock, where it is still the 2nd at 23:00 UTC."""
    late = datetime(2013, 4, 3, 3, tzinfo=UTC)
    notice = a_notice(key="frost:2013-04-04:prepare", step=NoticeStep.PREPARE, at=late)
    assert (for_reader(notice, a_subscriber(prepare_days=wanted), ZONE) is not None) is comes
    assert for_reader(a_notice(), a_subscriber(prepare_days=0), ZONE) is not None


quiet = st.tuples(st.integers(0, 23), st.integers(1, 16)).map(
    lambda hours: (hours[0], (hours[0] + hours[1]) % 24)
)
moments = st.integers(0, 730 * 24 * 60).map(
    lambda minutes: datetime(2013, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes)
)


@given(quiet, moments, st.sampled_from(ZONES))
def test_quiet_hours_end_at_their_hour_on_the_readers_clock(
    hours: tuple[int, int], at: datetime, zone: str
) -> None:
    """Later than now, within their length, at the hour itself but where the clock leaps over it."""
    reader = a_subscriber(quiet_from=hours[0], quiet_until=hours[1], time_zone=zone)
    ends = quiet_end(reader, ZONE, at)
    inside = (at.astimezone(ZoneInfo(zone)).hour - hours[0]) % 24 < (hours[1] - hours[0]) % 24
    assert (ends is not None) is inside
    if ends is not None:
        length = timedelta(hours=(hours[1] - hours[0]) % 24)
        assert at < ends <= at + length + timedelta(hours=1)
        local = ends.astimezone(ZoneInfo(zone))
        leap = (ends - timedelta(minutes=1)).astimezone(ZoneInfo(zone)).utcoffset()
        assert local.hour == hours[1] or local.utcoffset() != leap


@pytest.mark.parametrize(
    ("at", "until", "ends"),
    [
        ("2013-03-10T06:30+00:00", 2, "2013-03-10T07:00+00:00"),  # 02:00 does not exist: 03:00 EDT
        ("2013-03-10T04:30+00:00", 7, "2013-03-10T11:00+00:00"),  # 07:00 EDT, an hour early
        ("2013-11-03T03:30+00:00", 7, "2013-11-03T12:00+00:00"),  # 07:00 EST, an hour late
        ("2013-11-03T06:30+00:00", 2, "2013-11-03T07:00+00:00"),  # the second 01:30
    ],
)
def test_quiet_hours_over_the_change_of_clocks(at: str, until: int, ends: str) -> None:
    """New York 2013: on 10 March 02:00 EST becomes 03:00 EDT, on 3 November 02:00 EDT 01:00 EST."""
    reader = a_subscriber(quiet_from=22, quiet_until=until)
    moment = datetime.fromisoformat(at)
    assert quiet_end(reader, ZONE, moment) == datetime.fromisoformat(ends)


def _waits(notice: Notice, **changes: object) -> bool:
    """Return whether a notice at 23:30 waits for a reader with quiet hours from 22 to 7."""
    reader = a_subscriber(quiet_from=22, quiet_until=7, **changes)
    return not_before(notice, reader, ZONE, datetime(2013, 4, 3, 3, 30, tzinfo=UTC)) is not None


def test_what_cannot_wait_breaks_quiet_hours() -> None:
    """Grave danger, and a call that would come too late; not a light one for the day after."""
    morning, noon = datetime(2013, 4, 3, 9, tzinfo=UTC), datetime(2013, 4, 3, 18, tzinfo=UTC)
    grave = a_notice(severity=Severity.SEVERE, act_by=noon, useful_until=noon)
    tonight = a_notice(severity=Severity.MODERATE, act_by=morning, useful_until=noon)
    tomorrow = a_notice(severity=Severity.MODERATE, act_by=noon, useful_until=noon)
    assert [_waits(each) for each in (grave, tonight, tomorrow)] == [False, False, True]
    assert all(_waits(each, quiet_broken=False) for each in (grave, tonight, tomorrow))


def test_a_call_that_would_leave_no_time_to_act_breaks_quiet_hours() -> None:
    """Quiet until 7, that is 11:00 UTC, and the frost begins an hour later or before that."""
    for minutes, waits in ((59, False), (60, True)):
        begins = datetime(2013, 4, 3, 11, tzinfo=UTC) + timedelta(minutes=minutes)
        notice = a_notice(severity=Severity.MODERATE, act_by=begins, useful_until=None)
        assert _waits(notice) is waits


def test_a_call_that_was_held_back_says_that_it_is_late() -> None:
    """Read at seven, "tonight" must not be taken for the night to come."""
    begins, ends = datetime(2013, 4, 3, 5, tzinfo=UTC), datetime(2013, 4, 3, 11, tzinfo=UTC)
    notice = a_notice(act_by=begins)
    late = held_back(notice, ends)
    assert late.subject == "Too late for Tue 2 Apr: Frost −3 °C tonight: bring in 4 trees"
    assert late.lead == "Held back by your quiet hours, about Tue 2 Apr. Cold."
    assert (late.lines, late.told) == (notice.lines, notice.told)
    assert held_back(notice, None) is notice
    in_time = a_notice(act_by=ends + timedelta(hours=2))
    assert held_back(in_time, ends) is in_time


@pytest.mark.parametrize(
    "step", [NoticeStep.PREPARE, NoticeStep.OVER, NoticeStep.BLIND, NoticeStep.DIGEST]
)
def test_only_a_call_to_act_breaks_quiet_hours(step: NoticeStep) -> None:
    """Every other word waits for the morning, however grave."""
    key = f"frost:2013-04-04:{step}"
    assert _waits(a_notice(step=step, key=key, severity=Severity.EXTREME))


def test_without_quiet_hours_nothing_waits() -> None:
    """And at four in the afternoon nothing waits either."""
    assert not_before(a_notice(), a_subscriber(), ZONE, AT) is None
    reader = a_subscriber(quiet_from=22, quiet_until=7)
    assert not_before(a_notice(step=NoticeStep.DIGEST), reader, ZONE, AT) is None


@given(moments, st.none() | moments, st.none() | moments)
def test_quiet_hours_put_a_mail_off_and_never_swallow_it(
    at: datetime, useful: datetime | None, waits: datetime | None
) -> None:
    """There is always an hour left in which it is sent after the quiet hours."""
    ends = useful_until(a_notice(at=at, useful_until=useful), waits)
    assert (ends is None) is (useful is None)
    if ends is not None and useful is not None:
        assert ends >= useful
        assert waits is None or ends >= waits + READ_WITHIN


def test_a_notice_is_named_by_its_kind_or_its_step() -> None:
    """As links and consents name it."""
    assert notice_kind(a_notice()) == "frost"
    assert notice_kind(a_notice(kind=None, step=NoticeStep.BLIND)) == "blind"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"quiet_from": 22}, "set both, or neither"),
        ({"quiet_from": 22, "quiet_until": 22}, "1 to 16 hours"),
        ({"quiet_from": 8, "quiet_until": 7}, "1 to 16 hours"),
        ({"quiet_from": 24, "quiet_until": 7}, "less than or equal to 23"),
        ({"prepare_days": 4}, "less than or equal to 3"),
        ({"kinds": ["frosts"]}, "'frost', 'winter'"),
        ({"time_zone": "Mars/Olympus"}, "IANA time zone"),
    ],
)
def test_a_wish_that_cannot_be_is_refused_with_what_can(
    changes: dict[str, object], words: str
) -> None:
    """The message says what is allowed."""
    with pytest.raises(ValueError, match=words):
        a_subscriber(**changes)


def test_a_tree_that_is_not_in_the_garden_cannot_be_chosen() -> None:
    """Else a reader would be told of nothing, and take that for safety."""
    reader: Subscriber = a_subscriber(trees=("maple", "gone"))
    with pytest.raises(ValueError, match="'gone', which is no tree of this garden"):
        a_garden([a_tree("Maple")], subscribers=(reader,))


def test_a_garden_file_may_name_a_readers_trees_as_people_do() -> None:
    """By name or by id: both come out as ids."""
    garden = a_garden([a_tree("Old Elm"), a_tree("Maple")])
    data = garden.model_dump(mode="python")
    reader = a_subscriber().model_dump()
    data["subscribers"] = [reader | {"trees": [garden.trees[1].name, garden.trees[0].id]}]
    (read,) = Garden.model_validate(data).subscribers
    assert read.trees == (garden.trees[1].id, garden.trees[0].id)
