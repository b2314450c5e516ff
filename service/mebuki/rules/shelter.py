"""Which closed places of a garden suit a tree, and which of them keep frost out now.

A heated windowsill is no winter quarters for a maple: a tree that needs cold would
wake there. A tree that wants warmth is safe only where that warmth is held.
"""

from __future__ import annotations

from collections.abc import Iterable

from mebuki.domain.advice import Case, Reason
from mebuki.domain.exposure import Refuge
from mebuki.domain.practice import Practice
from mebuki.domain.taxon import Taxon
from mebuki.domain.wording import listing, percent_text, temperature_text


def needs_cold(taxon: Taxon, practice: Practice) -> bool:
    """Return whether a tree needs a cold winter: neither tropical nor kept warm by its file."""
    keep_above, warm = taxon.hardiness.keep_above, practice.value("winter.warm_taxon")
    return taxon.group != "tropical" and (keep_above is None or keep_above.value < warm)


def suiting(taxon: Taxon, refuges: Iterable[Refuge], practice: Practice) -> tuple[Refuge, ...]:
    """Return the closed places that suit a taxon in winter, the mildest first.

    For a tree that needs cold these are the places that are not held warm; for any
    other the places held at what it wants, or at least free of frost.
    """
    cold = needs_cold(taxon, practice)
    warm = practice.value("winter.warm_place")
    keep_above = taxon.hardiness.keep_above
    wanted = keep_above.value if keep_above is not None else 0.0
    found = [
        each
        for each in refuges
        if (each.held is None or each.held < warm if cold else (each.held or 0.0) >= wanted)
    ]
    return tuple(sorted(found, key=lambda each: (each.frost_chance, each.place)))


def frost_free(refuges: Iterable[Refuge], chance: float) -> tuple[Refuge, ...]:
    """Return the places where a night below 0 °C is no likelier than a chance [0..1]."""
    return tuple(each for each in refuges if each.frost_chance <= chance)


def named(case: Case, chance: float) -> str:
    """Return the names of the places that keep frost out in the coming nights; may be empty."""
    return listing([each.place for each in frost_free(case.shelters, chance)])


def place_words(case: Case, chance: float, otherwise: str) -> str:
    """Return a place to bring a tree to: by name where one keeps frost out, else in general."""
    fit = frost_free(case.shelters, chance)
    names = listing([each.place for each in fit if each.place != case.place.name], "or")
    return f"{otherwise} ({names})" if names else otherwise


def shelter_reasons(case: Case) -> tuple[Reason, ...]:
    """Return what each suiting place keeps out in the coming nights, as reasons."""
    return tuple(
        Reason(
            f"shelter: {each.place}",
            f"air down to {temperature_text(each.lowest)} in the coming nights, "
            f"frost {percent_text(each.frost_chance)}",
            "forecast at that place",
        )
        for each in case.shelters
        if each.lowest is not None
    )
