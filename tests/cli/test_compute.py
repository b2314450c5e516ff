"""The compute commands: exact columns, published figures, and errors people can act on."""

from __future__ import annotations

import csv
import io
import json
import sys
from datetime import date
from pathlib import Path
from types import ModuleType, SimpleNamespace

import numpy as np
import pytest
from typer.testing import CliRunner, Result

from mebuki.cli.compute import app
from mebuki.domain.weather import Floats, Ints
from mebuki.errors import InputError, RangeError, TableError
from tests.published_tables import PUBLISHED, published_columns, published_rows

DAILY = "date,tmin,tmax,note\n2013-03-01,2,12,a\n2013-03-02,4,14,b\n2013-03-03,-3,8,c\n"
HOURLY = "time,temperature\n2013-03-01T00:00Z,5\n2013-03-01T01:00Z,5.5\n2013-03-01T02:00Z,13\n"


@pytest.fixture
def daily(tmp_path: Path) -> Path:
    """Three days in a file."""
    file = tmp_path / "daily.csv"
    file.write_text(DAILY, encoding="utf-8")
    return file


def _run(*arguments: object, text: str | None = None) -> Result:
    """Run a compute command; what it raises comes through."""
    return CliRunner().invoke(app, [str(each) for each in arguments], input=text,
                              catch_exceptions=False)  # fmt: skip


def _rows(*arguments: object, text: str | None = None) -> list[dict[str, str]]:
    done = _run(*arguments, text=text)
    assert done.exit_code == 0, done.output
    return list(csv.DictReader(io.StringIO(done.stdout)))


def _column(rows: list[dict[str, str]], name: str) -> Floats:
    return np.array([float(row[name]) for row in rows])


def test_degree_days_have_the_agreed_columns_and_defaults(daily: Path) -> None:
    """Single sine above 5 °C; the first day by hand: 2.72066; the total runs on."""
    rows = _rows("degree-days", daily)
    assert list(rows[0]) == ["date", "degree_days", "total"]
    assert [row["date"] for row in rows] == ["2013-03-01", "2013-03-02", "2013-03-03"]
    assert float(rows[0]["degree_days"]) == pytest.approx(2.72066, abs=1e-5)
    np.testing.assert_allclose(
        _column(rows, "total"), np.cumsum(_column(rows, "degree_days")), atol=2e-6
    )


@pytest.mark.parametrize(
    ("method", "column"),
    [
        ("average", "simple_average"),
        ("single-sine", "sng_sine"),
        ("double-sine", "dbl_sine"),
        ("single-triangle", "sng_tri"),
        ("double-triangle", "dbl_tri"),
    ],
)
def test_every_method_and_cutoff_reaches_the_published_figures(
    tmp_path: Path, method: str, column: str
) -> None:
    """Each row of the numerical grid as a table of two days, within 0.001."""
    rows = [row for row in published_rows("degree_day_grid_numeric.csv") if row["method"] == column]
    for row in rows[::3]:
        file = tmp_path / "two.csv"
        top = max(float(row["next_tmin"]), float(row["tmax"]))
        file.write_text(
            f"date,tmin,tmax\n2013-03-01,{row['tmin']},{row['tmax']}\n"
            f"2013-03-02,{row['next_tmin']},{top}\n",
            encoding="utf-8",
        )
        for cutoff in ("none", "horizontal", "vertical", "intermediate"):
            if not row[cutoff]:
                continue
            options = ("--lower", row["lower"], "--upper", row["upper"], "--method", method)
            found = _rows("degree-days", file, *options, "--cutoff", cutoff)
            assert float(found[0]["degree_days"]) == pytest.approx(float(row[cutoff]), abs=1e-3)


def test_json_holds_the_same_rows_as_numbers(daily: Path) -> None:
    """An array of objects with the columns' names."""
    data = json.loads(_run("degree-days", daily, "--json", "--method", "average").stdout)
    assert data[0] == {"date": "2013-03-01", "degree_days": 2.0, "total": 2.0}
    assert data[2] == {"date": "2013-03-03", "degree_days": 0.0, "total": 6.0}


def test_a_table_may_come_from_standard_input() -> None:
    """A dash reads it, with or without a byte order mark and Windows line ends."""
    text = "\ufeff" + DAILY.replace("\n", "\r\n")
    assert len(_rows("degree-days", "-", text=text)) == 3


def test_filled_days_are_told_on_standard_error_only(tmp_path: Path) -> None:
    """The table stays clean; the remark names file and day."""
    file = tmp_path / "holed.csv"
    file.write_text("date,tmin,tmax\n2013-03-01,2,12\n2013-03-03,4,14\n", encoding="utf-8")
    done = _run("degree-days", file)
    assert "holed.csv: 2013-03-02: missing, filled" in done.stderr
    assert "missing" not in done.stdout
    assert len(done.stdout.splitlines()) == 4


