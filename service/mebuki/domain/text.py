"""Text from people, made fit to be written into any file format."""

from __future__ import annotations

import re

_BREAKS = re.compile("\r\n|[\r\x85\u2028\u2029]")
_REFUSED = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ufeff\ufffe\uffff]")
_SURROGATES = re.compile("[\ud800-\udfff]")


def plain(text: str) -> str:
    r"""Return a text with ``\n`` as its only line break and without control characters.

    Tabs become spaces; halves of surrogate pairs, which no encoding can hold,
    become U+FFFD.

    >>> plain("one\r\ntwo\x00\tthree")
    'one\ntwo three'
    """
    broken = _BREAKS.sub("\n", text).replace("\t", " ")
    return _SURROGATES.sub("\ufffd", _REFUSED.sub("", broken))


def one_line(text: str) -> str:
    r"""Return a text on one line, runs of white space as one space.

    >>> one_line("Frost:\r\n bring in ")
    'Frost: bring in'
    """
    return " ".join(plain(text).split())
