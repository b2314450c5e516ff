"""From an address that somebody put down to the first warning, and to the last."""

from __future__ import annotations

import email
import re
from contextlib import closing
from datetime import timedelta
from email import policy
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from pydantic import SecretStr
from starlette.applications import Starlette
from starlette.testclient import TestClient

from mebuki.bootstrap.link_pages import link_pages
from mebuki.bootstrap.linking import link_parts
from mebuki.bootstrap.server import obstacles
from mebuki.clock import FixedClock
from mebuki.errors import FilesError, InputError
from mebuki.settings import Settings
from mebuki.storage.consents import Consents
from mebuki.storage.database import Database
from mebuki.storage.gardens import GardenStore
from mebuki.storage.migrate import open_database
from mebuki.storage.outbox import DatabaseOutbox
from tests.builders import AT, a_garden, a_subscriber

ADA = a_subscriber(name="Ada", email="ada@example.org")
GARDEN = a_garden(subscribers=(ADA,))
SETTINGS = Settings(base_url="https://trees.example.org", sender="mebuki@example.org")
CLOCK = FixedClock(AT)


def _client(database: Database) -> TestClient:
    return TestClient(Starlette(routes=list(link_pages(SETTINGS, database, CLOCK))))


def _link(database: Database) -> str:
    """Return the path of the link in the only letter that waits."""
    (posting,) = DatabaseOutbox(database, CLOCK).claim(AT, timedelta(minutes=1))
    message = email.message_from_bytes(posting.letter.content, policy=policy.default)
    found = re.search(r"https://trees\.example\.org/\S+", message.get_content())
    assert found
    return urlsplit(found[0]).path


def test_a_reader_says_yes_gets_mail_and_leaves(tmp_path: Path) -> None:
    """Asked once, confirmed by the link of that very mail, let through, and gone at one click."""
    with closing(open_database(tmp_path / "mebuki.db")) as database:
        GardenStore(database, CLOCK).save(GARDEN)
        parts = link_parts(SETTINGS, database, CLOCK)
        assert parts.asking.ask(GARDEN, AT) == 1
        assert not parts.doors.of(GARDEN.id).may(ADA, "frost")
        assert _client(database).post(_link(database)).status_code == 200
        assert parts.doors.of(GARDEN.id).may(ADA, "frost")
        assert parts.asking.ask(GARDEN, AT + timedelta(days=30)) == 0
        leave = urlsplit(parts.links.leave(GARDEN, ADA)).path
        answer = _client(database).post(leave, data={"List-Unsubscribe": "One-Click"})
        assert answer.status_code == 200
        assert not parts.doors.of(GARDEN.id).may(ADA, "frost")


@pytest.mark.parametrize(
    ("address", "outside"),
    [
        ("http://127.0.0.1:8765", False), ("http://localhost:8765/mebuki", False),
        ("http://[::1]:80", False), ("http://0.0.0.0:8765", False), ("http://a.localhost", False),
        ("http://192.168.1.20:8765", True), ("http://trees.local", True),
        ("https://trees.example.org/mebuki", True),
    ],
)  # fmt: skip
def test_mails_have_no_links_that_no_phone_can_open(
    tmp_path: Path, address: str, outside: bool
) -> None:
    """Only the mail that asks keeps its link, the one way there is, and says where it opens."""
    settings = SETTINGS.model_copy(update={"base_url": address})
    with closing(open_database(tmp_path / "mebuki.db")) as database:
        parts = link_parts(settings, database, CLOCK)
        parts.asking.ask(GARDEN, AT)
        (posting,) = DatabaseOutbox(database, CLOCK).claim(AT, timedelta(minutes=1))
    text = email.message_from_bytes(posting.letter.content, policy=policy.default).get_content()
    assert (parts.for_mails is not None) is outside
    assert f"{address}/m/confirm/" in text
    assert ("opens on the machine that Mebuki runs on" in text) is not outside


def test_the_start_says_what_keeps_mails_from_readers(tmp_path: Path) -> None:
    """An address that no phone can open, and readers who have not said yes."""
    said: list[str] = []
    with closing(open_database(tmp_path / "mebuki.db")) as database:
        GardenStore(database, CLOCK).save(GARDEN)
        here = SETTINGS.model_copy(update={"base_url": "http://127.0.0.1:8765"})
        for settings in (here, SETTINGS):
            said += obstacles(settings, database)
        Consents(database).confirm(GARDEN.id, ADA.email, AT)
        silent = list(
            obstacles(SETTINGS.model_copy(update={"smtp_host": "mail.example"}), database)
        )
    assert "MEBUKI_BASE_URL is http://127.0.0.1:8765" in said[0]
    assert [line for line in said if "mebuki mail --readers" in line] == [said[1], said[3]]
    assert len(said) == 5
    assert silent == []


def test_links_in_old_mails_work_after_a_restart(tmp_path: Path) -> None:
    """The key stays with the database; a key of the settings takes its place."""
    with closing(open_database(tmp_path / "mebuki.db")) as database:
        first, second = (link_parts(SETTINGS, database, CLOCK) for _ in range(2))
        other = SETTINGS.model_copy(update={"secret_key": SecretStr("of the operator's own")})
        own = link_parts(other, database, CLOCK)
    links = [each.links.leave(GARDEN, ADA) for each in (first, second, own)]
    assert links[0] == links[1] != links[2]


def test_a_key_that_cannot_be_used_is_named(tmp_path: Path) -> None:
    """Too short, or in a file that is not there."""
    with closing(open_database(tmp_path / "mebuki.db")) as database:
        short = SETTINGS.model_copy(update={"secret_key": SecretStr("short")})
        with pytest.raises(InputError, match="16 signs"):
            link_parts(short, database, CLOCK)
        missing = SETTINGS.model_copy(update={"secret_key_file": tmp_path / "none"})
        with pytest.raises(FilesError, match="MEBUKI_SECRET_KEY_FILE"):
            link_parts(missing, database, CLOCK)