def test_hourly_temperatures_have_24_rows_a_day_in_solar_time(daily: Path) -> None:
    """00:00 to 23:00 of each day; warmest at 14:00, two hours after noon."""
    rows = _rows("hourly-temperature", daily, "--latitude", 45)
    assert list(rows[0]) == ["time", "temperature"]
    assert len(rows) == 72
    assert (rows[0]["time"], rows[71]["time"]) == ("2013-03-01T00:00", "2013-03-03T23:00")
    temperature = _column(rows, "temperature").reshape(3, 24)
    assert temperature.argmax(axis=1).tolist() == [14, 14, 14]
    np.testing.assert_allclose(temperature.max(axis=1), [12, 14, 8], atol=1e-6)


def test_chill_of_an_invented_winter_agrees_with_the_published_totals(tmp_path: Path) -> None:
    """Latitude 35: 1,880 hours, 1,789.5 units, 120.8415 portions at the end."""
    (temperature,) = published_columns("chill_synth_lat35_hourly_expected.csv", "Temp")
    first = np.datetime64("2022-10-01T00", "h")
    file = tmp_path / "winter.csv"
    lines = [f"{first + hour},{value}" for hour, value in enumerate(temperature.tolist())]
    file.write_text("\n".join(["time,temperature", *lines]), encoding="utf-8")
    rows = _rows("chill", file)
    assert list(rows[0]) == ["time", "chilling_hours", "utah_units", "chill_portions"]
    assert len(rows) == len(temperature)
    last = rows[-1]
    assert (last["chilling_hours"], last["utah_units"]) == ("1880", "1789.5")
    assert float(last["chill_portions"]) == pytest.approx(120.8415, abs=1e-4)


def test_daily_extremes_pass_from_command_to_command(tmp_path: Path) -> None:
    """Hours rebuilt by one command feed the next; within 1.5 portions at the end."""
    rows = published_rows("chill_synth_lat50.4_daily.csv")
    text = "date,tmin,tmax\n" + "\n".join(
        f"{row['Year']}-{int(row['Month']):02d}-{int(row['Day']):02d},{row['Tmin']},{row['Tmax']}"
        for row in rows
    )
    hourly = _run("hourly-temperature", "-", "--latitude", 50.4, text=text).stdout
    last = _rows("chill", "-", text=hourly)[-1]
    assert float(last["chill_portions"]) == pytest.approx(141.6459, abs=1.5)
    assert float(last["chilling_hours"]) == pytest.approx(2313, rel=0.01)


def test_chill_gives_times_back_as_they_came() -> None:
    """Offsets are kept; a filled hour is written between its neighbours."""
    text = HOURLY.replace("2013-03-01T01:00Z,5.5\n", "")
    rows = _rows("chill", "-", text=text)
    assert [row["time"] for row in rows] == [
        "2013-03-01T00:00Z", "2013-03-01T01:00+00:00", "2013-03-01T02:00Z",
    ]  # fmt: skip
    assert [row["chilling_hours"] for row in rows] == ["1", "1", "1"]


@pytest.fixture
def spring(monkeypatch: pytest.MonkeyPatch) -> list[tuple[object, ...]]:
    """Let rule book and model answer known things; return what they were asked."""
    asked: list[tuple[object, ...]] = []

    def read_taxon(taxon: str, config_dir: Path | None = None) -> SimpleNamespace:
        asked.append((taxon, config_dir))
        return SimpleNamespace(phenology="clocks")

    def observed_dates(
        phenology: str, days: Ints, minimum: Floats, maximum: Floats, latitude: float
    ) -> list[tuple[int, int, date | None]]:
        asked.append((phenology, days.tolist(), minimum.tolist(), maximum.tolist(), latitude))
        return [(2013, 1, date(2013, 3, 2)), (2013, 11, None)]

    def season_faults(*table: object) -> dict[int, str]:
        return {2013: "begins after the chill season"}

    for name, functions in (
        ("mebuki.rulebook", (read_taxon,)),
        ("mebuki.season.past_seasons", (observed_dates, season_faults)),
    ):
        fake = ModuleType(name)
        vars(fake).update({function.__name__: function for function in functions})
        monkeypatch.setitem(sys.modules, name, fake)
    return asked


def test_bud_break_gives_a_row_for_each_season_and_stage(
    daily: Path, spring: list[tuple[object, ...]]
) -> None:
    """Two-figure BBCH numbers; the date is empty where the stage was not reached."""
    rows = _rows("bud-break", daily, "--taxon", "acer-palmatum", "--latitude", -33)
    assert rows == [
        {"season": "2013", "stage": "01", "date": "2013-03-02"},
        {"season": "2013", "stage": "11", "date": ""},
    ]
    first = date(2013, 3, 1).toordinal()
    assert spring[0][0] == "acer-palmatum"
    days = [first, first + 1, first + 2]
    assert spring[1] == ("clocks", days, [2, 4, -3], [12, 14, 8], -33)


