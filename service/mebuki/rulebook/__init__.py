"""Rule files and garden files: found, laid over one another, checked, and read into the domain."""

from __future__ import annotations

from mebuki.rulebook.check import check_files
from mebuki.rulebook.folders import shipped_config
from mebuki.rulebook.garden import read_garden
from mebuki.rulebook.rules import read_rulebook
from mebuki.rulebook.taxa import read_taxa, read_taxa_with_faults, read_taxon

__all__ = [
    "check_files",
    "read_garden",
    "read_rulebook",
    "read_taxa",
    "read_taxa_with_faults",
    "read_taxon",
    "shipped_config",
]
