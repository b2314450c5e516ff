"""Weather services on loopback: one invented weather in four shapes, and switches to break them.

Open-Meteo sends no validators; MET Norway sends Expires and Last-Modified and
a new run every six hours; the US service sends an ETag. All count what they send whole.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from email.utils import format_datetime
from functools import cache
from urllib.parse import parse_qs, urlsplit

from mebuki.domain.weather import hour_moment, hour_number
from mebuki.weather.bright_sky import BrightSky
from mebuki.weather.met_norway import MetNorway
from mebuki.weather.nws import Nws
from mebuki.weather.open_meteo import Addresses, OpenMeteo
from mebuki.weather.provider import Provider
from tests.weather.loopback import Asked, Told, loopback
from tests.weather.provider_samples import SetClock

SECONDS = 3600
_SHARES = {"dew_point_2m": -4.0, "temperature_2m": 0.0}
_UNITS = {
    "temperature_2m": "°C", "dew_point_2m": "°C", "relative_humidity_2m": "%",
    "wind_speed_10m": "m/s", "precipitation": "mm", "snowfall": "cm",
    "shortwave_radiation": "W/m²", "cloud_cover": "%", "temperature_2m_spread": "K",
}  # fmt: skip


@cache
def air(hour: int) -> float:
    """Return the invented air temperature [°C] of an hour: a year, a day, and some weather."""
    day, year = hour / 24, hour / (24 * 365.25)
    return round(
        9 - 9 * math.cos(2 * math.pi * (year - 0.05)) - 4 * math.cos(2 * math.pi * (day - 0.6))
        + 3 * math.sin(day * 1.3), 1,
    )  # fmt: skip


@dataclass
class Services:
    """The switches, the counts and the invented weather.

    ``down`` names services that answer 503, ``bias`` what a service adds to
    the temperature [K], ``whole`` how many answers each sent with a body.
    """

    clock: SetClock
    down: set[str] = field(default_factory=set)
    bias: dict[str, float] = field(default_factory=dict)
    whole: Counter[str] = field(default_factory=Counter)
    asked: Counter[str] = field(default_factory=Counter)
    unchanged: Counter[str] = field(default_factory=Counter)
    times: list[tuple[str, datetime]] = field(default_factory=list)
    paths: list[str] = field(default_factory=list)
    square: int = 40
    alerts: bytes = b'{"type": "FeatureCollection", "features": []}'

    def answer(self, asked: Asked) -> Told:
        """Return what the service in the path says."""
        parts = urlsplit(asked.path)
        word = parts.path.split("/")[1]
        service = word if word in {"met", "nws", "sky"} else "om"
        self.asked[word] += 1
        self.times.append((word, self.clock.now()))
        self.paths.append(asked.path)
        if service in self.down or word in self.down:
            return Told(503, b'{"error": true, "reason": "The service is overloaded"}')
        query = {name: values[0] for name, values in parse_qs(parts.query).items()}
        told = {
            "om": self._open_meteo, "met": self._met, "nws": self._nws, "sky": self._sky,
        }[service](word, query, asked)  # fmt: skip
        what = parts.path.split("/")[2] if service == "nws" else word
        (self.unchanged if told.status == 304 else self.whole)[what] += 1
        return told

    def _now(self) -> int:
        return hour_number(self.clock.now())

    def _open_meteo(self, word: str, query: dict[str, str], asked: Asked) -> Told:
        today = self._now() - self._now() % 24
        if "start_date" in query:
            first, last = (date.fromisoformat(query[name]) for name in ("start_date", "end_date"))
            start, stop = (
                hour_number(datetime(one.year, one.month, one.day, tzinfo=UTC)) + extra
                for one, extra in ((first, 0), (last, 24))
            )
        else:
            start = today - 24 * int(query.get("past_days", "0"))
            stop = today + 24 * int(query["forecast_days"])
        names = query["hourly"].split(",")
        hours = range(start, stop)
        columns = {name: [self._value(word, name, hour) for hour in hours] for name in names}
        found = {
            "latitude": float(query["latitude"]), "longitude": float(query["longitude"]),
            "elevation": float(query["elevation"]), "utc_offset_seconds": 0,
            "hourly_units": {"time": "unixtime"} | {name: _UNITS[name] for name in names},
            "hourly": {"time": [hour * SECONDS for hour in hours]} | columns,
        }  # fmt: skip
        return Told(200, json.dumps(found).encode())

    def _value(self, word: str, name: str, hour: int) -> float:
        warm = air(hour) + self.bias.get(word, 0.0)
        sun = max(0.0, -math.cos(2 * math.pi * (hour % 24) / 24))
        return {
            "temperature_2m": warm, "dew_point_2m": warm - 3, "relative_humidity_2m": 80,
            "wind_speed_10m": 2 + hour % 5, "precipitation": 1.0 if hour % 50 == 0 else 0.0,
            "snowfall": 0.0, "shortwave_radiation": round(500 * sun, 1), "cloud_cover": 50,
            "temperature_2m_spread": 1.5,
        }[name]  # fmt: skip

    def _run(self) -> int:
        """Return the hour number of the newest run: every six hours, ready an hour later."""
        ready = self._now() - 1
        return ready - ready % 6

    def _met(self, word: str, query: dict[str, str], asked: Asked) -> Told:
        run = hour_moment(self._run())
        stamp = format_datetime(run, usegmt=True)
        headers = {
            "Content-Type": "application/json", "Last-Modified": stamp,
            "Expires": format_datetime(self.clock.now() + timedelta(minutes=30), usegmt=True),
        }  # fmt: skip
        if asked.headers.get("if-modified-since") == stamp:
            return Told(304, b"", headers)
        bias = self.bias.get("met", 0.0)
        now = self._now()
        steps = [*range(now, now + 60), *range(now + 60, now + 216, 6)]
        found = {
            "geometry": {"coordinates": [float(query["lon"]), float(query["lat"]),
                                         float(query["altitude"])]},
            "properties": {
                "meta": {
                    "updated_at": f"{run:%Y-%m-%dT%H:%M:%SZ}",
                    "units": {"air_temperature": "celsius", "relative_humidity": "%",
                              "wind_speed": "m/s", "cloud_area_fraction": "%",
                              "precipitation_amount": "mm"},
                },
                "timeseries": [
                    {"time": f"{hour_moment(hour):%Y-%m-%dT%H:%M:%SZ}", "data": {
                        "instant": {"details": {
                            "air_temperature": air(hour) + bias, "relative_humidity": 80,
                            "wind_speed": 2.0, "cloud_area_fraction": 40}},
                        "next_1_hours": {"details": {"precipitation_amount": 0.0}}}}
                    for hour in steps
                ],
            },
        }  # fmt: skip
        return Told(200, json.dumps(found).encode(), headers)

    def _nws(self, word: str, query: dict[str, str], asked: Asked) -> Told:
        etag = f'"{self._run()}"'
        headers = {"Content-Type": "application/geo+json", "ETag": etag,
                   "Cache-Control": "public, max-age=1800"}  # fmt: skip
        if "/gridpoints/" in asked.path and f"OKX/{self.square}," not in asked.path:
            return Told(404, b'{"title": "Not Found"}')
        if asked.headers.get("if-none-match") == etag and "alerts" not in asked.path:
            return Told(304, b"", headers)
        if "/alerts" in asked.path:
            return Told(200, self.alerts, {"Content-Type": "application/geo+json"})
        if "/points/" in asked.path:
            square = {"properties": {"gridId": "OKX", "gridX": self.square, "gridY": 30}}
            day = {"Content-Type": "application/geo+json", "Cache-Control": "max-age=86400"}
            return Told(200, json.dumps(square).encode(), day)
        hours = range(self._now() - 2, self._now() + 160)
        layer = [
            {"validTime": f"{hour_moment(hour):%Y-%m-%dT%H:%M:%S+00:00}/PT1H",
             "value": air(hour) + self.bias.get("nws", 0.0)}
            for hour in hours
        ]  # fmt: skip
        found = {
            "geometry": {"coordinates": [[[-73.8, 40.6], [-73.7, 40.7]]]},
            "properties": {
                "updateTime": f"{hour_moment(self._run()):%Y-%m-%dT%H:%M:%S+00:00}",
                "temperature": {"uom": "wmoUnit:degC", "values": layer},
            },
        }
        return Told(200, json.dumps(found).encode(), headers)

    def _sky(self, word: str, query: dict[str, str], asked: Asked) -> Told:
        if "/alerts" in asked.path:
            return Told(200, b'{"alerts": []}')
        first, last = (
            hour_number(datetime.fromisoformat(query[name].replace("Z", "+00:00")))
            for name in ("date", "last_date")
        )
        rows = [
            {"timestamp": f"{hour_moment(hour):%Y-%m-%dT%H:%M:%S+00:00}", "source_id": 1,
             "temperature": air(hour), "dew_point": air(hour) - 3, "wind_speed": 7.2,
             "precipitation": 0.0, "cloud_cover": 50, "solar": 0.1}
            for hour in range(first, last + 1)
        ]  # fmt: skip
        place = {"id": 1, "lat": float(query["lat"]), "lon": float(query["lon"]), "height": 50}
        found = {"weather": rows, "sources": [place | {"observation_type": "historical"}]}
        return Told(200, json.dumps(found).encode())


KINDS = ("forecast", "history", "archive", "ensemble", "elevation", "geocoding")


@contextmanager
def invented_services(
    clock: SetClock, words: Sequence[str] = ("om", "met")
) -> Iterator[tuple[Services, tuple[Provider, ...], OpenMeteo]]:
    """Serve the services; gives the switches, the providers in order, and an archive."""
    services = Services(clock)
    with loopback(services.answer) as address:
        archive = OpenMeteo(Addresses({kind: f"{address}/{kind}" for kind in KINDS}))
        makers: dict[str, Provider] = {
            "om": archive,
            "met": MetNorway(f"{address}/met"),
            "nws": Nws(f"{address}/nws"),
            "sky": BrightSky(f"{address}/sky"),
        }
        yield services, tuple(makers[word] for word in words), archive
