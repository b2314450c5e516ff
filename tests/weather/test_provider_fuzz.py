"""Broken answers without end: each gives a believable value or our own error, nothing else."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mebuki.domain.warning import OfficialWarning
from mebuki.weather import bright_sky, met_norway, nws
from mebuki.weather.answers import Answer, ProviderError
from mebuki.weather.open_meteo_answers import Ensemble, parse_ensemble, parse_hourly
from mebuki.weather.open_meteo_places import FoundPlace, parse_elevation, parse_places
from mebuki.weather.plausibility import LIMITS
from mebuki.weather.warnings import Message, parse_bright_sky, parse_cap, parse_nws, standing
from tests.weather.provider_samples import BERLIN, MUENSTER, OSLO, PHILADELPHIA, sample
from tests.weather.series import utc

BODIES = 20
"""Bodies that grow from one seed."""

AT = utc(2026, 3, 24, 20)


def _cap(content: bytes) -> tuple[OfficialWarning, ...]:
    return standing([parse_cap(content)], AT)


def _alerts(content: bytes) -> tuple[OfficialWarning, ...]:
    return standing(parse_nws(content), AT)


def _german_alerts(content: bytes) -> tuple[OfficialWarning, ...]:
    return standing(parse_bright_sky(content, "https://www.dwd.de/warnungen"), AT)


PARSERS: dict[str, tuple[str, Callable[[bytes], object]]] = {
    "open-meteo hours": ("open_meteo_forecast.json", lambda one: parse_hourly(one, (BERLIN,))),
    "open-meteo members": ("open_meteo_ensemble_mean.json", lambda b: parse_ensemble(b, BERLIN)),
    "open-meteo two models": (
        "open_meteo_ensemble_two_models.json", lambda b: parse_ensemble(b, BERLIN),
    ),
    "open-meteo places": ("open_meteo_geocoding.json", parse_places),
    "open-meteo heights": ("open_meteo_elevation.json", lambda b: parse_elevation(b, 2)),
    "met-norway": ("met_norway_complete.json", lambda b: met_norway.parse(b, OSLO)),
    "nws point": ("nws_points.json", nws.parse_point),
    "nws grid": ("nws_gridpoints.json", lambda b: nws.parse_grid(b, PHILADELPHIA)),
    "nws alerts": ("nws_alerts.json", _alerts),
    "bright-sky hours": ("brightsky_weather.json", lambda b: bright_sky.parse(b, MUENSTER)),
    "bright-sky alerts": ("brightsky_alerts.json", _german_alerts),
    "cap": ("cap_1_2_freeze_warning.xml", _cap),
}  # fmt: skip

ODD: tuple[object, ...] = (
    None, True, False, 0, -1, 1e308, 10**400, -9999, float("nan"), float("inf"), 1.5, "", "x",
    "NaN", "°C", "2026-13-45T99:00:00Z", "2026-03-24T00:00:00", "0001-01-01T00:00:00+23:59",
    "9999-12-31T23:00:00-23:00", "2026-03-24T00:00:00Z/P999D", [], [None], [[]], {}, {"a": 1},
    [1, 2, 3], 2**63, -(2**70), "\ud800", "unixtime", 1774310400, "Europe/../etc", "\0",
)  # fmt: skip
"""Values that services have sent, or could."""


def mutated(content: bytes, chance: random.Random) -> bytes:
    """Return a body broken in one of the ways that bodies break."""
    way = chance.randrange(6)
    if way == 0:
        return chance.randbytes(chance.randrange(40))
    if way == 1:
        return content[: chance.randrange(len(content))]
    if way == 2 or not content.startswith((b"{", b"[")):
        at = chance.randrange(len(content))
        return content[:at] + chance.randbytes(chance.randrange(1, 5)) + content[at + 3 :]
    found = json.loads(content)
    for _ in range(chance.choice((1, 1, 1, 2, 5, 40))):
        found = _with_odd_value(found, chance)
    text = json.dumps(found)
    return text.encode() if chance.random() < 0.9 else text.encode("utf-16")


def _with_odd_value(found: Any, chance: random.Random) -> Any:
    """Replace, add, double or remove one value somewhere in a JSON value."""
    part = found
    for _ in range(chance.randrange(1, 9)):
        if isinstance(part, dict | list) and part:
            keys = list(part) if isinstance(part, dict) else range(len(part))
            key = chance.choice(keys)
            if not isinstance(part[key], dict | list) or chance.random() < 0.15:
                break
            part = part[key]
    if not isinstance(part, dict | list) or not part:
        return copy.deepcopy(chance.choice(ODD))
    key = chance.choice(list(part) if isinstance(part, dict) else range(len(part)))
    how = chance.randrange(4)
    if how == 0:
        del part[key]
    elif how == 1 and isinstance(part, list):
        part.append(part[key])
    elif how == 2 and isinstance(part[key], int | float):
        part[key] = part[key] * chance.choice((-1, 0, 2, 1000))
    else:
        part[key] = copy.deepcopy(chance.choice(ODD))
    return found


def believable(value: object) -> None:
    """Check that what a parser let through is sound."""
    for one in value if isinstance(value, tuple) else (value,):
        if isinstance(one, Answer):
            _believable_hours(one)
        elif isinstance(one, Ensemble):
            assert len(one.mean) == len(one.spread)
            assert np.nanmin(one.spread) >= 0
        elif isinstance(one, FoundPlace):
            assert abs(one.latitude) <= 90
        elif isinstance(one, OfficialWarning):
            assert one.event
            assert not one.over(AT)
            f"{one.event} {one.headline} {one.description} {one.area} {one.issuer}".encode()
        else:
            assert isinstance(one, str | float | Message)


def _believable_hours(answer: Answer) -> None:
    series = answer.series
    assert np.isfinite(series.air_temperature).sum() >= 10
    assert np.isfinite(series.air_temperature[[0, -1]]).all() or answer.rejected
    for name, (low, high, _) in LIMITS.items():
        column = getattr(series, name)
        assert column.shape == series.origin.shape
        known = column[np.isfinite(column)]
        assert ((known >= low) & (known <= high)).all()


def try_bodies(word: str, seed: int) -> None:
    """Give a parser a handful of broken bodies."""
    name, parse = PARSERS[word]
    content, chance = sample(name), random.Random(seed)  # noqa: S311 (no secrets here)
    for _ in range(BODIES):
        body = mutated(content, chance)
        try:
            value = parse(body)
        except ProviderError as error:
            str(error).encode()  # it goes into a report
            continue
        believable(value)


@pytest.mark.parametrize("word", PARSERS)
@settings(max_examples=100)
@given(seed=st.integers(0, 2**32))
def test_two_thousand_broken_bodies_give_a_value_or_our_own_error(word: str, seed: int) -> None:
    """No other exception leaves a parser, and nothing unbelievable either."""
    try_bodies(word, seed)


@pytest.mark.long
@pytest.mark.parametrize("word", PARSERS)
@settings(max_examples=5000)
@given(seed=st.integers(0, 2**48))
def test_a_hundred_thousand_broken_bodies_give_the_same(word: str, seed: int) -> None:
    """The long trial of the one above."""
    try_bodies(word, seed)


@pytest.mark.parametrize("word", PARSERS)
@given(content=st.binary(max_size=200) | st.text(max_size=50).map(str.encode))
def test_any_bytes_at_all_are_refused(word: str, content: bytes) -> None:
    """Noise is no weather."""
    if word == "open-meteo places" and content.strip().startswith(b"{"):
        return  # an object without results is a place that was not found
    with pytest.raises(ProviderError):
        PARSERS[word][1](content)


@pytest.mark.parametrize("word", PARSERS)
def test_deep_nesting_is_refused(word: str) -> None:
    """A hundred thousand brackets end no parser."""
    for content in (b"[" * 100_000, b'{"a":' * 100_000, b"<a>" * 100_000):
        with pytest.raises(ProviderError):
            PARSERS[word][1](content)


@pytest.mark.parametrize("word", PARSERS)
def test_the_whole_sample_is_accepted(word: str) -> None:
    """The trials above start from something valid."""
    believable(PARSERS[word][1](sample(PARSERS[word][0])))
