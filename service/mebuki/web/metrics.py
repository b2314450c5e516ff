"""Figures for a Prometheus server, in a registry of their own for each application."""

from __future__ import annotations

from typing import Final

from prometheus_client import (
    CollectorRegistry,
    Counter,
    Gauge,
    ProcessCollector,
    Summary,
    generate_latest,
)
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4

from mebuki import __version__
from mebuki.web.health import Health, Status

METRICS_TYPE: Final = CONTENT_TYPE_PLAIN_0_0_4
NEVER: Final = float("nan")


class Metrics:
    """What the service counts; every method may be called from any thread.

    No label holds a garden, an address or a token.
    """

    def __init__(self) -> None:
        self._registry = CollectorRegistry(auto_describe=False)
        ProcessCollector(registry=self._registry)
        self._count_work()
        self._gauge_health()
        build = Gauge(
            "mebuki_build_info", "Always 1; the version is a label.", ("version",),
            registry=self._registry,
        )  # fmt: skip
        build.labels(__version__).set(1)

    def _count_work(self) -> None:
        registry = self._registry
        self._rounds = Counter(
            "mebuki_rounds", "Rounds that ended, by kind and outcome.", ("kind", "outcome"),
            registry=registry,
        )  # fmt: skip
        self._duration = Summary(
            "mebuki_round_duration_seconds", "Duration of rounds.", ("kind",), registry=registry
        )
        self._letters = Counter(
            "mebuki_letters", "Letters by what became of them.", ("outcome",), registry=registry
        )
        self._feeds = Counter(
            "mebuki_feed_requests", "Requests for feeds by status.", ("status",), registry=registry
        )
        for outcome in ("sent", "put_off", "given_up"):
            self._letters.labels(outcome)
        self._by_status = {status: self._feeds.labels(str(status)) for status in (200, 304, 404)}

    def _gauge_health(self) -> None:
        def gauge(name: str, text: str) -> Gauge:
            return Gauge(f"mebuki_{name}", text, registry=self._registry)

        self._status = Gauge(
            "mebuki_status", "1 for the present status.", ("status",), registry=self._registry
        )
        self._healthy = gauge("healthy", "1 if the service can do what it is for.")
        self._newest = gauge("weather_newest_age_seconds", "Age of the newest weather.")
        self._oldest = gauge("weather_oldest_age_seconds", "Age of the oldest weather.")
        self._gardens = gauge("gardens", "Gardens kept.")
        self._stale = gauge("gardens_stale", "Gardens with weather older than 6 h.")
        self._blind = gauge("gardens_blind", "Gardens without usable weather.")
        self._failed = gauge("gardens_failed", "Gardens whose last round failed.")
        self._waiting = gauge("outbox_waiting", "Letters that wait to be sent.")
        self._oldest_letter = gauge("outbox_oldest_age_seconds", "Age of the oldest letter.")
        self._given_up = gauge("outbox_given_up", "Letters that were given up.")

    def round_done(self, kind: str, outcome: str, seconds: float) -> None:
        """Count a round that ended; its duration [s]."""
        self._rounds.labels(kind, outcome).inc()
        self._duration.labels(kind).observe(seconds)

    def letters(self, sent: int, put_off: int, given_up: int) -> None:
        """Count what became of letters."""
        self._letters.labels("sent").inc(sent)
        self._letters.labels("put_off").inc(put_off)
        self._letters.labels("given_up").inc(given_up)

    def feed(self, status: int) -> None:
        """Count an answer of the feed route."""
        counter = self._by_status.get(status)
        if counter is None:
            counter = self._by_status.setdefault(status, self._feeds.labels(str(status)))
        counter.inc()

    def health(self, health: Health) -> None:
        """Set the gauges to how the service is."""
        for status in Status:
            self._status.labels(str(status)).set(status is health.status)
        weather, outbox = health.weather, health.outbox
        self._healthy.set(health.healthy)
        self._newest.set(NEVER if weather.newest_age is None else weather.newest_age)
        self._oldest.set(NEVER if weather.oldest_age is None else weather.oldest_age)
        self._gardens.set(weather.gardens)
        self._stale.set(weather.stale)
        self._blind.set(weather.blind + weather.without)
        self._failed.set(weather.failed)
        self._waiting.set(outbox.waiting)
        self._oldest_letter.set(outbox.oldest_age or 0)
        self._given_up.set(outbox.given_up)

    def render(self) -> bytes:
        """Return all figures in the text format of Prometheus, `METRICS_TYPE`."""
        return generate_latest(self._registry)
