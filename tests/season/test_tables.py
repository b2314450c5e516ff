"""Tables as people hand them in: what is filled, what is refused, and how it is said."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import RangeError, TableError
from mebuki.season.extremes import check_extremes, check_latitude
from mebuki.season.readings import check_readings

NAN = float("nan")
START = date(2013, 3, 1)
NOON = datetime(2013, 3, 31, 12)  # noqa: DTZ001  (tables may hold local times)


def _days(*offsets: int) -> list[date]:
    return [START + timedelta(days=offset) for offset in offsets]


def _hours(*offsets: float) -> list[datetime]:
    return [NOON + timedelta(hours=offset) for offset in offsets]


def test_a_clean_table_passes_unchanged() -> None:
    """Values stay as they are and there is nothing to remark."""
    found = check_extremes(_days(0, 1, 2), [1, 2, 3], [11, 12, 13])
    assert found.days.tolist() == [START.toordinal() + offset for offset in range(3)]
    assert (found.minimum.tolist(), found.maximum.tolist()) == ([1, 2, 3], [11, 12, 13])
    assert found.remarks == ()


def test_three_missing_days_are_filled_on_a_line_and_told() -> None:
    """Absent rows and empty cells are filled alike, and the remark names the days."""
    found = check_extremes(_days(0, 1, 4), [0, NAN, 4], [10, 11, 18])
    assert found.minimum.tolist() == [0, 1, 2, 3, 4]
    assert found.maximum.tolist() == [10, 12, 14, 16, 18]
    assert found.remarks == (
        "2013-03-02 to 2013-03-04: missing, filled on a straight line between the neighbours",
    )


def test_four_missing_days_end_in_an_error_that_names_row_and_rule() -> None:
    """The row before the gap, its length and the rule are told."""
    with pytest.raises(TableError, match=r"row 2 \(2013-03-02\): 4 days .* at most 3 in a row"):
        check_extremes(_days(0, 1, 6), [0, 1, 4], [10, 11, 14])


def test_days_without_values_at_the_ends_are_left_out() -> None:
    """Nothing is made up before the first or after the last value."""
    found = check_extremes(_days(0, 1, 2, 3), [NAN, 1, 2, 3], [9, 10, 11, NAN])
    assert found.days.tolist() == [day.toordinal() for day in _days(1, 2)]
    assert found.remarks == ("2 rows without values at the ends left out",)


@pytest.mark.parametrize(
    ("days", "low", "high", "says"),
    [
        ((0, 1), [1, 9], [11, 8], r"row 2 \(2013-03-02\): tmin 9 lies above tmax 8"),
        ((0, 1, 1), [1, 2, 2], [11, 12, 12], "row 3: 2013-03-02 repeats"),
        ((0, 2, 1), [1, 2, 2], [11, 12, 12], "row 3: 2013-03-02 comes before"),
        ((0, 1), [41, 44], [71, 74], r"row 1 .*tmax 71 .*Fahrenheit"),
        ((0, 1), [38, 36], [50, 48], "look like Fahrenheit"),
        ((0, 1), [1, -999], [11, 12], "tmin -999 .*leave missing values empty"),
        ((0, 1), [NAN, 1], [5, NAN], "no row has both"),
        ((0, 1), [1, 2, 3], [11, 12], "unequal length: 2 dates, 3 tmin, 2 tmax"),
        ((), [], [], "no row has both"),
    ],
)
def test_what_cannot_be_is_refused_by_row_and_rule(
    days: tuple[int, ...], low: list[float], high: list[float], says: str
) -> None:
    """Each broken rule has its own message."""
    with pytest.raises(TableError, match=says):
        check_extremes(_days(*days), low, high)


def test_all_faults_are_told_at_once_but_not_without_end() -> None:
    """Eight faults are listed and the rest counted."""
    with pytest.raises(TableError) as caught:
        check_extremes(_days(*range(20)), [9] * 20, [8] * 20)
    lines = str(caught.value).splitlines()
    assert len(lines) == 9
    assert lines[-1] == "and 12 more"


@pytest.mark.parametrize("latitude", [90.1, -91, NAN])
def test_a_latitude_off_the_globe_is_refused(latitude: float) -> None:
    """Only −90 to 90 degrees are taken."""
    assert check_latitude(-90) == -90
    with pytest.raises(RangeError, match="between −90 and 90"):
        check_latitude(latitude)


@given(
    st.lists(
        st.tuples(st.floats(-30, 30), st.floats(0, 20), st.integers(1, 4)), min_size=1, max_size=30
    )
)
def test_filling_keeps_values_and_order(rows: list[tuple[float, float, int]]) -> None:
    """Given days keep their values, and a minimum never rises above its maximum."""
    offsets = np.cumsum([step for _, _, step in rows])
    low = np.array([base for base, _, _ in rows])
    high = low + [width for _, width, _ in rows]
    found = check_extremes(_days(*offsets.tolist()), low, high)
    at = offsets - offsets[0]
    np.testing.assert_allclose(found.minimum[at], low, rtol=0, atol=1e-12)
    np.testing.assert_allclose(found.maximum[at], high, rtol=0, atol=1e-12)
    assert np.all(found.minimum <= found.maximum + 1e-12)


def test_three_missing_hours_are_filled_on_a_line_and_told() -> None:
    """Absent rows and empty cells are filled alike; filled hours have no row."""
    found = check_readings(_hours(0, 1, 4), [0, NAN, 8])
    assert found.temperature.tolist() == [0, 2, 4, 6, 8]
    assert found.rows.tolist() == [0, -1, -1, -1, 2]
    assert list(found.moments) == _hours(0, 1, 2, 3, 4)
    assert "2013-03-31T13:00, 2013-03-31T14:00, 2013-03-31T15:00" in found.remarks[0]


def test_many_filled_hours_are_counted_rather_than_listed() -> None:
    """Six are named, the others counted; values missing at the ends are left out."""
    found = check_readings(_hours(*range(0, 20, 2), 19), [*range(10), NAN])
    assert found.remarks[0].endswith("and 3 more")
    assert found.remarks[1] == "1 row without values at the ends left out"


@pytest.mark.parametrize(
    ("hours", "values", "says"),
    [
        ((0, 1, 6), [1, 2, 3], r"row 2 .*: 4 hours without values .*at most 3"),
        ((0, 1, 1), [1, 2, 3], "row 3: 2013-03-31T13:00:00 repeats .*UTC"),
        ((0, 2, 1), [1, 2, 3], "row 3: .* comes before"),
        ((0, 0.5), [1, 2], "row 2: .* not whole hours"),
        ((0, 1), [1, 99.9], r"row 2 .*temperature 99.9 .*Fahrenheit"),
        ((0, 1), [-99.9, 1], r"row 1 .*temperature -99.9 .*leave missing values empty"),
        ((0, 1), [44, 41], "look like Fahrenheit"),
        ((0, 1), [NAN, NAN], "no row has a temperature"),
        ((0, 1), [1], "unequal length"),
        ((), [], "no row has a temperature"),
    ],
)
def test_hours_that_cannot_be_are_refused_by_row_and_rule(
    hours: tuple[float, ...], values: list[float], says: str
) -> None:
    """Each broken rule has its own message."""
    with pytest.raises(TableError, match=says):
        check_readings(_hours(*hours), values)


def test_the_change_of_clocks_is_no_gap_where_offsets_are_given() -> None:
    """01:00+01:00 and 03:00+02:00 are one hour apart; mixing with bare times is refused."""
    winter, summer = timezone(timedelta(hours=1)), timezone(timedelta(hours=2))
    moments = [datetime(2013, 3, 31, 1, tzinfo=winter), datetime(2013, 3, 31, 3, tzinfo=summer)]
    assert check_readings(moments, [5, 6]).rows.tolist() == [0, 1]
    with pytest.raises(TableError, match="some times have an offset"):
        check_readings([NOON, datetime(2013, 3, 31, 13, tzinfo=UTC)], [5, 6])
