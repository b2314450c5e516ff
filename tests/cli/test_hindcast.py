"""``mebuki hindcast``: the table, its numbers as data, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from mebuki.cli.main import app
from mebuki.errors import InputError

DAYS = ("--from", "2013-03-11", "--to", "2013-03-20")


def test_the_table_tells_value_detection_and_mails_of_each_level() -> None:
    """On the shipped bench and weather, ten days; the same seed gives the same table."""
    found, again = (CliRunner().invoke(app, ["hindcast", *DAYS]) for _ in range(2))
    assert found.exit_code == 0, found.output
    assert found.stdout == again.stdout
    lines = found.stdout.splitlines()
    assert "2013-03-11 to 2013-03-20" in lines[0]
    levels = [line.split()[0] for line in lines if line[:4] in ("caut", "bala", "few ")]
    assert levels == ["cautious", "balanced", "few"]


def test_the_numbers_come_as_json_too() -> None:
    """What cannot be told is null, not a word."""
    found = CliRunner().invoke(
        app, ["hindcast", "--from", "2013-05-10", "--to", "2013-05-11", "--json"]
    )
    assert found.exit_code == 0, found.output
    scores = json.loads(found.stdout)
    assert [each["cost_loss"] for each in scores] == [0.05, 0.15, 0.3]
    assert all(each["value"] is None and each["table"]["misses"] == 0 for each in scores)


def test_days_outside_the_series_are_refused_with_those_allowed() -> None:
    """The series ends with 2013."""
    found = CliRunner().invoke(app, ["hindcast", "--from", "2014-03-10"])
    assert isinstance(found.exception, InputError)
    assert "the series allows 2013-01-01" in str(found.exception)


def test_a_garden_without_trees_is_refused(tmp_path: Path) -> None:
    """There is nothing to score."""
    garden = tmp_path / "empty.toml"
    garden.write_text(
        'id = "empty"\nname = "Empty"\n[site]\nname = "Somewhere"\nlatitude = 40.6\n'
        'longitude = -73.8\nelevation = 4\ntime_zone = "America/New_York"\n'
        '[[places]]\nid = "bench"\nname = "Bench"\nkind = "bench"\n',
        "utf-8",
    )
    found = CliRunner().invoke(app, ["hindcast", "--garden", str(garden)])
    assert isinstance(found.exception, InputError)
    assert "no trees" in str(found.exception)


def test_a_negative_seed_is_refused() -> None:
    """Seeds count from 0."""
    found = CliRunner().invoke(app, ["hindcast", "--seed", "-1"])
    assert found.exit_code == 2


@pytest.mark.parametrize("option", ["--weather", "--garden"])
def test_a_file_that_is_not_there_is_named(option: str, tmp_path: Path) -> None:
    """The message bears its name."""
    missing = tmp_path / "missing.file"
    found = CliRunner().invoke(app, ["hindcast", option, str(missing)])
    assert found.exception is not None
    assert "missing.file" in str(found.exception)
