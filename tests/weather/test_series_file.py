"""Weather files: what is read, and what each fault in them says."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.weather import Origin
from mebuki.errors import TableError
from mebuki.weather.series_file import read_daily, read_hourly
from tests.weather.series import JFK, NEW_YORK_DAYS, an_hour

CELLS = st.sampled_from(
    ["2020-01-01T00:00Z", "2020-01-01T05:00+14:00", "9999-12-31T23:00Z", "2020-01-01", "4", "-1e9",
     "nan", "", '"', "#", "1,2", "−3", "\u2028", "x"]
)  # fmt: skip
HEAD = "time_utc,temp_c,wind_ms\n"
DAYS = "location,date,precip_mm,temp_max_c,temp_min_c,wind_ms\n"


def written(folder: Path, text: str) -> Path:
    """Write a file and return its path."""
    path = folder / "garden.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_demo_year_is_read_whole_on_an_unbroken_axis() -> None:
    """JFK 2013 has 8706 of 8730 hours, from 1 January 06 Z to 30 December 23 Z (NOAA)."""
    series = read_hourly(JFK).series
    assert series.start == an_hour(2013, 1, 1, 6)
    assert series.end == an_hour(2013, 12, 30, 23) + 1
    assert len(series.origin) == 8730
    assert int((series.origin == Origin.MEASURED).sum()) == 8706
    assert np.isnan(series.air_temperature[series.origin == Origin.MISSING]).all()


def test_every_value_stays_as_it_is_also_a_false_one() -> None:
    """Reading judges nothing: the false −10.5 °C of 9 May 2013 02 Z is still there."""
    series = read_hourly(JFK).series
    at = an_hour(2013, 5, 9, 2) - series.start
    assert series.air_temperature[at] == -10.5
    assert series.dew_point[at] == -11.1


def test_the_credit_line_is_found_and_missing_quantities_are_said() -> None:
    """The header's credit is handed on, and a remark names snow, sun and cloud."""
    file = read_hourly(JFK)
    assert "NOAA" in file.credit
    assert any("no snow, sun or cloud" in remark for remark in file.remarks)


def test_only_time_and_temperature_are_needed(tmp_path: Path) -> None:
    """Other columns are NaN, unknown ones ignored, blank cells and missing hours NaN."""
    text = "time_utc,temp_c,mood\n2020-01-01T00:00Z,1.5,x\n2020-01-01T02:00+00:00,,y\n"
    series = read_hourly(written(tmp_path, text)).series
    assert series.air_temperature[0] == 1.5
    assert list(series.origin) == [Origin.MEASURED, Origin.MISSING, Origin.MISSING]
    assert np.isnan(series.wind_speed).all()


def test_an_offset_is_turned_into_utc(tmp_path: Path) -> None:
    """Seven in the morning at +02:00 is 05 Z."""
    series = read_hourly(written(tmp_path, HEAD + "2020-07-01T07:00:00+02:00,9,1\n")).series
    assert series.start == an_hour(2020, 7, 1, 5)


def test_rows_out_of_order_are_sorted_and_this_is_said(tmp_path: Path) -> None:
    """The axis runs forward, whatever the order of the rows."""
    text = HEAD + "2020-01-01T01:00Z,2,1\n2020-01-01T00:00Z,1,1\n"
    file = read_hourly(written(tmp_path, text))
    assert list(file.series.air_temperature) == [1, 2]
    assert any("sorted" in remark for remark in file.remarks)