def test_bud_break_in_json_has_null_where_not_reached(
    daily: Path, spring: list[tuple[object, ...]]
) -> None:
    """A program reads null, not an empty text."""
    done = _run("bud-break", daily, "--taxon", "acer-palmatum", "--latitude", 45, "--json")
    assert json.loads(done.stdout)[1] == {"season": 2013, "stage": "11", "date": None}
    assert "daily.csv: season 2013: begins after the chill season" in done.stderr
    assert len(spring) == 2


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no column date, tmin, tmax; .* found nothing"),
        ("date,tmin\n2013-03-01,1\n", "no column tmax"),
        ("Date,tmin,tmax\n2013-03-01,1,2\n", "no column date"),
        ("date;tmin;tmax\n2013-03-01;1;2\n", "parted by commas"),
        ("date,tmin,tmax,tmin\n2013-03-01,1,2,1\n", "column tmin stands there more than once"),
        ("date,tmin,tmax\n" + "9" * 140_000, "no CSV table"),
        ("date,tmin,tmax\n", "no rows below the heading"),
        ("date,tmin,tmax\n2013-03-01,1,5,11,2\n", "row 1: 5 cells under 3 headings"),
        ("date,tmin,tmax\n01.03.2013,1,2\n", "row 1, date: found '01.03.2013'; a day such as"),
        ("date,tmin,tmax\n2013-03-01T06:00,1,2\n", "row 1, date: found '2013-03-01T06:00'"),
        ("date,tmin,tmax\n2013-03-01,warm,2\n", "row 1, tmin: found 'warm'; a number"),
        ("date,tmin,tmax\n2013-03-01,1,inf\n", "row 1, tmax: found 'inf'"),
        ("date,tmin,tmax\n2013-03-01,3,2\n", r"standard input: row 1 \(2013-03-01\): tmin 3"),
    ],
)
def test_a_table_that_cannot_be_used_is_refused_by_row_and_rule(text: str, says: str) -> None:
    """The message names the file, the row and what is allowed."""
    with pytest.raises(TableError, match=says):
        _run("degree-days", "-", text=text)


def test_many_bad_cells_are_told_in_one_block() -> None:
    """Eight are listed under the file's name and the rest counted."""
    text = "date,tmin,tmax\n" + "\n".join(f"2013-03-{day:02d},x,9" for day in range(1, 21))
    with pytest.raises(TableError) as caught:
        _run("degree-days", "-", text=text)
    lines = str(caught.value).splitlines()
    assert (lines[0], lines[-1], len(lines)) == ("standard input:", "  and 12 more", 10)


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    """A missing file, a folder and a file that is no text each end in an input error."""
    (tmp_path / "latin.csv").write_bytes(b"date,tmin,tmax\n2013-03-01,1,2\xb0\n")
    for name, says in (
        ("none.csv", "No such file"),
        ("", "cannot be read"),
        ("latin.csv", "UTF-8"),
    ):
        with pytest.raises(InputError, match=says):
            _run("degree-days", tmp_path / name)


def test_options_that_make_no_sense_are_refused(daily: Path) -> None:
    """Thresholds upside down, no number, no latitude."""
    with pytest.raises(RangeError, match="upper threshold"):
        _run("degree-days", daily, "--lower", 10, "--upper", 5)
    with pytest.raises(InputError, match="--lower nan"):
        _run("degree-days", daily, "--lower", "nan")
    with pytest.raises(RangeError, match="latitude 95"):
        _run("hourly-temperature", daily, "--latitude", 95)
    assert _run("hourly-temperature", daily).exit_code == 2
    assert _run("degree-days", daily, "--method", "guess").exit_code == 2


def test_empty_cells_days_with_midnight_and_blank_lines_are_understood() -> None:
    """What spreadsheets write is read: empty or NA cells, a time of 00:00, blank lines."""
    text = "date,tmin,tmax\n2013-03-01 00:00,2,12\n\n2013-03-02,,NA\n2013-03-03,4,14\n"
    rows = _rows("degree-days", "-", "--method", "average", text=text)
    assert [row["degree_days"] for row in rows] == ["2", "3", "4"]


def test_each_command_is_explained() -> None:
    """The help names columns out, and the published tables are where the tests look."""
    assert PUBLISHED.is_dir()
    for command in ("degree-days", "hourly-temperature", "chill", "bud-break"):
        done = _run(command, "--help")
        assert done.exit_code == 0
        assert "FILE.csv" in done.stdout


def test_a_cutoff_without_an_upper_threshold_cuts_nothing_and_says_so(daily: Path) -> None:
    """The numbers are those without a cut-off; a note goes to standard error."""
    cut = _run("degree-days", daily, "--cutoff", "vertical")
    assert "nothing to cut" in cut.stderr
    assert cut.stdout == _run("degree-days", daily).stdout
