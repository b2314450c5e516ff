"""A feed made ready to be sent: both representations, with every header worked out beforehand."""

from __future__ import annotations

import gzip
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import format_datetime
from typing import Final

from mebuki.web.feed_desk import ReadyFeed

RawHeaders = list[tuple[bytes, bytes]]

GZIP_LEVEL: Final = 6

KIND: Final = (b"content-type", b"text/calendar; charset=utf-8")
DISPOSITION: Final = (b"content-disposition", b'inline; filename="mebuki.ics"')
EVERY: Final = (
    (b"cache-control", b"private, max-age=300"),
    (b"vary", b"Accept-Encoding"),
    (b"x-robots-tag", b"noindex, nofollow"),
    (b"x-content-type-options", b"nosniff"),
)
"""Headers of every answer with or about a feed, 304 included."""


@dataclass(frozen=True, slots=True)
class Face:
    """One representation without its bytes: its tag, and the headers of both answers."""

    etag: bytes
    whole: RawHeaders
    known: RawHeaders


class ShownFeed:
    """A feed ready to be sent, plain and packed.

    The packed bytes are always held. The plain ones, ten times as long, can be
    let go and are unpacked again when somebody asks for them.

    Parameters
    ----------
    feed
        As it was read; its bytes are packed here, which takes some milliseconds.
    """

    __slots__ = (
        "_plain_bytes", "changed", "last_modified", "packed", "packed_bytes", "plain", "tag",
    )  # fmt: skip

    def __init__(self, feed: ReadyFeed) -> None:
        self.tag = feed.etag
        self.changed = feed.changed_at.astimezone(UTC).replace(microsecond=0)
        self.last_modified = format_datetime(self.changed, usegmt=True).encode()
        self.packed_bytes = gzip.compress(feed.content, GZIP_LEVEL, mtime=0)
        self._plain_bytes: bytes | None = feed.content
        bare = feed.etag.strip('"')
        self.plain = self._face(f'"{bare}"', len(feed.content))
        self.packed = self._face(f'"{bare}-gzip"', len(self.packed_bytes), packed=True)

    @property
    def size(self) -> int:
        """Bytes held at the moment."""
        return len(self.packed_bytes) + len(self._plain_bytes or b"")

    @property
    def holds_plain(self) -> bool:
        """Whether the plain bytes are at hand."""
        return self._plain_bytes is not None

    def plain_bytes(self) -> bytes:
        """Return the calendar itself, unpacked if it was let go."""
        if self._plain_bytes is None:
            self._plain_bytes = gzip.decompress(self.packed_bytes)
        return self._plain_bytes

    def let_plain_go(self) -> None:
        """Hold the packed bytes only."""
        self._plain_bytes = None

    def same_as(self, feed: ReadyFeed) -> bool:
        """Say whether a feed that was read again is this one."""
        return self.tag == feed.etag and self.changed == _whole_seconds(feed.changed_at)

    def _face(self, etag: str, length: int, *, packed: bool = False) -> Face:
        tag = etag.encode("latin-1", "replace")
        known: RawHeaders = [(b"etag", tag), (b"last-modified", self.last_modified), *EVERY]
        whole = [KIND, (b"content-length", str(length).encode()), DISPOSITION, *known]
        if packed:
            whole.append((b"content-encoding", b"gzip"))
        return Face(tag, whole, known)


def _whole_seconds(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(microsecond=0)
