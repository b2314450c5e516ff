"""The growth clock of the year and the day on which wire begins to bite."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.outlook import LEVELS, GrowthClock, Milestone, StageOutlook
from mebuki.errors import RangeError
from mebuki.season.growth import LIKE, bite_day, clock_for, growth_share, growth_shares, span_of
from tests.builders import a_taxon

NEW_YEAR = date(2013, 1, 1)


def doy(number: int) -> date:
    """Return a day of 2013 by its number."""
    return NEW_YEAR + timedelta(days=number - 1)


def bud_break(day: date | None) -> StageOutlook:
    """Return a sure bud break, or none."""
    return StageOutlook(Milestone.BREAK, 2013, (day,) * len(LEVELS))


MAPLE = clock_for(a_taxon(), bud_break(doy(115)))


def maple() -> GrowthClock:
    """Return the clock of a deciduous tree with bud break on day 115."""
    assert MAPLE is not None
    return MAPLE


@pytest.mark.parametrize(
    ("day", "percent"), [(129, 10), (150, 43), (175, 77), (194, 90), (205, 94)]
)
def test_growth_shares_of_the_worked_example(day: int, percent: int) -> None:
    """Bud break on day 115, 10 % on 129 and 90 % on 194 give the shares worked by hand."""
    assert 100 * growth_share(maple(), doy(day)) == pytest.approx(percent, abs=0.5)


@pytest.mark.parametrize(("gap", "day"), [(0.2, 144), (0.3, 148), (0.5, 155)])
def test_wire_set_in_mid_may_bites_on_the_day_of_the_worked_example(gap: float, day: int) -> None:
    """A ring of 1.5 mm and wire of day 135 use up 0.2, 0.3 and 0.5 mm in 9, 13 and 20 days."""
    assert bite_day(maple(), doy(135), 1.5, gap) == doy(day)


def test_wire_set_late_never_bites_in_that_year() -> None:
    """Wire of day 220 finds 97 % of the growth done and is left alone until spring."""
    assert bite_day(maple(), doy(220), 1.5, 0.3) is None


@given(
    wired=st.integers(60, 330),
    ring=st.floats(0.2, 5.0),
    gap=st.floats(0.05, 2.0),
    more=st.floats(1.0, 3.0),
)
def test_more_growth_or_less_room_never_bites_later(
    wired: int, ring: float, gap: float, more: float
) -> None:
    """A wider ring bites no later, and the bite comes after the wire."""
    normal = bite_day(maple(), doy(wired), ring, gap)
    strong = bite_day(maple(), doy(wired), ring * more, gap)
    assert normal is None or (strong is not None and strong <= normal)
    assert normal is None or normal > doy(wired)


def test_shares_of_many_days_are_those_of_single_days() -> None:
    """Scalar and array agree, and shares rise from 0 to 1."""
    days = [doy(number) for number in range(1, 366)]
    shares = growth_shares(maple(), [day.toordinal() for day in days])
    assert shares.tolist() == [growth_share(maple(), day) for day in days]
    assert shares[0] < 1e-6
    assert shares[-1] > 0.999
    assert all(later >= earlier for earlier, later in pairwise(shares))


def test_every_group_has_a_clock_and_says_where_it_comes_from() -> None:
    """All groups of a taxon file have a span; pines begin before their buds open."""
    for group in LIKE:
        ten, ninety = span_of(group)
        clock = clock_for(a_taxon(group=group), bud_break(doy(115)))
        assert clock is not None
        assert clock.ten_percent == doy(115 + ten)
        assert clock.ninety_percent == doy(115 + ninety)
        assert "default" in clock.basis
    assert span_of("needle-evergreen") == (-20, 110)
    assert span_of("deciduous-broadleaf") == (14, 79)


def test_without_a_foreseeable_bud_break_there_is_no_clock() -> None:
    """An unknown median gives no clock, not a guess."""
    assert clock_for(a_taxon(), bud_break(None)) is None


@pytest.mark.parametrize(("ring", "gap"), [(0.0, 0.3), (1.5, 0.0), (-1.0, 0.3)])
def test_impossible_widths_are_refused(ring: float, gap: float) -> None:
    """Ring width and gap must be above zero."""
    with pytest.raises(RangeError, match="above zero"):
        bite_day(maple(), doy(135), ring, gap)


def test_a_clock_that_runs_backwards_is_refused() -> None:
    """90 % before 10 % is no clock."""
    with pytest.raises(RangeError, match="after 10"):
        growth_share(GrowthClock(doy(150), doy(140), "default"), doy(145))
