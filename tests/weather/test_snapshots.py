"""Snapshots: only good answers are kept, whole or not at all."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.weather.record import (
    load_days,
    load_hours,
    no_hours,
    save_hours,
)
from mebuki.weather.snapshots import FileSnapshots, MemorySnapshots, Snapshot, SnapshotStore
from tests.weather.series import calm_hours, hours_of, utc

NOW = utc(2026, 3, 24, 12)
ONE = Snapshot(
    "https://weather.example/?q=52.5,13.4", b'{"a": 1}\n\x00\xff', NOW, NOW, NOW, '"e"', "Tue",
    validated=True,
)  # fmt: skip


@pytest.fixture(params=["memory", "files"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> SnapshotStore:
    """Both stores, which must do the same."""
    return MemorySnapshots() if request.param == "memory" else FileSnapshots(tmp_path / "kept")


def test_what_is_kept_comes_back(store: SnapshotStore) -> None:
    """Body, moments and validators; an unknown key is nothing."""
    assert store.load(ONE.key) is None
    store.save(ONE)
    assert store.load(ONE.key) == ONE
    store.save(replace(ONE, content=b"new"))
    found = store.load(ONE.key)
    assert found is not None
    assert found.content == b"new"
    assert store.load("another") is None


def test_an_answer_that_no_parser_accepted_is_not_kept(store: SnapshotStore) -> None:
    """The flag is asked for by the store itself."""
    store.save(ONE)
    with pytest.raises(ValueError, match="only an answer that a parser accepted"):
        store.save(replace(ONE, content=b"<html>", validated=False))
    assert store.load(ONE.key) == ONE


@pytest.mark.parametrize("damage", ["cut", "flip", "empty", "noise", "other key"])
def test_a_damaged_file_counts_as_none(damage: str, tmp_path: Path) -> None:
    """A torn or swapped file is never taken for weather."""
    store = FileSnapshots(tmp_path)
    store.save(ONE)
    (path,) = tmp_path.iterdir()
    content = path.read_bytes()
    path.write_bytes(
        {
            "cut": content[:-3],
            "flip": content[:-1] + b"?",
            "empty": b"",
            "noise": b"[1]\n" + content,
            "other key": content.replace(b"52.5", b"52.6"),
        }[damage]
    )
    assert store.load(ONE.key) is None


def test_a_file_names_no_place(tmp_path: Path) -> None:
    """The names of files do not tell where a garden is."""
    FileSnapshots(tmp_path).save(ONE)
    assert "52.5" not in next(tmp_path.iterdir()).name


@given(seed=st.integers(0, 1000), hours=st.integers(1, 200))
def test_hours_survive_being_kept(seed: int, hours: int) -> None:
    """Values, holes and the source of each hour come back exactly."""
    store = MemorySnapshots()
    air = calm_hours(hours)
    air[np.random.default_rng(seed).random(hours) < 0.1] = np.nan
    kept = no_hours(7).laid_over(hours_of(air, 7), "a", 0)
    kept = kept.laid_over(hours_of(air[: hours // 2] + 1, 7), "b", 0)
    assert save_hours(store, "k", kept, NOW) == ""
    found = load_hours(store, "k")
    assert found is not None
    assert found.series.start == 7
    assert np.array_equal(found.series.air_temperature, kept.series.air_temperature, equal_nan=True)
    assert found.runs() == kept.runs()


@given(st.binary(max_size=100))
def test_damaged_hours_count_as_none(content: bytes) -> None:
    """They are fetched again."""
    store = MemorySnapshots()
    store.save(replace(ONE, content=content))
    assert load_hours(store, ONE.key) is None
    assert load_days(store, ONE.key) is None
