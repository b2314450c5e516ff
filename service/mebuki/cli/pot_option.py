"""The option ``--pot``: a pot in words, such as ``oval 30x22x7``."""

from __future__ import annotations

import re
from typing import get_args

from pydantic import ValidationError

from mebuki.domain.tree import Pot, PotWall
from mebuki.errors import InputError

_POT = re.compile(
    r"(?P<shape>rectangle|oval|round) +(?P<length_cm>[\d.]+)x"
    r"(?:(?P<width_cm>[\d.]+)x)?(?P<height_cm>[\d.]+)",
    re.IGNORECASE,
)


def pot_of(text: str, wall: str = "unglazed") -> Pot:
    """Return the pot of a text: shape, then length x width x height [cm].

    A round pot has no width.

    Raises
    ------
    InputError
        If the text, a size or the wall is impossible.
    """
    found = _POT.fullmatch(text.strip())
    if found is None:
        msg = f"--pot {text!r}: write it as 'oval 30x22x7' or 'round 16x17' [cm]"
        raise InputError(msg)
    if wall not in get_args(PotWall):
        msg = f"--wall {wall!r}: must be one of {', '.join(get_args(PotWall))}"
        raise InputError(msg)
    sizes = {name: size for name, size in found.groupdict().items() if size is not None}
    try:
        return Pot.model_validate({**sizes, "shape": found["shape"].lower(), "wall": wall})
    except ValidationError as error:
        where = ".".join(map(str, error.errors()[0]["loc"]))
        msg = f"--pot {text!r}: {where} {error.errors()[0]['msg']}"
        raise InputError(msg) from error
