"""Taxon files into taxa; a broken file disables its taxon and no other."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from mebuki.domain.taxon import Taxon
from mebuki.errors import Fault, FilesError, InputError
from mebuki.rulebook.documents import Document, read_document
from mebuki.rulebook.folders import TAXA, shipped_config, taxon_files
from mebuki.rulebook.relatives import filled
from mebuki.rulebook.validation import Faults, add_fault, validated
from mebuki.rulebook.wording import did_you_mean


def read_taxa(config_dir: Path | None = None) -> Mapping[str, Taxon]:
    """Return every taxon that can be read, by id.

    Parameters
    ----------
    config_dir
        A folder of one's own rule files, laid over the shipped ones by name.

    Raises
    ------
    FilesError
        If that folder is not there. For faults in files see `read_taxa_with_faults`.
    """
    taxa, _ = read_taxa_with_faults(config_dir)
    return taxa


def read_taxa_with_faults(
    config_dir: Path | None = None,
) -> tuple[Mapping[str, Taxon], Mapping[str, tuple[Fault, ...]]]:
    """Return every taxon that can be read, and the faults of those that cannot, by id.

    Raises
    ------
    FilesError
        If the folder is not there.
    """
    taxa: dict[str, Taxon] = {}
    faults: dict[str, tuple[Fault, ...]] = {}
    for name, path in taxon_files(config_dir).items():
        try:
            taxa[name] = read_taxon_file(path, config_dir)
        except FilesError as error:
            faults[name] = error.faults
    return taxa, faults


def read_taxon_file(path: Path, config_dir: Path | None = None) -> Taxon:
    """Return the taxon of one file.

    What a person's own file leaves out is taken from the relative that it names, and
    marked so. A shipped file is taken as it is: what it leaves out is not known.

    Raises
    ------
    FilesError
        With every fault in the file.
    """
    document = _whole(read_document(path), taxon_files(config_dir), ())
    taxon, faults = _checked(document)
    if taxon is None or faults:
        raise FilesError(document.in_order(faults))
    return taxon


def _checked(document: Document) -> tuple[Taxon | None, Faults]:
    """Return a file's taxon and every fault in it, the name of the file among them."""
    taxon, faults = validated(document, Taxon, document.data)
    given, name = document.data.get("id"), document.path.stem
    if isinstance(given, str) and given != name:
        add_fault(faults, document, ("id",), given, f'must be "{name}", as the file is named')
    return taxon, faults


def _whole(document: Document, files: Mapping[str, Path], seen: tuple[str, ...]) -> Document:
    """Return a file with what it leaves out filled from its relative, and so on.

    Raises
    ------
    FilesError
        If the relative is not known, is one of the taxa seen, or cannot be used.
    """
    name = document.data.get("nearest_relative")
    if not isinstance(name, str) or _shipped(document.path):
        return document
    round_ = (*seen, document.path.stem)
    if name in round_:
        told = f"relatives go round in a circle: {' → '.join((*round_, name))}"
        raise FilesError([document.fault(("nearest_relative",), name, told)])
    if name not in files:
        told = f"unknown taxon{did_you_mean(name, [each for each in files if each not in round_])}"
        raise FilesError([document.fault(("nearest_relative",), name, told)])
    relative = _whole(read_document(files[name]), files, round_)
    if faults := relative.in_order(_checked(relative)[1]):
        told = f"the file of this relative has faults: {faults[0]}"
        raise FilesError([document.fault(("nearest_relative",), name, told)])
    return replace(document, data=filled(document.data, relative.data, name))


def _shipped(path: Path) -> bool:
    return path.resolve().parent == (shipped_config() / TAXA).resolve()


def read_taxon(taxon_id: str, config_dir: Path | None = None) -> Taxon:
    """Return one taxon.

    Raises
    ------
    InputError
        If there is no such taxon; near matches are named.
    FilesError
        If its file has faults.
    """
    files = taxon_files(config_dir)
    if taxon_id in files:
        return read_taxon_file(files[taxon_id], config_dir)
    near = near_taxa(taxon_id, read_taxa(config_dir))
    msg = f"unknown taxon {taxon_id!r}{near or '; see config/taxa for the known ones'}"
    raise InputError(msg)


def near_taxa(word: object, taxa: Mapping[str, Taxon]) -> str:
    """Return a question naming the taxa whose id or names come near a word, or nothing."""
    asked = "-".join(str(word).lower().replace("×", " ").replace("_", " ").split())
    names = {taxon.common_name.lower().replace(" ", "-"): id_ for id_, taxon in taxa.items()}
    if asked in names:
        return f"; did you mean {names[asked]}?"
    begun = [id_ for id_ in taxa if asked and id_.startswith(f"{asked}-")]
    if begun:
        return f"; did you mean {' or '.join(begun[:3])}?"
    near = did_you_mean(asked, taxa)
    return near or did_you_mean(asked, names)
