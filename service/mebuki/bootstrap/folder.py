"""A round into a folder: feed, mails and report as files, the state beside them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from mebuki.agenda.entry import Published
from mebuki.clock import SystemClock
from mebuki.domain.garden import Garden
from mebuki.domain.practice import Rulebook
from mebuki.domain.taxon import Taxon
from mebuki.errors import InputError
from mebuki.feeds.calendar import IcsWriter
from mebuki.feeds.shelf import FEED_NAME, FileShelf
from mebuki.files import write_whole
from mebuki.mail.compose import MailWriter
from mebuki.mail.eml_folder import EmlOutbox
from mebuki.pictures.for_mail import MailPictures
from mebuki.report.page import write_report
from mebuki.rounds.look import look
from mebuki.rounds.plan import plan_garden
from mebuki.rounds.planned import Plan
from mebuki.rounds.ports import AgendaStore, Letter, PastForecasts, WeatherSource
from mebuki.rounds.publish import Exits, publish
from mebuki.rulebook import read_garden, read_rulebook, read_taxa_with_faults, shipped_config
from mebuki.settings import Settings
from mebuki.storage.agenda_file import AgendaFile, NoStore
from mebuki.storage.forecast_file import ForecastFile
from mebuki.weather.replay import ReplaySource

DEMO_LOCATION = "New York"
REPORT_NAME = "report.html"


@dataclass(frozen=True, slots=True)
class Inputs:
    """What a round works on."""

    garden: Garden
    taxa: Mapping[str, Taxon]
    rulebook: Rulebook
    weather: WeatherSource


@dataclass(frozen=True, slots=True)
class Done:
    """What a round left behind."""

    plan: Plan
    letters: tuple[Letter, ...]
    report: Path
    feed: Path
    mails: tuple[Path, ...]


def read_inputs(
    settings: Settings,
    garden_file: Path | None = None,
    weather_file: Path | None = None,
    live: bool = False,
) -> Inputs:
    """Read rule files, garden and weather; the example garden and demo year where none is named.

    ``live`` asks the weather services of the settings instead of a file.

    Raises
    ------
    FilesError, InputError
        If a file cannot be used.
    """
    taxa, broken = read_taxa_with_faults(settings.config_dir)
    rulebook = read_rulebook(settings.config_dir)
    garden = garden_file or settings.garden_file or shipped_config() / "garden.example.toml"
    return Inputs(
        garden=read_garden(
            garden, taxa, substrates=rulebook.substrates, disabled=broken, lenient=True
        ),
        taxa=taxa,
        rulebook=rulebook,
        weather=_live(settings) if live else weather_source(weather_file or settings.weather_file),
    )


def _live(settings: Settings) -> WeatherSource:
    from mebuki.weather.live_setup import live_source  # noqa: PLC0415 - no HTTP client for a replay

    return live_source(settings, SystemClock())


def demo_inputs() -> Inputs:
    """Return the shipped rules, the invented example garden and the measured demo year."""
    return read_inputs(Settings.model_construct())


def weather_source(weather_file: Path | None) -> WeatherSource:
    """Return the replay of a measured series: the demo year's unless a file is named."""
    if weather_file is not None:
        return ReplaySource(weather_file)
    demo = shipped_config() / "demo"
    return ReplaySource(
        demo / "nyc_jfk_hourly_2013.csv",
        demo / "noaa_seattle_newyork_daily_2012_2015.csv",
        location=DEMO_LOCATION,
    )


def exits(settings: Settings, out: Path, keep_state: bool) -> Exits:
    """Return the ways out of a round into a folder."""
    store: AgendaStore = AgendaFile(out) if keep_state else NoStore()
    return Exits(
        store=store,
        calendar=IcsWriter(settings.host_name),
        letters=MailWriter(settings.sender, settings.host_name),
        pictures=MailPictures(),
        outbox=EmlOutbox(out),
        shelf=FileShelf(out),
        past=ForecastFile(out) if keep_state else None,
    )


def plan_day(
    inputs: Inputs, on: date, at: datetime, before: Published, past: PastForecasts | None = None
) -> Plan:
    """Look and plan for one nominal moment, without any output."""
    picture = look(inputs.weather, inputs.garden.site, at, past, inputs.garden.id)
    return plan_garden(inputs.garden, inputs.taxa, inputs.rulebook, picture, before, on)


def run_round(
    inputs: Inputs, on: date, at: datetime, ways: Exits, out: Path, anew: bool = False
) -> Done:
    """Run one whole round into a folder: look, plan, publish, report.

    ``anew`` removes the mails of an earlier round there, once the plan stands.

    Raises
    ------
    InputError
        If a later day was published in this folder already.
    """
    before = ways.store.load(inputs.garden.id)
    if before.at is not None and before.at > at:
        msg = (
            f"{out} already holds the round of {before.at:%Y-%m-%d %H:%M} UTC, later than {on}; "
            "rounds go forward only: choose another folder with --out"
        )
        raise InputError(msg)
    plan = plan_day(inputs, on, at, before, ways.past)
    if anew:
        EmlOutbox(out).clear()
    letters = publish(plan, before, ways)
    report = out / REPORT_NAME
    write_whole(report, write_report(plan).encode())
    return Done(
        plan=plan,
        letters=letters,
        report=report,
        feed=out / FEED_NAME,
        mails=tuple(sorted(out.glob("*.eml"))),
    )