def test_a_dew_point_is_worked_out_from_relative_humidity(tmp_path: Path) -> None:
    """Allen et al. 1998, FAO-56 annex 2: e°(14.0) = 1.599 kPa is 68.4 % of e°(20.0) = 2.338 kPa."""
    text = "time_utc,temp_c,rh_pct\n2020-01-01T00:00Z,20,68.4\n2020-01-01T01:00Z,20,100\n"
    dew_point = read_hourly(written(tmp_path, text)).series.dew_point
    assert dew_point == pytest.approx([14.0, 20.0], abs=0.05)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", ["garden.csv", "empty", "time_utc"]),
        ("# only a comment\n", ["empty"]),
        (HEAD, ["header but no rows"]),
        ("time_utc,wind_ms\n2020-01-01T00:00Z,1\n", ["line 1", "missing: temp_c"]),
        ("time_utc;temp_c\n2020-01-01T00:00Z;1\n", ["missing", "commas"]),
        ("time_utc,temp_c,temp_c\n2020-01-01T00:00Z,1,1\n", ["temp_c", "only once"]),
        ("time_utc,temp_f\n2020-01-01T00:00Z,41\n", ["column temp_f", "temp_c", "°C"]),
        (HEAD.replace("_ms", "_mph") + "2020-01-01T00:00Z,4,9\n", ["wind_mph", "wind_ms", "m/s"]),
        ("time_utc,temp_c,precip_in\n2020-01-01T00:00Z,4,0\n", ["precip_in", "precip_mm", "mm"]),
        ("time_local,temp_c\n2020-01-01T00:00,4\n", ["time_local", "time_utc", "UTC"]),
        (HEAD + "2020-01-01T00:00:00,4,1\n", ["line 2", "time_utc", "2020-01-01T00:00:00", "Z"]),
        (HEAD + "yesterday,4,1\n", ["line 2", "column time_utc", "yesterday"]),
        (HEAD + "2020-01-01T00:30Z,4,1\n", ["line 2", "full hour"]),
        (HEAD + "0001-01-01T00:00+09:00,4,1\n", ["line 2", "time_utc"]),
        (HEAD + "2020-01-01T00:00Z,4,1\n2020-01-01T00:00Z,5,1\n", ["line 3", "in line 2 already"]),
        (HEAD + "2020-01-01T00:00Z,warm,1\n", ["line 2", "column temp_c", "warm", "number"]),
        (HEAD + "2020-01-01T00:00Z,inf,1\n", ["line 2", "column temp_c", "inf"]),
        (HEAD + "2020-01-01T00:00Z,3,9,1\n", ["line 2", "4 cells", "3 cells"]),
        (HEAD + "2020-01-01T00:00Z,,1\n", ["no value at all"]),
        (HEAD + '2020-01-01T00:00Z,"4,1\n', ["line 2", "CSV"]),
        (HEAD + "1900-01-01T00:00Z,1,1\n2020-01-01T00:00Z,1,1\n", ["60 years"]),
    ],
)
def test_a_faulty_file_is_refused_with_place_and_rule(
    tmp_path: Path, text: str, words: list[str]
) -> None:
    """The message names file, line, column, value and what is allowed."""
    with pytest.raises(TableError) as caught:
        read_hourly(written(tmp_path, text))
    message = str(caught.value)
    assert message.startswith("garden.csv")
    assert [word for word in words if word not in message] == []


@pytest.mark.parametrize("content", [b"\x89PNG\r\n\x1a\n\x00\xff", b"time_utc,temp_c\n\0\0\0"])
def test_a_file_that_is_no_text_is_refused(tmp_path: Path, content: bytes) -> None:
    """A picture is no table."""
    path = tmp_path / "garden.csv"
    path.write_bytes(content)
    with pytest.raises(TableError, match="not a text file"):
        read_hourly(path)


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    """The message says that the file cannot be read."""
    with pytest.raises(TableError, match="cannot be read"):
        read_hourly(tmp_path / "none.csv")


def test_many_faults_are_told_at_once_but_not_without_end(tmp_path: Path) -> None:
    """Eight faults are named, the rest counted."""
    rows = "".join(f"2020-01-01T{hour:02}:00Z,cold,1\n" for hour in range(20))
    with pytest.raises(TableError) as caught:
        read_hourly(written(tmp_path, HEAD + rows))
    lines = str(caught.value).splitlines()
    assert len(lines) == 9
    assert "12 more" in lines[-1]


