"""What would be right, in plain words, for each thing that validation finds wrong."""

from __future__ import annotations

import typing
from collections.abc import Callable, Iterable, Iterator, Mapping
from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from mebuki.rulebook.lines import Key

_PATTERNS = {
    "^[a-z0-9][a-z0-9-]*$": "lower-case letters, digits and hyphens, such as lower-bench",
    "^([a-z0-9][a-z0-9-]*)?$": "lower-case letters, digits and hyphens, such as old-maple",
    "^[a-z][a-z0-9-]*$": "lower-case letters, digits and hyphens, such as acer-palmatum",
    r"^[^\r\n\x00-\x1f]+$": "one line of text",
    r"^[^@\s<>,;\"\r\n]+@[^@\s<>,;\"\r\n]+$": "a mail address such as name@example.org",
}


def did_you_mean(word: object, known: Iterable[str], cutoff: float = 0.6) -> str:
    """Return a question naming the nearest known words, or nothing.

    >>> did_you_mean("colour", ["color", "wall"])
    '; did you mean color?'
    """
    near = get_close_matches(str(word).lower(), list(known), n=3, cutoff=cutoff)
    return f"; did you mean {' or '.join(near)}?" if near else ""


def allowed_text(error: Mapping[str, Any], key: Key, model: type[BaseModel]) -> str:
    """Return what is allowed where validation found an error.

    Parameters
    ----------
    error
        One of ``ValidationError.errors()``.
    key
        Its place in the file.
    model
        The model of the whole file.
    """
    kind, context = str(error["type"]), error.get("ctx", {})
    if kind == "extra_forbidden":
        known = sorted(keys_at(model, key[:-1]))
        near = did_you_mean(key[-1], known)
        return f"unknown key{near or '; known here: ' + ', '.join(known)}"
    if kind == "literal_error":
        words = str(context["expected"]).replace("'", "").replace(" or ", ", ").split(", ")
        return f"must be one of {', '.join(words)}{did_you_mean(error['input'], words)}"
    if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        return f"must be a number {_range_at(model, key)}"
    maker = _PLAIN.get(kind)
    return maker(context) if maker else _plain_message(str(error["msg"]))


_PLAIN: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "missing": lambda _: "missing; this key is needed",
    "float_type": lambda _: "must be a number without quotes",
    "float_parsing": lambda _: "must be a number",
    "finite_number": lambda _: "must be a finite number",
    "int_type": lambda _: "must be a whole number without quotes",
    "int_from_float": lambda _: "must be a whole number",
    "bool_type": lambda _: "must be true or false, without quotes",
    "string_type": lambda _: "must be text in quotes",
    "string_too_short": lambda _: "must not be empty",
    "string_too_long": lambda context: f"must have at most {context['max_length']} characters",
    "string_pattern_mismatch": lambda context: _pattern_text(str(context["pattern"])),
    "date_type": lambda _: "must be a date such as 2013-03-16",
    "date_parsing": lambda _: "must be a date such as 2013-03-16",
    "date_from_datetime_parsing": lambda _: "must be a date such as 2013-03-16",
    "date_from_datetime_inexact": lambda _: "must be a date without a time",
    "tuple_type": lambda _: "must be a list in [ ]",
    "list_type": lambda _: "must be a list in [ ]",
    "too_short": lambda context: f"needs at least {context['min_length']}",
    "model_type": lambda _: "must be a table of keys and values",
    "dict_type": lambda _: "must be a table of keys and values",
    "value_error": lambda context: str(context["error"]),
}


def _pattern_text(pattern: str) -> str:
    return "must be " + _PATTERNS.get(pattern, f"text that matches {pattern}")


def _plain_message(message: str) -> str:
    plain = message.replace("Input should be", "must be").replace("Value error, ", "")
    return plain[:1].lower() + plain[1:]


def keys_at(model: type[BaseModel], key: Key) -> set[str]:
    """Return the keys that a file of a model may have at a place; empty where unknown."""
    here, _ = _walk(model, key)
    return set(here.model_fields) if here else set()


def _walk(model: type[BaseModel], key: Key) -> tuple[type[BaseModel] | None, FieldInfo | None]:
    """Return the model that stands at a key, if one does, and the field it is the value of."""
    here: type[BaseModel] | None = model
    field: FieldInfo | None = None
    for part in key:
        if isinstance(part, int) or here is None:
            continue
        field = here.model_fields.get(part)
        here = next(_models_in(field.annotation), None) if field else None
    return here, field


def _models_in(annotation: object) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in typing.get_args(annotation):
        yield from _models_in(part)


def _range_at(model: type[BaseModel], key: Key) -> str:
    """Return the whole range of a number: ``above 0 and at most 200``."""
    _, field = _walk(model, key)
    found: dict[str, float] = {}
    for rule in _rules_of(field):
        for name in ("gt", "ge", "lt", "le"):
            limit = getattr(rule, name, None)
            if isinstance(limit, int | float):
                found.setdefault(name, limit)
    words = {"gt": "above", "ge": "from", "lt": "below", "le": "to" if "ge" in found else "at most"}
    told = [f"{words[name]} {found[name]:g}" for name in words if name in found]
    joiner = " " if {"ge", "le"} <= set(found) else " and "
    return joiner.join(told).replace("-", "−")


def _rules_of(field: FieldInfo | None) -> Iterator[object]:
    if field is None:
        return
    yield from field.metadata
    for part in typing.get_args(field.annotation):
        yield from _rules_in(part)


def _rules_in(annotation: object) -> Iterator[object]:
    for rule in getattr(annotation, "__metadata__", ()):
        yield rule
        yield from getattr(rule, "metadata", ())
    for part in typing.get_args(annotation):
        yield from _rules_in(part)
