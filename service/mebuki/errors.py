"""The error tree. What a caller must decide is carried by the error.

::

    MebukiError                 anything we raise on purpose
    ├── InputError              what a person gave us is wrong: exit code 2
    │   ├── FilesError          garden, rule or settings files; carries every fault
    │   ├── TableError          a CSV table for ``compute`` or a weather file
    │   └── RangeError          an argument outside its range of validity
    └── FaultError              the world failed us: exit code 1
        ├── DeliveryError       a message was not taken over; says whether to try again
        └── WeatherError        no usable weather for what was asked
            └── ProviderError   one provider gave no usable answer (weather/answers.py)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class MebukiError(Exception):
    """Anything Mebuki raises on purpose."""


class InputError(MebukiError):
    """What a person gave us is wrong; trying again without a change does not help."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in one file.

    Parameters
    ----------
    file
        The file, as the person named it.
    where
        The key (``trees.3.pot.length_cm``) or the line (``line 12``).
    value
        The value found there, as text; empty where something is missing.
    allowed
        What would be right, in words.
    """

    file: str
    where: str
    value: str
    allowed: str

    def __str__(self) -> str:
        found = f"found {self.value}; " if self.value else ""
        place = f", {self.where}" if self.where else ""
        return f"{self.file}{place}: {found}{self.allowed}"


class FilesError(InputError):
    """One or more files are wrong; every fault is listed at once."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class TableError(InputError):
    """A table cannot be used; the message names the file, the row and the rule."""


class RangeError(InputError, ValueError):
    """An argument lies outside the range for which a formula is valid."""


class FaultError(MebukiError):
    """Something outside failed; trying again later may help."""


class WeatherError(FaultError):
    """There is no usable weather for what was asked."""


class DeliveryError(FaultError):
    """A message was not taken over by the mail server.

    Parameters
    ----------
    permanent
        Whether trying the same message again cannot help.
    server
        Whether it is the server that cannot be reached, so that other messages
        would fare no better now.
    broken
        Whether the line broke over this message: be it for the message or for
        the server, and perhaps after the server had taken it.
    bounce
        What the server answered where it refused the recipient's address for good.
    """

    def __init__(
        self,
        reason: str,
        *,
        permanent: bool = False,
        server: bool = False,
        broken: bool = False,
        bounce: str = "",
    ) -> None:
        self.permanent = permanent
        self.server = server
        self.broken = broken
        self.bounce = bounce
        super().__init__(reason)