@pytest.mark.parametrize("first_row", [0, 3500])
def test_fahrenheit_under_a_celsius_name_is_refused(tmp_path: Path, first_row: int) -> None:
    """The demo year in °F is caught, as a whole year and as a summer."""
    series = read_hourly(JFK).series
    values = 32 + 1.8 * series.air_temperature[first_row : first_row + 8730]
    values = values if first_row == 0 else values[:1500]
    times = np.arange("2013-01-01T00", len(values), dtype="datetime64[h]")
    pairs = zip(times, values, strict=True)
    rows = "".join(f"{moment}:00Z,{value:.1f},1\n" for moment, value in pairs)
    with pytest.raises(TableError, match="look like °F"):
        read_hourly(written(tmp_path, HEAD + rows))


def test_a_hot_desert_and_a_hard_winter_are_not_taken_for_fahrenheit(tmp_path: Path) -> None:
    """A year between 5 and 48 °C and one between −48 and 32 °C are both real on Earth."""
    times = np.arange("2013-01-01T00", 8760, dtype="datetime64[h]")
    for low, high in ((5.0, 48.0), (-48.0, 32.0)):
        season = (1 - np.cos(2 * np.pi * np.arange(8760) / 8760)) / 2
        pairs = zip(times, low + season * (high - low), strict=True)
        rows = "".join(f"{moment}:00Z,{value:.1f},1\n" for moment, value in pairs)
        assert len(read_hourly(written(tmp_path, HEAD + rows)).series.origin) == 8760


def test_the_daily_record_has_every_day_of_four_years() -> None:
    """NOAA daily summaries of New York: 1461 days from 2012 on, −16.0 °C on 4 January 2014."""
    series = read_daily(NEW_YORK_DAYS, "New York").series
    assert len(series.origin) == 1461
    assert np.isfinite(series.minimum).all()
    assert float(series.minimum.min()) == -16.0


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("Paris,2020-01-01,0,5,1,2\n", ["no rows for New York", "Paris"]),
        ("New York,2020-13-01,0,5,1,2\n", ["line 2", "column date", "2020-13-01"]),
        ("New York,2020-01-01,0,1,5,2\n", ["line 2", "temp_min_c", "at most"]),
        ("New York,2020-01-01,0,5,1,2\n" * 2, ["line 3", "in line 2 already"]),
        ("New York,2020-01-01,wet,5,1,2\n", ["line 2", "precip_mm", "wet"]),
    ],
)
def test_a_faulty_daily_file_is_refused(tmp_path: Path, rows: str, words: list[str]) -> None:
    """Daily files are held to the same care as hourly ones."""
    with pytest.raises(TableError) as caught:
        read_daily(written(tmp_path, DAYS + rows), "New York")
    assert [word for word in words if word not in str(caught.value)] == []


def test_an_absurd_daily_value_is_left_out_and_said(tmp_path: Path) -> None:
    """A wind of 468 m/s is NaN, the rest of the day stays."""
    file = read_daily(written(tmp_path, DAYS + "New York,2020-01-01,0,5,1,468\n"), "New York")
    assert np.isnan(file.series.wind_speed[0])
    assert file.series.minimum[0] == 1
    assert any("left out: 1" in remark for remark in file.remarks)


@given(rows=st.lists(st.lists(CELLS, min_size=1, max_size=4).map(",".join)), body=st.text())
def test_whatever_a_file_holds_it_is_a_series_or_an_error_of_ours(
    tmp_path_factory: pytest.TempPathFactory, rows: list[str], body: str
) -> None:
    """No other error comes out of a file, however broken."""
    folder = tmp_path_factory.mktemp("fuzz")
    for text in (body, HEAD + body, HEAD + "\n".join(rows)):
        path = folder / "garden.csv"
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        try:
            outcome = f"garden.csv: {len(read_hourly(path).series.origin)} hours"
        except TableError as error:
            outcome = str(error)
        assert outcome.startswith("garden.csv")
        assert ": 0 hours" not in outcome
