"""Practice, substrates, wire, cautions and pests: a person's own file laid over the shipped one."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from mebuki.domain.figure import Figure
from mebuki.domain.pest import PestCue
from mebuki.domain.practice import (
    CautionText,
    Material,
    Practice,
    Rulebook,
    Substrate,
    WireSize,
)
from mebuki.errors import Fault, FilesError
from mebuki.rulebook.documents import Document, key_text, read_document
from mebuki.rulebook.folders import layers
from mebuki.rulebook.possible import impossible
from mebuki.rulebook.validation import Faults, M, add_fault, validated
from mebuki.rulebook.wording import did_you_mean

PRACTICE, SUBSTRATES = "practice.toml", "substrates.toml"
CAUTIONS, WIRE, PESTS = "cautions.toml", "wire.toml", "pests.toml"
RULE_FILES = (PRACTICE, SUBSTRATES, CAUTIONS, WIRE, PESTS)
OWN = "your practice file"
"""How the source of a figure begins that a person's own file has changed."""

_NEEDS_TABLE = "must be a table of keys and values"


def read_rulebook(config_dir: Path | None = None) -> Rulebook:
    """Return the trade's rules and tables.

    A person's own file need hold only what differs: its figures, substrates and
    cautions take the place of the shipped ones of the same key.

    Parameters
    ----------
    config_dir
        A folder of one's own rule files.

    Raises
    ------
    FilesError
        With every fault in these files.
    """
    book, faults = read_rulebook_with_faults(config_dir)
    if faults:
        raise FilesError(faults)
    return book


def read_rulebook_with_faults(config_dir: Path | None = None) -> tuple[Rulebook, list[Fault]]:
    """Return what can be read of the rules and tables, and every fault in them.

    Raises
    ------
    FilesError
        If the folder is not there.
    """
    faults: list[Fault] = []
    book = Rulebook(practice=Practice(figures={}), substrates={}, cautions={})
    for name in RULE_FILES:
        for path in layers(name, config_dir):
            try:
                book = read_rule_file(path, book)
            except FilesError as error:
                faults += error.faults
    return book, faults


def read_rule_file(path: Path, under: Rulebook) -> Rulebook:
    """Return a rulebook with one more file laid over it, by the file's name.

    Raises
    ------
    FilesError
        With every fault in the file.
    """
    document = read_document(path)
    readers = {
        PRACTICE: _practice, SUBSTRATES: _substrates, CAUTIONS: _cautions, WIRE: _wire,
        PESTS: _pests,
    }  # fmt: skip
    changes, faults = readers[path.name](document, under)
    if faults:
        raise FilesError(document.in_order(faults))
    return under.model_copy(update=changes)


def _practice(document: Document, under: Rulebook) -> tuple[dict[str, object], Faults]:
    known = under.practice.figures
    found: dict[str, Figure] = {}
    faults: Faults = {}
    for section, body in document.data.items():
        if not isinstance(body, Mapping):
            add_fault(faults, document, (section,), body, _NEEDS_TABLE)
            continue
        for key, raw in body.items():
            name = f"{section}.{key}"
            if known and name not in known:
                allowed = f"unknown figure{did_you_mean(name, known) or _known(section, known)}"
                add_fault(faults, document, (section, key), raw, allowed)
                continue
            figure = _one(document, Figure, raw, (section, key), faults)
            wrong = None if figure is None else impossible(name, figure.value)
            if wrong is not None:
                add_fault(faults, document, (section, key, "value"), raw["value"], wrong)
            elif figure is not None:
                found[name] = figure.over(known[name], OWN) if name in known else figure
    return {"practice": Practice(figures={**known, **found})}, faults


def _known(section: str, figures: Mapping[str, Figure]) -> str:
    """Return which figures, or else which sections, there are."""
    keys = [key.partition(".") for key in figures]
    within = sorted(key for each, _, key in keys if each == section)
    if within:
        return f"; known in [{section}]: {', '.join(within)}"
    return f"; known sections: {', '.join(sorted({each for each, _, _ in keys}))}"


def _substrates(document: Document, under: Rulebook) -> tuple[dict[str, object], Faults]:
    faults: Faults = {}
    for key, body in document.data.items():
        if key not in ("materials", "mixes"):
            near = did_you_mean(key, ["materials", "mixes"])
            add_fault(
                faults, document, (key,), body, f"unknown key{near or ': materials or mixes'}"
            )
    materials = {**under.materials, **_by_id(document, Material, "materials", faults)}
    mixes = _by_id(document, Substrate, "mixes", faults)
    for mix in mixes.values():
        for part in mix.parts:
            if part not in materials:
                allowed = f"unknown material{did_you_mean(part, materials)}"
                add_fault(faults, document, ("mixes", mix.id, "parts", part), None, allowed)
    return {"materials": materials, "substrates": {**under.substrates, **mixes}}, faults


def _cautions(document: Document, under: Rulebook) -> tuple[dict[str, object], Faults]:
    found, faults = _tables(document, CautionText)
    return {"cautions": {**under.cautions, **found}}, faults


def _pests(document: Document, under: Rulebook) -> tuple[dict[str, object], Faults]:
    found, faults = _tables(document, PestCue)
    return {"pests": {**under.pests, **found}}, faults


def _tables(document: Document, model: type[M]) -> tuple[dict[str, M], Faults]:
    """Return the values of a file in which every table is one, by its name."""
    faults: Faults = {}
    found = {
        key: _one(document, model, _named(key, raw), (key,), faults)
        for key, raw in document.data.items()
    }
    return {key: value for key, value in found.items() if value is not None}, faults


def _wire(document: Document, under: Rulebook) -> tuple[dict[str, object], Faults]:
    faults: Faults = {}
    sizes = [
        _one(document, WireSize, raw, ("wire", index), faults)
        for index, raw in enumerate(_list(document, "wire", faults))
    ]
    found = tuple(size for size in sizes if size is not None)
    return {"wire": found or under.wire}, faults


def _list(document: Document, key: str, faults: Faults) -> list[Any]:
    for name, body in document.data.items():
        if name != key:
            add_fault(faults, document, (name,), body, f"unknown key; known here: {key}")
    body = document.data.get(key, [])
    if isinstance(body, list):
        return body
    add_fault(faults, document, (key,), body, "must be a list in [ ]")
    return []


def _by_id(document: Document, model: type[M], section: str, faults: Faults) -> dict[str, M]:
    body = document.data.get(section, {})
    if not isinstance(body, Mapping):
        add_fault(faults, document, (section,), body, _NEEDS_TABLE)
        return {}
    found = {
        key: _one(document, model, _named(key, raw), (section, key), faults)
        for key, raw in body.items()
    }
    return {key: value for key, value in found.items() if value is not None}


def _named(key: str, raw: object) -> object:
    return {**raw, "id": key} if isinstance(raw, Mapping) else raw


def _one(
    document: Document, model: type[M], raw: object, key: tuple[str | int, ...], faults: Faults
) -> M | None:
    if not isinstance(raw, Mapping):
        needed = sorted(name for name, field in model.model_fields.items() if field.is_required())
        allowed = f"{_NEEDS_TABLE}: {', '.join(name for name in needed if name != 'id')}"
        add_fault(faults, document, key, raw, f"{key_text(key[-1:])} {allowed}")
        return None
    value, found = validated(document, model, raw, key)
    for place, told in found.items():
        faults.setdefault(place, []).extend(told)
    return value
