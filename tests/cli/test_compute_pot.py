"""The compute commands for air, evaporation, root-balls and scores."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import numpy as np
import pytest
import typer
from typer.testing import CliRunner

from mebuki.cli.compute_pot import register
from mebuki.errors import InputError, MebukiError
from tests.published_tables import PUBLISHED, published_rows

app = typer.Typer()
register(app)


def _rows(folder: Path, text: str, command: str, *options: object) -> list[dict[str, str]]:
    """Run a command on a table; return its rows."""
    file = folder / "table.csv"
    file.write_text(text, encoding="utf-8")
    arguments = [command, str(file), *map(str, options)]
    done = CliRunner().invoke(app, arguments, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return list(csv.DictReader(io.StringIO(done.stdout)))


def test_humidity_of_the_published_table(tmp_path: Path) -> None:
    """Wet bulb within 0.15 K of psychrolib or MetPy; dew point of FAO-56 within 0.002 K."""
    expected = published_rows("psychro_check.csv")
    text = "temperature,relative_humidity\n"
    text += "".join(f"{row['T_C']},{row['RH_pct']}\n" for row in expected)
    found = _rows(tmp_path, text, "humidity")
    assert list(found[0]) == [
        "temperature", "relative_humidity", "dew_point", "wet_bulb", "vapour_pressure_deficit",
    ]  # fmt: skip
    for row, wanted in zip(found, expected, strict=True):
        near = [float(wanted[k]) for k in ("Tw_psychrolib_101325Pa", "Tw_metpy_1013.25hPa")]
        assert min(abs(float(row["wet_bulb"]) - value) for value in near) < 0.15
        dew = float(wanted["Td_from_FAO_es_inverse"])
        assert float(row["dew_point"]) == pytest.approx(dew, abs=2e-3)


def test_example_18_and_example_20_of_fao_56(tmp_path: Path) -> None:
    """Uccle with everything: 3.88; Lyon with extremes alone and 2 m/s at 2 m: 4.56, within 0.02."""
    text = "date,tmin,tmax,wind,rhmax,rhmin,sunshine\n2013-07-06,12.3,21.5,2.7778,84,63,9.25\n"
    options: tuple[object, ...] = ("--latitude", 50.8, "--elevation", 100, "--wind-height", 10)
    uccle = _rows(tmp_path, text, "reference-evaporation", *options)
    assert list(uccle[0]) == ["date", "reference_evaporation"]
    assert float(uccle[0]["reference_evaporation"]) == pytest.approx(3.88, abs=0.02)
    text = "date,tmin,tmax,wind\n2013-07-15,14.8,26.6,\n"
    options = ("--latitude", 45.7167, "--elevation", 200)
    lyon = _rows(tmp_path, text, "reference-evaporation", *options)
    assert float(lyon[0]["reference_evaporation"]) == pytest.approx(4.56, abs=0.02)


def test_example_19_of_fao_56(tmp_path: Path) -> None:
    """N'Diaye, the hour to 15 h on a clock at 15° west: 0.63 within 0.01."""
    text = "time,temperature,humidity,wind,radiation\n2013-10-01T15:00-01:00,38,52,3.3,2.45\n"
    options = ("--latitude", 16.2167, "--longitude", -16.25, "--elevation", 8, "--wind-height", 2)
    found = _rows(tmp_path, text, "reference-evaporation-hourly", *options)
    assert found[0]["time"] == "2013-10-01T15:00-01:00"
    assert float(found[0]["reference_evaporation"]) == pytest.approx(0.63, abs=0.01)


def test_a_root_ball_follows_a_cold_night(tmp_path: Path) -> None:
    """Exact columns; a small pot freezes through, one wrapped in foam on the soil does not."""
    air = 4 - 10 * np.sin(np.pi * np.arange(25) / 24)
    lines = [f"2013-01-0{1 + h // 24}T{h % 24:02d}:00Z,{t:.2f},2" for h, t in enumerate(air)]
    text = "\n".join(["time,temperature,wind", *lines, ""])
    bare = _rows(tmp_path, text, "root-ball", "--pot", "oval 15x12x5.5")
    wrapped = _rows(
        tmp_path, text, "root-ball", "--pot", "oval 15x12x5.5", "--insulation", 0.86, "--grounded"
    )
    assert list(bare[0]) == ["time", "mean", "wall", "frozen_share"]
    assert len(bare) == 25
    assert max(float(row["frozen_share"]) for row in bare) == 1
    assert max(float(row["frozen_share"]) for row in wrapped) < 1


