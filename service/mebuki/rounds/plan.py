"""Plan: from weather and records to advice, entries and notices; pure but for what it is given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from mebuki.agenda.build import build
from mebuki.agenda.changes import revise
from mebuki.agenda.conflicts import settle
from mebuki.agenda.done import done_keys, held_keys, parted_trees
from mebuki.agenda.entry import Published
from mebuki.agenda.notices import notices
from mebuki.agenda.situation import Sight, Situation
from mebuki.domain.garden import Garden
from mebuki.domain.practice import Practice, Rulebook
from mebuki.domain.taxon import Taxon
from mebuki.domain.weather import WeatherPicture
from mebuki.rounds.cases import Rules, cases, sound_garden
from mebuki.rounds.planned import Plan
from mebuki.rules.evaluate import evaluate_all
from mebuki.season.corrected_forecast import corrected
from mebuki.season.outlook import Stock, outlooks
from mebuki.season.parameters import Parameters


def aged(picture: WeatherPicture, practice: Practice) -> WeatherPicture:
    """Return a picture that is stale and blind from the ages [h] of the practice file."""
    return replace(
        picture,
        fresh_hours=practice.value("weather.fresh_hours"),
        blind_hours=practice.value("weather.blind_hours"),
    )


def plan_garden(  # noqa: PLR0913 - what a round of a garden stands on, each by its name
    garden: Garden,
    taxa: Mapping[str, Taxon],
    rulebook: Rulebook,
    picture: WeatherPicture,
    before: Published,
    on: date,
    *,
    digest_hours: frozenset[int] | None = None,
    unsent: Sequence[str] = (),
) -> Plan:
    """Return what is to be shown and told for one garden on one local day.

    The garden is taken as it was known at the end of that day, so a round for
    a past day does not know later records. Records that contradict others are
    shown and not used. The same arguments give the same plan.

    Parameters
    ----------
    digest_hours
        Local hours whose readers get their digest in this round; none for one
        digest for all readers.
    unsent
        A line for each letter that could not be sent, for the digest.
    """
    picture = aged(picture, rulebook.practice)
    known = garden.known_on(on)
    trusted = sound_garden(known)
    parameters = Parameters.of(rulebook.practice)
    stock = Stock(trusted.trees, known.places, taxa, rulebook.substrates, parameters)
    weather = corrected(picture, on)
    seen = outlooks(stock, weather, on)
    stated = cases(known, Rules(taxa, rulebook), seen, weather, on)
    found = settle(evaluate_all(stated), trusted, rulebook.practice)
    situation = Situation(
        garden=known,
        advice=found,
        outlooks=seen,
        sight=Sight.of(picture),
        rulebook=rulebook,
        on=on,
        at=picture.at,
        unsent=tuple(unsent),
    )
    fresh = build(situation)
    entries = revise(
        before.entries,
        fresh,
        picture.at,
        noise_days=int(rulebook.practice.value("agenda.noise_days")),
        done=done_keys(before.entries, trusted),
        held=held_keys(before.entries, situation),
        parted=parted_trees(before.entries, trusted),
    )
    told = notices(situation, entries, before, digest_hours)
    return Plan(
        garden=known,
        on=on,
        at=picture.at,
        picture=picture,
        taxa=taxa,
        outlooks=seen,
        advice=found,
        entries=entries,
        notices=told.notices,
        rulebook=rulebook,
        marks=told.marks,
    )
