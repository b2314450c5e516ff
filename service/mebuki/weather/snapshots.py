"""Stored answers: the last good bytes of each question, with what validates them.

A snapshot is what a forecast rests on, what a conditional request refers to,
and what is served with its age when a provider is down. Only bytes that a
parser accepted are put here.
"""

from __future__ import annotations

import hashlib
import json
import threading
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Protocol

from mebuki.errors import FaultError
from mebuki.files import write_whole


@dataclass(frozen=True, slots=True)
class Snapshot:
    """One stored answer.

    Parameters
    ----------
    key
        The question's address without secrets.
    content
        The decoded body.
    fetched
        When the body came.
    checked
        When the provider last said that it still holds.
    expires
        Until when the provider need not be asked again.
    etag, last_modified
        Validators exactly as they came, or nothing.
    validated
        Whether a parser accepted the body; others are never stored.
    """

    key: str
    content: bytes
    fetched: datetime
    checked: datetime
    expires: datetime
    etag: str = ""
    last_modified: str = ""
    validated: bool = False


class SnapshotStore(Protocol):
    """Where snapshots are kept, the newest good one for each key."""

    def load(self, key: str) -> Snapshot | None:
        """Return the snapshot of a key, or none; a damaged one counts as none."""
        ...

    def save(self, snapshot: Snapshot) -> None:
        """Keep a snapshot in place of the last one.

        Raises
        ------
        ValueError
            If it was not validated.
        mebuki.errors.FaultError
            If it could not be kept.
        """
        ...


class MemorySnapshots:
    """Snapshots that live as long as the process."""

    def __init__(self) -> None:
        self._kept: dict[str, Snapshot] = {}

    def load(self, key: str) -> Snapshot | None:
        """Return the snapshot of a key, or none."""
        return self._kept.get(key)

    def save(self, snapshot: Snapshot) -> None:
        """Keep a validated snapshot."""
        _refuse_unvalidated(snapshot)
        self._kept[snapshot.key] = snapshot


class FileSnapshots:
    """Snapshots as files of a folder, one a key, each replaced in one step.

    The first line is a JSON header with the length and a checksum of the body
    that follows it, so that a damaged file is known and left aside.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._one_writer = threading.Lock()

    def load(self, key: str) -> Snapshot | None:
        """Return the snapshot of a key, or none; a damaged file counts as none."""
        try:
            header, _, content = self._path(key).read_bytes().partition(b"\n")
            found = json.loads(header)
            if found["sha256"] != hashlib.sha256(content).hexdigest() or found["key"] != key:
                return None
            return Snapshot(
                key=key,
                content=content,
                fetched=datetime.fromisoformat(found["fetched"]),
                checked=datetime.fromisoformat(found["checked"]),
                expires=datetime.fromisoformat(found["expires"]),
                etag=str(found["etag"]),
                last_modified=str(found["last_modified"]),
                validated=found["validated"] is True,
            )
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return None

    def save(self, snapshot: Snapshot) -> None:
        """Keep a validated snapshot, whole or not at all."""
        _refuse_unvalidated(snapshot)
        header = asdict(replace(snapshot, content=b""))
        del header["content"]
        for name in ("fetched", "checked", "expires"):
            header[name] = getattr(snapshot, name).isoformat()
        header["sha256"] = hashlib.sha256(snapshot.content).hexdigest()
        with self._one_writer:
            write_whole(
                self._path(snapshot.key), json.dumps(header).encode() + b"\n" + snapshot.content
            )

    def _path(self, key: str) -> Path:
        return self._folder / f"{hashlib.sha256(key.encode()).hexdigest()[:40]}.snapshot"


def keep(store: SnapshotStore, snapshot: Snapshot) -> str:
    """Store a snapshot; return what went wrong instead of failing."""
    try:
        store.save(snapshot)
    except FaultError as error:
        return f"What was fetched could not be kept: {error}"
    return ""


def _refuse_unvalidated(snapshot: Snapshot) -> None:
    if not snapshot.validated:
        msg = f"{snapshot.key}: only an answer that a parser accepted is stored"
        raise ValueError(msg)