def _probed(folder: Path, probe: np.ndarray, *options: object) -> tuple[str, str]:
    """Return what root-ball writes of four windy overcast days with a probe."""
    air = 9 - 5 * np.cos(2 * np.pi * (np.arange(96) - 5) / 24)
    lines = [
        f"2013-05-0{1 + h // 24}T{h % 24:02d}:00Z,{t:.3f},5,1,{p:.3f}"
        for h, (t, p) in enumerate(zip(air, probe, strict=True))
    ]
    file = folder / "probe.csv"
    file.write_text("\n".join(["time,temperature,wind,cloud,probe", *lines, ""]))
    arguments = ["root-ball", str(file), "--pot", "oval 30x22x7", *map(str, options)]
    done = CliRunner().invoke(app, arguments, catch_exceptions=False)
    assert done.exit_code == 0
    return done.stdout, done.stderr


def _lagging(hours: float) -> np.ndarray:
    """Return the exact answer of a first-order lag to the sine of `_probed`, begun long ago."""
    omega = 2 * np.pi / 24
    shift, gain = np.arctan(omega * hours), 1 / np.hypot(1, omega * hours)
    return np.asarray(9 - 5 * gain * np.cos(omega * (np.arange(96) - 5) - shift))


def test_a_probe_tells_the_time_constant_beside_the_table(tmp_path: Path) -> None:
    """A lag of 3 h, any heat-transfer text: fitted within 3 %; columns as without a probe."""
    told, beside = _probed(tmp_path, _lagging(3.0))
    assert told.splitlines()[0] == "time,mean,wall,frozen_share"
    fitted = float(beside.split("time constant of ")[1].split()[0])
    assert fitted == pytest.approx(3.0, rel=0.03)
    # in less wind than that of the fit a pot lags more
    assert float(beside.rsplit("= ", 1)[1]) > fitted
    _, wrapped = _probed(tmp_path, _lagging(3.0), "--insulation", 0.1)
    assert float(wrapped.rsplit("= ", 1)[1]) < float(beside.rsplit("= ", 1)[1])


def test_a_probe_that_tells_nothing_says_so(tmp_path: Path) -> None:
    """Frozen all along: the table is there, and a sentence why no constant was fitted."""
    told, beside = _probed(tmp_path, np.full(96, -1.0))
    assert len(told.splitlines()) == 97
    assert "no time constant could be fitted: 0 night hours" in beside


def test_an_unknown_hour_stays_unknown(tmp_path: Path) -> None:
    """An empty humidity gives an empty hour; five missing rows of air, empty root-balls."""
    text = "time,temperature,humidity,wind,radiation\n"
    text += "2013-07-01T12:00,20,50,2,2\n2013-07-01T13:00,20,,2,2\n2013-07-01T14:00,,50,2,2\n"
    options = ("--latitude", 50, "--longitude", 0, "--wind-height", 2)
    hourly = _rows(tmp_path, text, "reference-evaporation-hourly", *options)
    assert [bool(row["reference_evaporation"]) for row in hourly] == [True, False, False]
    text = "time,temperature\n"
    text += "".join(f"2013-01-01T{h:02d}:00,5\n" for h in (*range(6), *range(11, 24)))
    found = _rows(tmp_path, text, "root-ball", "--pot", "round 16x17")
    known = [bool(row["mean"]) for row in found]
    assert len(known) == 24
    # twelve hours after the gap the root-ball has settled
    assert known == [True] * 6 + [False] * 17 + [True]


def test_tables_may_come_through_a_pipe() -> None:
    """Standard input works where columns may be missing."""
    text = "date,tmin,tmax,wind\n2013-07-15,14.8,26.6,\n"
    arguments = ["reference-evaporation", "-", "--latitude", "45.7167", "--elevation", "200"]
    done = CliRunner().invoke(app, arguments, input=text, catch_exceptions=False)
    assert done.exit_code == 0
    assert float(done.stdout.splitlines()[1].split(",")[1]) == pytest.approx(4.56, abs=0.02)


