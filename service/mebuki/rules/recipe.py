"""What a repotting takes: substrate by recipe and litre, mesh, tie wire."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from mebuki.domain.advice import Case, Reason
from mebuki.domain.figure import Figure
from mebuki.domain.practice import Substrate
from mebuki.domain.wording import listing, number_text, percent_text
from mebuki.rules.risk import span_reason

USUAL: Mapping[str, tuple[str, str]] = {
    "needle-evergreen": ("substrate.conifer_part_share", "akadama, pumice and lava, {share} each"),
    "scale-juniper": ("substrate.conifer_part_share", "akadama, pumice and lava, {share} each"),
    "deciduous-conifer": ("substrate.conifer_part_share", "akadama, pumice and lava, {share} each"),
    "deciduous-broadleaf": (
        "substrate.deciduous_akadama_share", "{share} akadama, the rest pumice or lava",
    ),
    "evergreen-broadleaf": (
        "substrate.deciduous_akadama_share", "{share} akadama, the rest pumice or lava",
    ),
}  # fmt: skip
"""The usual granular mix by group of taxa, and the practice figure of its share."""

AZALEA, SUCCULENT = "rhododendron", "portulacaria"


def litres(case: Case) -> Mapping[str, float]:
    """Return the volume of each material that fills the pot of a tree [L]; empty if not known."""
    substrate = _substrate(case)
    if substrate is None:
        return {}
    volume, whole = case.tree.pot.volume, sum(substrate.parts.values())
    return {key: volume * part / whole for key, part in substrate.parts.items()} if whole else {}


def materials(case: Case) -> tuple[Reason, ...]:
    """Return what to have at hand for a repotting, as reasons with their sources."""
    return tuple(_materials(case))


def _materials(case: Case) -> Iterator[Reason]:
    practice = case.rulebook.practice
    substrate = _substrate(case)
    if substrate is not None:
        parts = [f"{_name(case, key)} {_round(each)} L" for key, each in litres(case).items()]
        told = f": {listing(parts)}" if len(parts) > 1 else ""
        volume = _round(case.tree.pot.volume)
        yield Reason(
            "substrate", f"{substrate.name}, {volume} L for the whole pot{told}", "pot and mix"
        )
    usual = _usual(case)
    if usual is not None:
        key, told = usual
        figure = practice.figure(key)
        yield Reason("usual mix", told.format(share=_share(figure)), figure.source)
    yield span_reason("particles of", practice.figure("substrate.particle_mm"), "mm")
    mesh = practice.figure("pot.mesh_mm")
    yield span_reason("mesh over every hole, opening", mesh, "mm")
    ties, wire = practice.figure("repot.tie_points"), practice.figure("repot.tie_wire_mm")
    length = ties.value * (2 * case.tree.pot.height_cm + case.tree.pot.length_cm) / 100
    yield Reason(
        "tie wire",
        f"about {length:.1f} m of {number_text(wire.value)} mm, {number_text(ties.value)} points",
        ties.source,
    )


def _substrate(case: Case) -> Substrate | None:
    return case.rulebook.substrates.get(case.tree.substrate)


def _name(case: Case, key: str) -> str:
    material = case.rulebook.materials.get(key)
    return material.name.split(",")[0] if material else key.replace("-", " ")


def _usual(case: Case) -> tuple[str, str] | None:
    if case.taxon.id.startswith(AZALEA):
        return "substrate.azalea_kanuma_share", "{share} kanuma, acid and free of lime"
    if case.taxon.id.startswith(SUCCULENT):
        return "substrate.succulent_mineral_share", "{share} pumice or grit"
    return USUAL.get(case.taxon.group)


def _share(figure: Figure) -> str:
    if figure.low is None or figure.high is None or figure.low == figure.high:
        return "all" if figure.value == 1 else percent_text(figure.value)
    return f"{100 * figure.low:.0f} to {100 * figure.high:.0f} %"


def _round(volume: float) -> str:
    return f"{volume:.1f}" if volume >= 1 else f"{volume:.2f}"
