"""Where a plan's weather comes from, how old it is, and what was not believed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from mebuki.domain.text import one_line, plain
from mebuki.domain.warning import OfficialWarning
from mebuki.domain.weather import Freshness
from mebuki.domain.wording import count_text, day_text
from mebuki.pictures.wording import Table, clock_time, number
from mebuki.rounds.planned import Plan

AGE_WORDS: Final = {
    Freshness.FRESH: "fresh",
    Freshness.STALE: "stale: more than six hours old, so trust the coming night less",
    Freshness.BLIND: "too old: the coming nights cannot be judged; look at the thermometer",
}
QUANTITY_WORDS: Final = {
    "air_temperature": ("air temperature", "°C"),
    "dew_point": ("dew point", "°C"),
    "wind_speed": ("wind", "m/s"),
    "precipitation": ("precipitation", "mm"),
    "snowfall": ("snowfall", "mm"),
    "global_radiation": ("radiation", "W/m²"),
    "cloud_cover": ("cloud", "of 1"),
}


def age(plan: Plan) -> str:
    """Return how old the newest measured value is, in words."""
    picture = plan.picture
    if picture.measured_until is None:
        return (
            "There is no measured weather. The coming nights cannot be judged: "
            "look at the thermometer."
        )
    local = picture.measured_until.astimezone(plan.garden.site.zone)
    return (
        f"Measured until {day_text(local.date())}, {clock_time(local)}: "
        f"{_hours(picture.age_hours)}, {AGE_WORDS[picture.freshness]}."
    )


def _hours(hours: float) -> str:
    if hours < 1:
        return "less than an hour old"
    return f"{count_text(round(hours), 'hour')} old"


def provenance(plan: Plan) -> Table:
    """Return from whom each stretch of weather came."""
    zone = plan.garden.site.zone
    return Table(
        caption="Where the weather comes from",
        columns=("From whom", "What", "From", "Until"),
        rows=tuple(
            (
                one_line(part.provider),
                one_line(part.what),
                *(
                    f"{day_text(moment.astimezone(zone).date())} {moment.astimezone(zone).year}"
                    for moment in (part.first, part.last)
                ),
            )
            for part in plan.picture.provenance
        ),
    )


def rejected(plan: Plan) -> Table:
    """Return the values that were not believed: kept, shown, never used."""
    return Table(
        caption="Values that were not believed and not used",
        columns=("When (UTC)", "What", "Value", "Why"),
        rows=tuple(
            (
                f"{day_text(value.at.date())} {value.at.year}, {clock_time(value.at)}",
                QUANTITY_WORDS.get(value.quantity, (value.quantity, ""))[0],
                f"{number(value.value, 1)} "
                f"{QUANTITY_WORDS.get(value.quantity, ('', ''))[1]}".strip(),
                one_line(value.rule),
            )
            for value in plan.picture.rejected
        ),
    )


def credits_(plan: Plan) -> tuple[str, ...]:
    """Return the thanks that are owed for the weather, each once."""
    return tuple(one_line(credit) for credit in plan.picture.credits_)


@dataclass(frozen=True, slots=True)
class Official:
    """An official warning as the page shows it: the issuer's words, unchanged."""

    headline: str
    issuer: str
    when: str
    link: str
    texts: tuple[str, ...]


def official(plan: Plan) -> list[Official]:
    """Return the official warnings that are in force or to come."""
    return [
        Official(
            headline=one_line(warning.headline or warning.event),
            issuer=one_line(warning.issuer),
            when=_span(plan, warning),
            link=warning.link if warning.link.startswith("https://") else "",
            texts=tuple(
                part
                for text in (warning.description, warning.instruction)
                for part in plain(text).split("\n\n")
                if part.strip()
            ),
        )
        for warning in plan.picture.warnings
        if not warning.over(plan.at)
    ]


def _span(plan: Plan, warning: OfficialWarning) -> str:
    moments = {"issued": warning.sent, "from": warning.onset, "until": warning.ends}
    zone = plan.garden.site.zone
    return ", ".join(
        f"{word} {day_text(moment.astimezone(zone).date())} {clock_time(moment.astimezone(zone))}"
        for word, moment in moments.items()
        if moment is not None
    )
