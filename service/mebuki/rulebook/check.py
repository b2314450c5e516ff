"""All rule files and garden files looked through, every fault at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from difflib import get_close_matches
from pathlib import Path

from mebuki.domain.practice import Rulebook
from mebuki.errors import Fault, FilesError
from mebuki.rulebook.documents import read_document
from mebuki.rulebook.folders import TAXA
from mebuki.rulebook.garden import read_garden
from mebuki.rulebook.rules import RULE_FILES, read_rule_file, read_rulebook_with_faults
from mebuki.rulebook.taxa import read_taxa_with_faults, read_taxon_file

SIMILAR = 0.8


def check_files(
    files: Sequence[Path], config_dir: Path | None = None, today: date | None = None
) -> list[Fault]:
    """Return every fault in the rule files and in some files of a person's own.

    Parameters
    ----------
    files
        Garden files; a rule file is known by its name, a taxon file by its
        folder or by naming a scientific name.
    config_dir
        A folder of one's own rule files, laid over the shipped ones.
    today
        No record may lie after it; not checked if none is given.
    """
    try:
        taxa, broken = read_taxa_with_faults(config_dir)
        book, faults = read_rulebook_with_faults(config_dir)
    except FilesError as error:
        missing = list(error.faults)
        return missing + check_files(files, None, today)
    faults = [*faults, *_misnamed(config_dir)]
    faults += [fault for told in broken.values() for fault in told]
    for path in files:
        try:
            if not _as_rule_file(path, book, config_dir):
                read_garden(
                    path, taxa, substrates=book.substrates, today=today, disabled=broken
                )  # fmt: skip
        except FilesError as error:
            faults += [fault for fault in error.faults if fault not in faults]
    return faults


def _as_rule_file(path: Path, book: Rulebook, config_dir: Path | None) -> bool:
    """Read a file as a rule file if it is one; return whether it is."""
    if path.name in RULE_FILES:
        read_rule_file(path, book)
        return True
    if path.parent.name == TAXA or "scientific_name" in read_document(path).data:
        read_taxon_file(path, config_dir)
        return True
    return False


def _misnamed(config_dir: Path | None) -> Iterator[Fault]:
    """Yield the files of one's own folder whose name comes near that of a rule file."""
    for path in sorted(config_dir.glob("*.toml")) if config_dir is not None else ():
        near = get_close_matches(path.name, RULE_FILES, n=1, cutoff=SIMILAR)
        if near and path.name not in RULE_FILES:
            yield Fault(str(path), "", "", f"not read under this name; did you mean {near[0]}?")
