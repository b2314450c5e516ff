"""Plan: from weather and records to advice, entries and notices; pure but for what it is given."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from mebuki.agenda.build import build
from mebuki.agenda.changes import revise
from mebuki.agenda.conflicts import settle
from mebuki.agenda.done import done_keys, held_keys
from mebuki.agenda.entry import Published
from mebuki.agenda.notices import notices
from mebuki.agenda.situation import Sight, Situation
from mebuki.domain.garden import Garden
from mebuki.domain.practice import Rulebook
from mebuki.domain.taxon import Taxon
from mebuki.domain.weather import WeatherPicture
from mebuki.rounds.cases import Rules, cases, sound_garden
from mebuki.rounds.planned import Plan
from mebuki.rules.evaluate import evaluate_all
from mebuki.season.outlook import Stock, outlooks


def plan_garden(
    garden: Garden,
    taxa: Mapping[str, Taxon],
    rulebook: Rulebook,
    picture: WeatherPicture,
    before: Published,
    on: date,
) -> Plan:
    """Return what is to be shown and told for one garden on one local day.

    The garden is taken as it was known at the end of that day, so a round for
    a past day does not know later records. Records that contradict others are
    shown and not used. The same arguments give the same plan.
    """
    known = garden.known_on(on)
    trusted = sound_garden(known)
    stock = Stock(trusted.trees, known.places, taxa, rulebook.substrates)
    seen = outlooks(stock, picture, on)
    stated = cases(known, Rules(taxa, rulebook), seen, picture, on)
    found = settle(evaluate_all(stated), trusted, rulebook.practice)
    situation = Situation(
        garden=known,
        advice=found,
        outlooks=seen,
        sight=Sight.of(picture),
        rulebook=rulebook,
        on=on,
        at=picture.at,
    )
    fresh = build(situation)
    entries = revise(
        before.entries,
        fresh,
        picture.at,
        noise_days=int(rulebook.practice.value("agenda.noise_days")),
        done=done_keys(before.entries, trusted),
        held=held_keys(before.entries, situation),
    )
    return Plan(
        garden=known,
        on=on,
        at=picture.at,
        picture=picture,
        taxa=taxa,
        outlooks=seen,
        advice=found,
        entries=entries,
        notices=notices(situation, entries, before),
        rulebook=rulebook,
    )