def test_a_pot_dries_and_rain_fills_it(tmp_path: Path) -> None:
    """Exact columns; the balance closes, dry days empty the share, an unknown hour stays so."""
    lines = [f"2013-07-0{1 + h // 24}T{h % 24:02d}:00Z,0.25,0" for h in range(48)]
    lines += ["2013-07-03T00:00Z,0,20", "2013-07-03T01:00Z,,0", "2013-07-03T02:00Z,0.1,0"]
    text = "\n".join(["time,reference_evaporation,precipitation", *lines, ""])
    options = ("--pot", "oval 15x12x5.5", "--canopy", 30, "--taxon", "acer-palmatum")
    found = _rows(tmp_path, text, "pot-water", *options)
    assert list(found[0]) == ["time", "use", "water_left", "share_left"]
    left = np.array([float(row["water_left"]) for row in found[:48]])
    use = np.array([float(row["use"]) for row in found[:48]])
    np.testing.assert_allclose(-np.diff(left), use[1:], atol=2e-6)
    shares = [row["share_left"] for row in found]
    assert shares[47] == "0"
    assert float(shares[48]) > 0.5
    assert shares[49:] == ["", ""]
    bare = _rows(tmp_path, text, "pot-water", *options, "--leafless")
    assert float(bare[20]["use"]) < 0.5 * float(found[0]["use"])


def test_what_a_substrate_holds_is_told_with_its_range(tmp_path: Path) -> None:
    """Santos Coello and Ríos Mesa 2023: a fine tuff 0.20 to 0.26 of the volume, 3.08 L here."""
    file = tmp_path / "table.csv"
    file.write_text("time,reference_evaporation,precipitation\n2013-07-01T00:00,0.2,0\n")
    told = []
    for substrate in ("1mm", "6 mm", "mixed-mineral"):
        arguments = ["pot-water", str(file), "--pot", "round 16x17", "--canopy", "30"]
        arguments += ["--taxon", "acer-palmatum", "--substrate", substrate]
        done = CliRunner().invoke(app, arguments, catch_exceptions=False)
        assert done.stdout.splitlines()[0] == "time,use,water_left,share_left"
        told.append(done.stderr)
    volume = 0.9 * np.pi / 4 * 16**2 * 17 / 1000
    assert f"{0.20 * volume:.2f} to {0.26 * volume:.2f} L" in told[0]
    assert "a guess" in told[0]
    assert "Santos Coello" in told[1]
    assert "[default" in told[2]


@pytest.mark.parametrize(
    ("option", "value", "says"),
    [
        ("--substrate", "40mm", "particle size 40 mm is outside 0.5 to 12 mm"),
        ("--substrate", "sand", "--substrate 'sand': must be one of .*mixed-mineral"),
        ("--canopy", "0", "--canopy 0 cm is outside 1 to 500 cm"),
        ("--taxon", "acer-palmatun", "acer-palmatum"),
    ],
)
def test_impossible_pots_and_names_are_refused(
    tmp_path: Path, option: str, value: str, says: str
) -> None:
    """The message names the option and what it may be."""
    file = tmp_path / "table.csv"
    file.write_text("time,reference_evaporation,precipitation\n2013-07-01T00:00,0.2,0\n")
    usual = {"--pot": "round 16x17", "--canopy": "30", "--taxon": "acer-palmatum"}
    given = usual | {option: value}
    arguments = [word for pair in given.items() for word in pair]
    with pytest.raises(MebukiError, match=says) as caught:
        CliRunner().invoke(app, ["pot-water", str(file), *arguments], catch_exceptions=False)
    assert isinstance(caught.value, InputError)


def test_the_help_names_the_units_of_height_and_pressure() -> None:
    """Units stand in round brackets, since square ones are taken for markup and lost."""
    pressure = " ".join(CliRunner().invoke(app, ["humidity", "--help"]).stdout.split())
    assert "Air pressure (kPa)" in pressure
    assert "1013 hPa" in pressure
    height = CliRunner().invoke(app, ["reference-evaporation", "--help"]).stdout
    assert "measured (m)" in height
    assert "wind (m/s)" in height


