"""The one place that touches the network: a GET with a deadline, a size cap and no surprises.

`asyncio.timeout` bounds the whole exchange, headers included, which httpx's
own timeouts (each for one read) do not. Bodies are unpacked here piece by
piece, so that a small packed answer cannot grow beyond the cap in memory.
"""

from __future__ import annotations

import asyncio
import logging
import ssl
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urljoin, urlsplit

import httpx

from mebuki.weather.answers import ProviderError
from mebuki.weather.asking import Request

TIMEOUT = httpx.Timeout(connect=5, read=30, write=10, pool=30)
"""Seconds for each step; the archive alone needs a long read."""

MOST_REDIRECTS = 3
AUTO_HEADER = 47
"""zlib's word for: gzip or zlib, whichever the body has."""

_PACKED = {"gzip", "x-gzip", "deflate"}
_MOVED = {301, 302, 303, 307, 308}

# httpx logs each address whole, and a key is part of it.
logging.getLogger("httpx").setLevel(logging.WARNING)


@dataclass(frozen=True, slots=True)
class Reply:
    """Status, headers in lower case, and the unpacked body of an answer."""

    status: int
    headers: Mapping[str, str]
    content: bytes


class Transport:
    """Sends requests under one User-Agent.

    Not to be called on a thread that runs an event loop: it runs its own.
    """

    def __init__(self, user_agent: str) -> None:
        self._user_agent = user_agent
        self._trust: ssl.SSLContext | None = None

    def send(self, request: Request, validators: Mapping[str, str]) -> Reply:
        """Return whatever the provider answers.

        Raises
        ------
        ProviderError
            If no whole answer came, it was too long, or it led elsewhere.
        """
        return asyncio.run(self._in_time(request, validators))

    async def _in_time(self, request: Request, validators: Mapping[str, str]) -> Reply:
        try:
            async with asyncio.timeout(request.patience):
                return await self._follow(request, validators)
        except TimeoutError as error:
            msg = f"{request.provider}: no whole answer within {request.patience:g} s"
            raise ProviderError(msg) from error
        except httpx.TransportError as error:
            # The text of the error may hold an address; its kind is enough.
            msg = f"{request.provider}: no connection or it broke off ({type(error).__name__})"
            raise ProviderError(msg, again=True) from error
        except httpx.DecodingError as error:
            msg = f"{request.provider}: the packed answer is damaged"
            raise ProviderError(msg, again=True) from error
        except (httpx.HTTPError, httpx.InvalidURL, UnicodeError) as error:
            msg = f"{request.provider}: the request could not be sent ({type(error).__name__})"
            raise ProviderError(msg, useless=True) from error

    async def _follow(self, request: Request, validators: Mapping[str, str]) -> Reply:
        if self._trust is None:
            self._trust = httpx.create_ssl_context()
        headers = {
            "User-Agent": self._user_agent,
            "Accept": ", ".join(request.accept),
            "Accept-Encoding": "gzip, deflate",
            **validators,
        }
        address = request.address
        async with httpx.AsyncClient(
            verify=self._trust, timeout=TIMEOUT, headers=headers
        ) as client:
            for _ in range(MOST_REDIRECTS + 1):
                async with client.stream("GET", address) as response:
                    if response.status_code not in _MOVED:
                        content = await _body(response, request)
                        return Reply(response.status_code, dict(response.headers), content)
                    address = _next(address, response.headers.get("location", ""), request)
        msg = f"{request.provider}: redirected more than {MOST_REDIRECTS} times"
        raise ProviderError(msg)


def _next(address: str, location: str, request: Request) -> str:
    """Return where a redirect leads, if that is the same server under the same scheme."""
    there = urljoin(address, location)
    before, after = urlsplit(address), urlsplit(there)
    if not location or (before.scheme, before.netloc) != (after.scheme, after.netloc):
        msg = f"{request.provider}: redirected to another server ({after.netloc or 'nowhere'})"
        raise ProviderError(msg)
    return there


async def _body(response: httpx.Response, request: Request) -> bytes:
    """Return the unpacked body, never more than the cap."""
    packing = response.headers.get("content-encoding", "identity").strip().lower()
    if packing not in {"identity", ""} | _PACKED:
        msg = f"{request.provider}: the answer is packed as {packing:.20}, which was not asked for"
        raise ProviderError(msg)
    unpack = zlib.decompressobj(wbits=AUTO_HEADER) if packing in _PACKED else None
    content = bytearray()
    async for chunk in response.aiter_raw():
        left = request.most_bytes - len(content)
        try:
            content += unpack.decompress(chunk, left + 1) if unpack else chunk
        except zlib.error as error:
            msg = f"{request.provider}: the packed answer is damaged"
            raise ProviderError(msg, again=True) from error
        if len(content) > request.most_bytes:
            msg = f"{request.provider}: the answer is longer than {request.most_bytes} bytes"
            raise ProviderError(msg)
    if unpack and not unpack.eof and content:
        msg = f"{request.provider}: the packed answer breaks off"
        raise ProviderError(msg, again=True)
    return bytes(content)
