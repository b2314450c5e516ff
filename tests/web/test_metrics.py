"""Figures for Prometheus, read back by its own parser."""

from __future__ import annotations

import math
from dataclasses import replace

from prometheus_client import REGISTRY
from prometheus_client.parser import text_string_to_metric_families

from mebuki import __version__
from mebuki.web.health import WeatherFacts, judge
from mebuki.web.metrics import Metrics
from tests.web.healths import NOW, a_health, good_facts


def read(metrics: Metrics) -> dict[tuple[str, ...], float]:
    """Return the figures by name and labels."""
    return {
        (sample.name, *sample.labels.values()): sample.value
        for family in text_string_to_metric_families(metrics.render().decode())
        for sample in family.samples
    }


def test_work_is_counted() -> None:
    """Rounds by kind and outcome with their duration, letters, answers of the feed route."""
    metrics = Metrics()
    metrics.round_done("plan", "done", 1.5)
    metrics.round_done("plan", "failed", 0.5)
    metrics.letters(3, 1, 0)
    metrics.letters(1, 0, 1)
    for status in (200, 304, 304, 410):
        metrics.feed(status)
    figures = read(metrics)
    assert figures["mebuki_rounds_total", "plan", "done"] == 1
    assert figures["mebuki_rounds_total", "plan", "failed"] == 1
    assert figures["mebuki_round_duration_seconds_sum", "plan"] == 2
    assert figures["mebuki_round_duration_seconds_count", "plan"] == 2
    assert figures["mebuki_letters_total", "sent"] == 4
    assert figures["mebuki_letters_total", "put_off"] == 1
    assert figures["mebuki_letters_total", "given_up"] == 1
    assert figures["mebuki_feed_requests_total", "200"] == 1
    assert figures["mebuki_feed_requests_total", "304"] == 2
    assert figures["mebuki_feed_requests_total", "410"] == 1
    assert figures["mebuki_build_info", __version__] == 1


def test_the_state_is_gauged() -> None:
    """Ages, depths and the one status that holds."""
    metrics = Metrics()
    metrics.health(a_health())
    figures = read(metrics)
    assert figures["mebuki_status", "ok"] == 1
    assert figures["mebuki_status", "blind"] == 0
    assert figures[("mebuki_healthy",)] == 1
    assert figures[("mebuki_weather_newest_age_seconds",)] == 3600
    assert figures[("mebuki_weather_oldest_age_seconds",)] == 7200
    assert figures[("mebuki_outbox_waiting",)] == 2
    assert figures[("mebuki_outbox_given_up",)] == 1


def test_weather_that_never_was_has_no_age() -> None:
    """Not a number, rather than an age of nought that looks fresh."""
    metrics = Metrics()
    metrics.health(judge(replace(good_facts(), weather=WeatherFacts(1, 1)), NOW))
    figures = read(metrics)
    assert math.isnan(figures[("mebuki_weather_oldest_age_seconds",)])
    assert figures[("mebuki_gardens_blind",)] == 1


def test_two_applications_count_apart() -> None:
    """Nothing is kept in the library's own registry."""
    before = {family.name for family in REGISTRY.collect()}
    one, two = Metrics(), Metrics()
    one.feed(200)
    assert read(two)["mebuki_feed_requests_total", "200"] == 0
    assert {family.name for family in REGISTRY.collect()} == before
