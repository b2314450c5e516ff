"""The folder of messages: one file each, never rewritten."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from mebuki.mail.eml_folder import EmlOutbox
from mebuki.rounds.ports import Letter

LETTER = Letter("home:frost:2013-03-27:act:0", "keeper@example.org", "<a@b>", "Frost", b"one")


def test_each_key_and_recipient_has_a_file_with_a_readable_name(tmp_path: Path) -> None:
    """Two recipients, two files; the name tells what it is about."""
    outbox = EmlOutbox(tmp_path / "out")
    outbox.put([LETTER, replace(LETTER, recipient="other@example.org")])
    names = sorted(path.name for path in (tmp_path / "out").iterdir())
    assert len(names) == 2
    assert all(name.startswith("home-frost-2013-03-27-act-0.") for name in names)
    assert outbox.path(LETTER).read_bytes() == b"one"


def test_a_message_that_is_kept_is_left_as_it_is(tmp_path: Path) -> None:
    """Putting the same key and recipient again changes nothing."""
    outbox = EmlOutbox(tmp_path)
    outbox.put([LETTER])
    before = outbox.path(LETTER).stat()
    outbox.put([replace(LETTER, content=b"two")])
    assert outbox.path(LETTER).read_bytes() == b"one"
    assert outbox.path(LETTER).stat().st_mtime_ns == before.st_mtime_ns


def test_clearing_removes_own_files_only(tmp_path: Path) -> None:
    """What a person put beside them stays."""
    outbox = EmlOutbox(tmp_path)
    outbox.put([LETTER])
    (tmp_path / "mine.eml").write_bytes(b"kept")
    (tmp_path / "mebuki.ics").write_bytes(b"kept")
    outbox.clear()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["mebuki.ics", "mine.eml"]


def test_clearing_a_folder_that_is_not_there_does_nothing(tmp_path: Path) -> None:
    """The first demo has nothing to clear."""
    EmlOutbox(tmp_path / "none").clear()
    assert not (tmp_path / "none").exists()


def test_a_key_cannot_leave_the_folder(tmp_path: Path) -> None:
    """Slashes and dots in a key become hyphens."""
    path = EmlOutbox(tmp_path).path(replace(LETTER, key="../../etc/passwd"))
    assert path.parent == tmp_path
