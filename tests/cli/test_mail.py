"""``mebuki mail`` as a person runs it."""

from __future__ import annotations

import email
from email import policy
from pathlib import Path

import pytest

from mebuki.cli import main as command_line
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
    assert "either --test ADDRESS or --preview KIND" in err


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


def test_one_kind_of_mail_can_be_looked_at(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """And nothing else is written."""
    out = tmp_path / "mails"
    code, _, _ = _run(monkeypatch, capsys, "--preview", "blind", "--out", str(out))
    assert code == 0
    assert sorted(file.name for file in out.iterdir()) == ["blind.eml", "blind.html", "blind.txt"]
