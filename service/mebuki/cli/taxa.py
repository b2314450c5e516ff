"""``mebuki taxa``: every taxon, or one with all its values and where they come from."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from pathlib import Path

    from mebuki.domain.taxon import Taxon
    from mebuki.errors import Fault

NO_CLOCK = "no word on its quality"


def taxa(
    taxon: Annotated[
        str | None, typer.Argument(metavar="ID", help="A taxon id; all taxa if left out.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """List the taxa, or show one with every value, its source and how sure it is."""
    from mebuki.settings import read_settings

    own = read_settings().config_dir
    told = _all(own, as_json=as_json) if taxon is None else _one(taxon, own, as_json=as_json)
    typer.echo(told)


def _all(own: Path | None, *, as_json: bool) -> str:
    from mebuki.rulebook import read_taxa_with_faults

    found, broken = read_taxa_with_faults(own)
    rows = [_row(taxon) for taxon in found.values()]
    if as_json:
        off = {name: [str(fault) for fault in faults] for name, faults in broken.items()}
        return json.dumps({"taxa": rows, "disabled": off}, indent=2, ensure_ascii=False)
    lines = [*_table(rows), "", f"{len(rows)} taxa; mebuki taxa ID shows one with its sources"]
    return "\n".join([*lines, *_disabled(broken)])


def _row(taxon: Taxon) -> dict[str, str]:
    return {
        "id": taxon.id,
        "name": taxon.common_name,
        "group": taxon.group,
        "repotting": taxon.repotting.cue,
        "bud_break": taxon.phenology.bud_break.quality or NO_CLOCK,
    }


def _table(rows: list[dict[str, str]]) -> Iterator[str]:
    heads = {
        "id": "id",
        "name": "name",
        "group": "group",
        "repotting": "repot",
        "bud_break": "how well its bud break is known",
    }
    widths = {key: max(len(row[key]) for row in (heads, *rows)) for key in heads}
    for row in (heads, *rows):
        yield "  ".join(row[key].ljust(widths[key]) for key in heads).rstrip()


def _disabled(broken: Mapping[str, tuple[Fault, ...]]) -> Iterator[str]:
    for name, faults in broken.items():
        yield f"{name} is not used: {faults[0]}"


def _one(name: str, own: Path | None, *, as_json: bool) -> str:
    from mebuki.rulebook import read_taxon

    data = read_taxon(name, own).model_dump(mode="json")
    if as_json:
        return json.dumps(data, indent=2, ensure_ascii=False)
    return "\n".join(_lines(data))


def _lines(data: Mapping[str, Any]) -> Iterator[str]:
    """Yield the plain facts of a taxon first, then its sections."""
    sections = {key: value for key, value in data.items() if _is_section(value)}
    for key, value in data.items():
        if key not in sections:
            yield from _value(key, value, "")
    for key, section in sections.items():
        yield ""
        yield _words(key)
        yield from _section(section, "  ")


def _section(section: Mapping[str, Any], indent: str) -> Iterator[str]:
    for key, value in section.items():
        if _is_section(value):
            yield f"{indent}{_words(key)}"
            yield from _section(value, indent + "  ")
        else:
            yield from _value(key, value, indent)


def _is_section(value: object) -> bool:
    return isinstance(value, Mapping) and not {"source", "model"} & value.keys()


def _value(key: str, value: Any, indent: str) -> Iterator[str]:
    if isinstance(value, list) and value and isinstance(value[0], Mapping):
        yield f"{indent}{_words(key)}"
        for each in value:
            yield f"{indent}  {each['model']}  [{each['source']}]"
        return
    if not isinstance(value, Mapping):
        if value != "" and (value is not None or key != "nearest_relative"):
            yield f"{indent}{_words(key)}: {_plain(value)}"
        return
    low, high = value.get("low"), value.get("high")
    span = f" ({_plain(low)} to {_plain(high)})" if low is not None and high is not None else ""
    sure = f"; {value['confidence']}" if value.get("confidence") else ""
    note = f"  {value['note']}" if value.get("note") else ""
    yield f"{indent}{_words(key)}: {_plain(value['value'])}{span}  [{value['source']}{sure}]{note}"


def _plain(value: object) -> str:
    """Return a value in a word; what is not known says so."""
    if value is None:
        return "unknown"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(_plain(each) for each in value) or "none"
    return f"{value:g}".replace("-", "−") if isinstance(value, int | float) else str(value)


def _words(key: str) -> str:
    return key.replace("_", " ")
