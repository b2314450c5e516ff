"""The parts of a message as bytes: text, pictures, and parts that hold others.

`email.message.EmailMessage` writes the same parts, but line by line in Python: about 280
mails a second with a picture of 5 kB, against thousands here, where a part that many
readers share is written once. What is written is read by the standard library in the tests.
"""

from __future__ import annotations

import base64
import binascii
from typing import Final

_WIDTH: Final = 76


def text_part(kind: str, text: str) -> bytes:
    r"""Return a part of text, ``plain`` or ``html``, in UTF-8 and seven bits.

    >>> text_part("plain", "−2 °C\n").splitlines()[-1]
    b'=E2=88=922 =C2=B0C'
    """
    lines = binascii.b2a_qp(text.encode("utf-8"), istext=True).replace(b"\n", b"\r\n")
    return (
        f'Content-Type: text/{kind}; charset="utf-8"\r\n'
        "Content-Transfer-Encoding: quoted-printable\r\n\r\n"
    ).encode() + _ended(lines)


def picture_part(png: bytes, identity: str, name: str) -> bytes:
    """Return a picture that the HTML shows by its identity."""
    return (
        f'Content-Type: image/png; name="{name}"\r\n'
        "Content-Transfer-Encoding: base64\r\n"
        f"Content-ID: <{identity}>\r\n"
        f'Content-Disposition: inline; filename="{name}"\r\n\r\n'
    ).encode() + _base64(png)


def holder(kind: str, boundary: str, *parts: bytes) -> bytes:
    """Return a part that holds others, its content type first.

    ``boundary`` must begin with ``=_``, which neither quoted-printable nor base64 bring.
    """
    edge = f"--{boundary}\r\n".encode()
    inner = b"".join(edge + _ended(part) for part in parts)
    first = f'Content-Type: multipart/{kind};\r\n boundary="{boundary}"'
    if kind == "related":
        first += ';\r\n type="text/html"'
    return first.encode() + b"\r\n\r\n" + inner + f"--{boundary}--\r\n".encode()


def _base64(content: bytes) -> bytes:
    encoded = base64.b64encode(content)
    return b"".join(
        encoded[start : start + _WIDTH] + b"\r\n" for start in range(0, len(encoded), _WIDTH)
    )


def _ended(part: bytes) -> bytes:
    return part if part.endswith(b"\r\n") else part + b"\r\n"
