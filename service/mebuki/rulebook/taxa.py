"""Taxon files into taxa; a broken file disables its taxon and no other."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from mebuki.domain.taxon import Taxon
from mebuki.errors import Fault, FilesError, InputError
from mebuki.rulebook.documents import read_document
from mebuki.rulebook.folders import taxon_files
from mebuki.rulebook.validation import add_fault, validated
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
            taxa[name] = read_taxon_file(path)
        except FilesError as error:
            faults[name] = error.faults
    return taxa, faults


def read_taxon_file(path: Path) -> Taxon:
    """Return the taxon of one file.

    Raises
    ------
    FilesError
        With every fault in the file.
    """
    document = read_document(path)
    taxon, faults = validated(document, Taxon, document.data)
    given = document.data.get("id")
    if isinstance(given, str) and given != path.stem:
        add_fault(faults, document, ("id",), given, f'must be "{path.stem}", as the file is named')
    if taxon is None or faults:
        raise FilesError(document.in_order(faults))
    return taxon


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
        return read_taxon_file(files[taxon_id])
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
