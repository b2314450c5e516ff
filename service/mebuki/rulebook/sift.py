"""A garden's trees taken one by one: those that are right are kept, each other one is named."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from mebuki.domain.garden import Garden
from mebuki.errors import Fault, FilesError
from mebuki.rulebook.documents import Document
from mebuki.rulebook.garden import Known, judge
from mebuki.rulebook.lines import Key

_IN_RECORD = 4
"""A key into a record is ("trees", number, "records", number, ...)."""


@dataclass(frozen=True, slots=True)
class Sifted:
    """A garden of what was right, and what was refused.

    Parameters
    ----------
    garden
        With the trees and records in which nothing was wrong.
    faults
        Why the others were refused, in the order of the file.
    trees, records
        How many trees and single records were refused.
    """

    garden: Garden
    faults: tuple[Fault, ...]
    trees: int
    records: int

    def and_refused(self, rows: Sequence[Fault]) -> Sifted:
        """Return the same with rows that were refused before, as records of no tree."""
        return replace(self, faults=(*rows, *self.faults), records=self.records + len(rows))


def sift(document: Document, known: Known) -> Sifted:
    """Return the garden of a document without the trees and records that are wrong.

    A record that is wrong is left out of its tree; anything else wrong with a
    tree leaves out the tree.

    Raises
    ------
    FilesError
        With every fault, if something is wrong outside the trees.
    """
    _, faults = judge(document, known)
    elsewhere = {key: told for key, told in faults.items() if not _in_tree(key)}
    if elsewhere:
        raise FilesError(document.in_order(faults))
    records = {(key[1], key[3]) for key in faults if _in_record(key)}
    trees = {key[1] for key in faults if not _in_record(key)}
    rest = replace(document, data=_without(document.data, trees, records))
    garden, left = judge(rest, known)
    if garden is None or left:
        raise FilesError(document.in_order(left))
    single = sum(1 for tree, _ in records if tree not in trees)
    return Sifted(garden, tuple(document.in_order(faults)), len(trees), single)


def _in_tree(key: Key) -> bool:
    return len(key) > 1 and key[0] == "trees" and isinstance(key[1], int)


def _in_record(key: Key) -> bool:
    return len(key) >= _IN_RECORD and key[2] == "records" and isinstance(key[3], int)


def _without(
    data: Mapping[str, Any], trees: set[str | int], records: set[tuple[str | int, str | int]]
) -> Mapping[str, Any]:
    kept = []
    for index, tree in enumerate(data.get("trees", [])):
        if index in trees:
            continue
        told = [
            record
            for number, record in enumerate(tree.get("records", []))
            if (index, number) not in records
        ]
        kept.append({**tree, "records": told})
    return {**data, "trees": kept}
