"""A file's content made into domain values, or every fault in it at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from mebuki.errors import Fault
from mebuki.rulebook.documents import Document
from mebuki.rulebook.lines import Key
from mebuki.rulebook.wording import allowed_text

M = TypeVar("M", bound=BaseModel)

Faults = dict[Key, list[Fault]]
"""Faults by the key at which they were found."""


def add_fault(faults: Faults, document: Document, key: Key, value: object, allowed: str) -> None:
    """Note a fault at a key."""
    faults.setdefault(key, []).append(document.fault(key, value, allowed))


def validated(
    document: Document, model: type[M], data: Mapping[str, Any], under: Key = ()
) -> tuple[M | None, Faults]:
    """Return a part of a file as a domain value, and every fault in it.

    Types are taken strictly: a number in quotes is not a number.

    Parameters
    ----------
    under
        The key in the file under which the part stands.
    """
    try:
        return model.model_validate(_frozen(data), strict=True), {}
    except ValidationError as error:
        faults: Faults = {}
        for found in error.errors():
            key = tuple(found["loc"])
            if _echoed(found, data):
                continue
            allowed = allowed_text(found, key, model)
            value = None if found["type"] == "missing" else _at(data, key)
            add_fault(faults, document, (*under, *key), value, allowed)
        return None, faults


def _frozen(value: object) -> object:
    """Return a value with every list as a tuple, as the domain holds them."""
    if isinstance(value, Mapping):
        return {key: _frozen(part) for key, part in value.items()}
    return tuple(_frozen(part) for part in value) if isinstance(value, list) else value


def _echoed(found: Mapping[str, Any], data: Mapping[str, Any]) -> bool:
    """Whether an error only repeats another: a value derived from one that is wrong."""
    kind, key = found["type"], tuple(found["loc"])
    if kind == "too_short" and isinstance(_at(data, key), list):
        return bool(_at(data, key))
    return kind != "missing" and _at(data, key) is None


def _at(data: object, key: Iterable[str | int]) -> object:
    here: Any = data
    for part in key:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            return None
    return here