def test_scores_of_finleys_table(tmp_path: Path) -> None:
    """Finley 1884 as 2803 rows: POD .549, FAR .720, POFD .0262, CSI .228, all in one row."""
    text = "event,probability\n"
    text += "1,1\n" * 28 + "0,1\n" * 72 + "1,0\n" * 23 + "0,0\n" * 2680
    found = _rows(tmp_path, text, "scores", "--threshold", 0.5)
    scores = json.loads((PUBLISHED / "finley.json").read_text(encoding="utf-8"))["scores"]
    assert len(found) == 1
    assert (found[0]["hits"], found[0]["correct_negatives"]) == ("28", "2680")
    for column, key in (("pod", "POD"), ("far", "FAR"), ("pofd", "POFD"), ("csi", "CSI")):
        assert float(found[0][column]) == pytest.approx(scores[key], abs=1e-6)
    assert float(found[0]["brier"]) == pytest.approx(95 / 2803, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "arguments", "says"),
    [
        ("temperature,relative_humidity\n5,104\n", ("humidity",), "relative humidity 104"),
        ("temperature,relative_humidity\n5,50\n", ("humidity", "--pressure", "1013"),
         r"--pressure 1013 kPa is outside 30 to 120 kPa; 1013 hPa are 101\.3 kPa"),
        ("temperature,relative_humidity\n5,50\n", ("humidity", "--pressure", "5"), "to 120 kPa$"),
        ("temperature,relative_humidity\n99,50\n", ("humidity",), "temperature 99 °C"),
        ("event,probability\n2,0.5\n", ("scores",), "an event is 0 or 1, not 2"),
        ("time,temperature\n2013-01-01T00:00,1\n", ("root-ball", "--pot", "big"), "--pot 'big'"),
        ("date,tmin,tmax,wind\n2013-01-01,9,3,2\n", ("reference-evaporation", "--latitude", "50"),
         "tmin 9 is above tmax 3"),
        ("date,tmin,tmax,wind\n2013-01-01,1,3,2\n", ("reference-evaporation", "--latitude", "95"),
         "latitude 95"),
        ("date,tmin,tmax,wind\n2013-01-01,1,3,\n", ("reference-evaporation",),
         "--latitude is missing: degrees, -90 to 90"),
        ("date,tmin,tmax,wind\n2013-01-01,1,3,2\n", ("reference-evaporation", "--latitude", "5"),
         r"--wind-height is missing: .* 0\.5 to 200 m"),
        ("date,tmin,tmax,wind\n2013-01-01,1,3,2\n",
         ("reference-evaporation", "--latitude", "5", "--wind-height", "0.1"),
         r"wind height 0\.1 m is outside 0\.5 to 200 m"),
        ("date,tmin,tmax,wind,radiation\n2013-01-01,1,3,,-4\n",
         ("reference-evaporation", "--latitude", "5"), "radiation -4 MJ/m²/d is outside 0 to 60"),
        ("date,tmin,tmax,wind,sunshine\n2013-01-01,1,3,,25\n",
         ("reference-evaporation", "--latitude", "5"), "sunshine 25 h is outside 0 to 24"),
        ("date,tmin,tmax,wind,rhmean\n2013-01-01,1,3,,101\n",
         ("reference-evaporation", "--latitude", "5"), "relative humidity 101 %"),
        ("time,temperature,humidity,wind,radiation\n2013-01-01T00:00,1,50,,0\n",
         ("reference-evaporation-hourly", "--latitude", "5"), "--longitude is missing"),
        ("time,temperature,humidity,wind,radiation\n2013-01-01T00:00,1,50,,-1\n",
         ("reference-evaporation-hourly", "--latitude", "5", "--longitude", "5"),
         "radiation -1 MJ/m²/h is outside 0 to 6"),
        ("time,temperature,radiation\n2013-01-01T00:00,1,-5\n",
         ("root-ball", "--pot", "round 16x17"), "radiation -5 W/m²"),
        ("time,temperature,probe\n2013-01-01T00:00,1,99\n",
         ("root-ball", "--pot", "round 16x17"), "probe 99 °C"),
        ("time,temperature,cloud\n2013-01-01T00:00,1,8\n",
         ("root-ball", "--pot", "round 16x17"), "cloud 8"),
        ("time,temperature\n2013-01-01T00:00,1\n", ("root-ball", "--pot", "oval 0x3x5"), "--pot"),
        ("time,temperature\n2013-01-01T00:00,1\n",
         ("root-ball", "--pot", "round 16x17", "--insulation", "-1"), "insulation"),
    ],
)  # fmt: skip
def test_bad_input_names_what_is_wrong(
    tmp_path: Path, text: str, arguments: tuple[str, ...], says: str
) -> None:
    """Every fault is an input error that names the value."""
    file = tmp_path / "table.csv"
    file.write_text(text, encoding="utf-8")
    command, *options = arguments
    with pytest.raises(MebukiError, match=says) as caught:
        CliRunner().invoke(app, [command, str(file), *options], catch_exceptions=False)
    assert isinstance(caught.value, InputError)
