"""``mebuki mail`` as a person runs it."""

from __future__ import annotations

import email
from contextlib import closing
from datetime import timedelta
from email import policy
from pathlib import Path

import pytest

from mebuki.cli import main as command_line
from mebuki.clock import FixedClock
from mebuki.storage.consents import Consents
from mebuki.storage.gardens import GardenStore
from mebuki.storage.migrate import open_database
from tests.builders import AT, a_garden, a_subscriber
from tests.mail.smtp_sink import SmtpSink


@pytest.fixture(autouse=True)
def _alone(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Run in an empty folder, so that no settings file is near."""
    folder = tmp_path / "empty"
    folder.mkdir()
    monkeypatch.chdir(folder)


def _run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *arguments: str
) -> tuple[int, str, str]:
    monkeypatch.setattr("sys.argv", ["mebuki", "mail", *arguments])
    with pytest.raises(SystemExit) as stop:
        command_line.main()
    shown = capsys.readouterr()
    return int(stop.value.code or 0), shown.out, shown.err


def _configure(monkeypatch: pytest.MonkeyPatch, sink: SmtpSink, **more: str) -> None:
    given = {"host": "127.0.0.1", "port": str(sink.port), "security": "plain", **more}
    for name, value in given.items():
        monkeypatch.setenv(f"MEBUKI_SMTP_{name.upper()}", value)
    monkeypatch.setenv("MEBUKI_SENDER", "mebuki@garden.example")
    monkeypatch.setenv("MEBUKI_HOST_NAME", "garden.example")


def test_a_test_message_is_sent_and_the_servers_answer_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One plain message to the address, under a Message-ID that is told."""
    with SmtpSink() as sink:
        _configure(monkeypatch, sink)
        code, out, err = _run(monkeypatch, capsys, "--test", "ada@example.org")
    assert (code, err) == (0, "")
    assert f"127.0.0.1:{sink.port} (plain) took it: 250 2.0.0 taken as 1" in out
    (received,) = sink.received
    assert (received.sender, received.recipient) == ("mebuki@garden.example", "ada@example.org")
    message = email.message_from_bytes(received.content, policy=policy.default)
    assert message["Message-ID"] in out
    assert message["Message-ID"].endswith("@garden.example>")
    assert message["Auto-Submitted"] == "auto-generated"
    assert "sent by hand" in message.get_content()


def test_a_refusal_is_told_and_is_a_fault(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 1, with the server's own words."""
    with SmtpSink(at_recipient=lambda _: "550 5.1.1 no such user") as sink:
        _configure(monkeypatch, sink)
        code, out, err = _run(monkeypatch, capsys, "--test", "ada@example.org")
    assert (code, out) == (1, "")
    assert err == "mebuki: the recipient was refused: 550 5.1.1 no such user\n"


def test_a_server_that_offers_no_starttls_gets_nothing(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 1; the reason says that nothing was sent."""
    with SmtpSink() as sink:
        _configure(monkeypatch, sink, security="starttls")
        code, _, err = _run(monkeypatch, capsys, "--test", "ada@example.org")
    assert code == 1
    assert "offers no STARTTLS; nothing was sent" in err
    assert sink.received == []


def test_without_a_server_the_setting_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2."""
    code, _, err = _run(monkeypatch, capsys, "--test", "ada@example.org")
    assert code == 2
    assert "MEBUKI_SMTP_HOST" in err


@pytest.mark.parametrize("arguments", [[], ["--test", "a@example.org", "--preview", "act"]])
def test_one_thing_at_a_time(
    arguments: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Neither or both is bad input."""
    code, _, err = _run(monkeypatch, capsys, *arguments)
    assert code == 2
    assert "give one of --test ADDRESS, --preview KIND, --readers, --ask ADDRESS" in err


def test_the_operator_sees_who_has_not_said_yes_and_has_them_asked_again(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every reader in a line; a reader who has answered, or is none, is not asked again."""
    code, out, _ = _run(monkeypatch, capsys, "--readers")
    assert (code, out) == (
        0,
        "There is no reader yet: [[subscribers]] in a garden file names them.\n",
    )
    people = [a_subscriber(name=n, email=f"{n.lower()}@example.org") for n in ("Ada", "Ben")]
    with closing(open_database("mebuki.db")) as database:
        GardenStore(database, FixedClock(AT)).save(a_garden(subscribers=tuple(people)))
        consents = Consents(database)
        consents.confirm("home", "ada@example.org", AT)
        for week in range(3):
            consents.ask("home", "ben@example.org", AT + timedelta(days=7 * week))
    code, out, _ = _run(monkeypatch, capsys, "--readers")
    ada, ben = out.splitlines()
    assert (code, ada) == (0, "home: Ada <ada@example.org> wants mails since 27 Mar 2013")
    assert ben.startswith("home: Ben <ben@example.org> was asked 3 times, last on 10 Apr 2013")
    code, out, _ = _run(monkeypatch, capsys, "--ask", "Ben@example.org")
    assert code == 0
    assert out.startswith("home: Ben <ben@example.org> is asked in the next round")
    for address in ("ada@example.org", "nobody@example.org"):
        code, _, err = _run(monkeypatch, capsys, "--ask", address)
        assert code == 2
        assert "no reader who has yet to answer" in err


def test_what_is_no_address_is_refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Before anything is sent."""
    with SmtpSink() as sink:
        _configure(monkeypatch, sink)
        code, _, err = _run(monkeypatch, capsys, "--test", "ada at example")
    assert code == 2
    assert "is not an e-mail address" in err
    assert sink.lines == 0


def test_every_kind_of_mail_can_be_looked_at(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Each as a message, as text and as HTML, with the same words."""
    out = tmp_path / "mails"
    code, told, err = _run(monkeypatch, capsys, "--preview", "all", "--out", str(out))
    assert (code, err) == (0, "")
    kinds = {"prepare", "act", "over", "blind", "digest"}
    assert {file.name for file in out.iterdir()} == {
        f"{kind}.{suffix}" for kind in kinds for suffix in ("eml", "txt", "html")
    }
    for kind in kinds:
        content = (out / f"{kind}.eml").read_bytes()
        message = email.message_from_bytes(content, policy=policy.default)
        assert f"{kind}: {message['Subject']}" in told
        assert "<html" in (out / f"{kind}.html").read_text("utf-8")
        assert (out / f"{kind}.txt").read_text("utf-8").strip()


def test_mails_can_be_looked_at_in_other_units(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """As a reader of US units gets them, the printed subject too."""
    arguments = ("--preview", "act", "--out", str(tmp_path), "--units", "us")
    code, told, _ = _run(monkeypatch, capsys, *arguments)
    assert code == 0
    text = (tmp_path / "act.txt").read_text("utf-8")
    assert "°F" in text
    assert "°C" not in text
    assert "°F" in told


def test_one_kind_of_mail_can_be_looked_at(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """And nothing else is written."""
    out = tmp_path / "mails"
    code, _, _ = _run(monkeypatch, capsys, "--preview", "blind", "--out", str(out))
    assert code == 0
    assert sorted(file.name for file in out.iterdir()) == ["blind.eml", "blind.html", "blind.txt"]
