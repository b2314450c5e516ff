"""Which cautions belong to a deed: lifting by estimated mass, poisonous trees."""

from __future__ import annotations

from mebuki.domain.advice import Case, Reason
from mebuki.domain.wording import number_text

HARMLESS = ("none", "unknown", "not toxic")
"""How a taxon file begins where no harm to people is known."""


def estimated_mass(case: Case) -> float | None:
    """Return the mass of the wet root ball [kg]; none if its substrate is not known.

    The pot itself is not counted, so the true mass is higher.
    """
    substrate = case.rulebook.substrates.get(case.tree.substrate)
    if substrate is None:
        return None
    return case.tree.pot.volume * substrate.wet_density.value


def lifting(case: Case) -> tuple[str, ...]:
    """Return the caution on lifting where the wet root ball is heavy."""
    mass = estimated_mass(case)
    warn = case.rulebook.practice.value("lift.warn_mass")
    return ("lifting",) if mass is not None and mass > warn else ()


def lifting_reasons(case: Case) -> tuple[Reason, ...]:
    """Return the estimated mass as a reason where the caution on lifting applies."""
    mass = estimated_mass(case)
    if mass is None or not lifting(case):
        return ()
    practice = case.rulebook.practice
    warn, two = practice.figure("lift.warn_mass"), practice.figure("lift.two_people_mass")
    told = f"about {number_text(round(mass))} kg"
    if mass > two.value:
        help_ = f"{told}: two people or a trolley from {number_text(two.value)} kg"
        return (Reason("wet root ball", help_, two.source),)
    return (
        Reason("wet root ball", f"{told}, heavy from {number_text(warn.value)} kg", warn.source),
    )


def toxicity(case: Case) -> tuple[str, ...]:
    """Return the caution on poisonous or irritant trees where the taxon file names a harm."""
    phrase = case.taxon.upkeep.toxicity
    if phrase is None or phrase.value.lower().startswith(HARMLESS):
        return ()
    return ("toxic-taxon",)
