"""Mail addresses, checked and written as the name system needs them."""

from __future__ import annotations

import re
from email.headerregistry import Address
from typing import Final

from mebuki.errors import InputError

_ADDRESS: Final = re.compile(
    r"([^@\s<>,;:\"()\[\]\\\x00-\x1f\x7f]+)@(\w[\w-]*(?<!-)(?:\.\w[\w-]*(?<!-))*)"
)


def mail_address(name: str, address: str) -> Address:
    """Return an address, its domain in ASCII.

    Raises
    ------
    InputError
        If it is no address that mail could be sent to.
    """
    msg = f"{address!r} is not an e-mail address such as name@example.org"
    found = _ADDRESS.fullmatch(address)
    if found is None:
        raise InputError(msg)
    try:
        return Address(name, found[1], found[2].encode("idna").decode("ascii"))
    except (ValueError, IndexError) as error:
        raise InputError(msg) from error
