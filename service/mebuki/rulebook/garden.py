"""A garden file into a garden: every fault in it at once, with key and line."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any, get_args

from mebuki.domain.garden import Garden, slug
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import RecordKind
from mebuki.errors import FilesError
from mebuki.rulebook.documents import Document, read_document
from mebuki.rulebook.lines import Key
from mebuki.rulebook.taxa import near_taxa
from mebuki.rulebook.validation import Faults, add_fault, validated
from mebuki.rulebook.wording import did_you_mean


@dataclass(frozen=True, slots=True)
class Known:
    """What a garden file may refer to.

    Parameters
    ----------
    taxa
        Taxa by id.
    substrates
        Ids of substrates; not checked if none are given.
    today
        No record may lie after it; not checked if none is given.
    disabled
        Taxa whose own file is broken: their trees are left out of the garden,
        and the fault is that of the taxon's file.
    """

    taxa: Mapping[str, Taxon]
    substrates: Collection[str] | None = None
    today: date | None = None
    disabled: Collection[str] = ()


def read_garden(
    path: Path,
    taxa: Mapping[str, Taxon],
    *,
    substrates: Collection[str] | None = None,
    today: date | None = None,
    disabled: Collection[str] = (),
    lenient: bool = False,
) -> Garden:
    """Return the garden of a file.

    Parameters
    ----------
    path, taxa
        The file, and the taxa its trees may name.
    substrates, today, disabled
        See `Known`.
    lenient
        Keep a record of an unknown kind as a note marked with that kind instead of
        refusing the file: it is shown to the keeper to mend, and not used.

    Raises
    ------
    FilesError
        With every fault in the file.
    """
    document = read_document(path)
    if lenient:
        document = replace(document, data=_kinds_kept(document.data))
    garden, faults = judge(document, Known(taxa, substrates, today, disabled))
    if faults:
        raise FilesError(document.in_order(faults))
    if garden is None:
        msg = f"{path}: the garden cannot be used, and no fault was told"
        raise AssertionError(msg)
    kept = tuple(tree for tree in garden.trees if tree.taxon not in disabled)
    return garden.model_copy(update={"trees": kept})


def _kinds_kept(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return a garden's data with records of unknown kinds turned into notes marked with them."""
    trees = data.get("trees")
    if not isinstance(trees, list):
        return dict(data)
    return {**data, "trees": [_tree_kept(tree) for tree in trees]}


def _tree_kept(tree: Any) -> Any:
    records = tree.get("records") if isinstance(tree, Mapping) else None
    if not isinstance(records, list):
        return tree
    return {**tree, "records": [_record_kept(record) for record in records]}


def _record_kept(record: Any) -> Any:
    kind = record.get("kind") if isinstance(record, Mapping) else None
    if not isinstance(kind, str) or kind in get_args(RecordKind):
        return record
    return {**record, "kind": "note", "unknown_kind": kind}


def judge(document: Document, known: Known) -> tuple[Garden | None, Faults]:
    """Return the garden in a document, if it is one, and every fault in it by its key."""
    garden, faults = validated(document, Garden, document.data)
    faults.pop((), None)
    for fault in _found(document.data, known):
        add_fault(faults, document, *fault)
    return garden, faults


Found = tuple[Key, object, str]
"""A key, the value there, and what is allowed."""


def _found(data: Mapping[str, Any], known: Known) -> Iterator[Found]:
    """Yield what the shape of single values cannot tell: references, names, days."""
    places = [
        place["id"] for _, place in _tables(data, "places") if isinstance(place.get("id"), str)
    ]
    yield from _doubles(data, "places", "id")
    yield from _doubles(data, "trees", "name")
    yield from _same_ids(data)
    for index, tree in _tables(data, "trees"):
        key = ("trees", index)
        yield from _taxon(key, tree, known)
        yield from _reference((*key, "place"), tree.get("place"), "place", places)
        if known.substrates is not None:
            wanted = tree.get("substrate")
            yield from _reference((*key, "substrate"), wanted, "substrate", known.substrates)
        yield from _records(key, tree, places, known.today)


def _tables(data: Mapping[str, Any], name: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
    items = data.get(name, [])
    for index, item in enumerate(items if isinstance(items, list) else []):
        if isinstance(item, Mapping):
            yield index, item


def _doubles(data: Mapping[str, Any], kind: str, field: str) -> Iterator[Found]:
    seen: dict[str, int] = {}
    for index, item in _tables(data, kind):
        value = item.get(field)
        if not isinstance(value, str):
            continue
        if value in seen:
            allowed = f"used twice: {kind}[{seen[value]}] has it too; each {field} must be unique"
            yield (kind, index, field), value, allowed
        seen.setdefault(value, index)


def _same_ids(data: Mapping[str, Any]) -> Iterator[Found]:
    seen: dict[str, tuple[int, object]] = {}
    for index, tree in _tables(data, "trees"):
        name = tree.get("name")
        given = tree.get("id") or (slug(name) if isinstance(name, str) else None)
        if not isinstance(given, str):
            continue
        first, other = seen.setdefault(given, (index, name))
        if first != index and other != name:
            field = "id" if tree.get("id") else "name"
            allowed = f'gives the id "{given}", as trees[{first}] does; give one tree another id'
            yield ("trees", index, field), tree.get(field), allowed


def _taxon(key: Key, tree: Mapping[str, Any], known: Known) -> Iterator[Found]:
    wanted = tree.get("taxon")
    if not isinstance(wanted, str) or wanted in known.taxa or wanted in known.disabled:
        return
    near = near_taxa(wanted, known.taxa)
    hint = near or "; a taxon is named by its file in taxa, such as acer-palmatum"
    yield (*key, "taxon"), wanted, f"unknown taxon{hint}"


def _reference(key: Key, wanted: object, what: str, known: Collection[str]) -> Iterator[Found]:
    if not isinstance(wanted, str) or wanted in known:
        return
    near = did_you_mean(wanted, known)
    listed = "" if near else f"; known: {', '.join(sorted(known)) or 'none'}"
    yield key, wanted, f"unknown {what}{near}{listed}"


def _records(
    key: Key, tree: Mapping[str, Any], places: Collection[str], today: date | None
) -> Iterator[Found]:
    born = tree.get("born")
    for index, record in _tables(tree, "records"):
        here = (*key, "records", index)
        yield from _reference((*here, "place"), record.get("place"), "place", places)
        on = record.get("on")
        if isinstance(on, datetime) or not isinstance(on, date):
            continue
        if today is not None and on > today:
            yield (*here, "on"), on, f"lies in the future; a record is of today or before ({today})"
        if isinstance(born, int) and on.year < born:
            yield (*here, "on"), on, f"lies before the tree was born ({born})"
