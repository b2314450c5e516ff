"""The settings of the mail server: refused where they would be unsafe, with clear errors."""

from __future__ import annotations

from pathlib import Path

import pytest

from mebuki.bootstrap.mailing import delivery_terms, make_mailer
from mebuki.errors import FilesError, InputError
from mebuki.settings import Settings, read_settings

SECRET = "wisteria-in-may"  # noqa: S105 - of this test


@pytest.fixture(autouse=True)
def _alone(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Run in an empty folder, so that no settings file is near."""
    monkeypatch.chdir(tmp_path)


def settings(monkeypatch: pytest.MonkeyPatch, **given: str) -> Settings:
    """Return settings read from an environment."""
    for name, value in given.items():
        monkeypatch.setenv(f"MEBUKI_SMTP_{name.upper()}", value)
    return read_settings()


def test_without_a_host_there_is_no_mailer(monkeypatch: pytest.MonkeyPatch) -> None:
    """Letters wait in the outbox."""
    assert make_mailer(settings(monkeypatch)) is None


@pytest.mark.parametrize(
    ("security", "host", "port"),
    [("tls", "mail.example.org", 465), ("starttls", "mail.example.org", 587), ("plain", "::1", 25)],
)
def test_each_security_has_its_usual_port(
    security: str, host: str, port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """RFC 8314 and RFC 6409; another can be set."""
    mailer = make_mailer(settings(monkeypatch, host=host, security=security))
    assert mailer is not None
    assert (mailer.host, mailer.port, mailer.security) == (host, port, security)
    assert mailer.sender == "mebuki@mebuki.invalid"
    other = make_mailer(settings(monkeypatch, port="2525"))
    assert other is not None
    assert other.port == 2525


def test_the_settings_reach_the_mailer(monkeypatch: pytest.MonkeyPatch) -> None:
    """User, password, patience, pace and lines."""
    chosen = settings(
        monkeypatch, host="mail.example.org", user="ada", password=SECRET,
        timeout_seconds="30", per_minute="12", connections="3",
    )  # fmt: skip
    mailer = make_mailer(chosen)
    assert mailer is not None
    assert (mailer.user, mailer.password) == ("ada", SECRET)
    assert (mailer.timeout_seconds, mailer.per_minute) == (30, 12)
    assert delivery_terms(chosen).hands == 3
    assert SECRET not in f"{chosen!r}{mailer!r}"


def test_a_password_can_lie_in_a_file(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """With a line end or without."""
    file = tmp_path / "password"
    file.write_text(f"{SECRET}\n")
    chosen = settings(monkeypatch, host="h", user="ada", password_file=str(file))
    assert chosen.smtp_secret == SECRET
    file.unlink()
    with pytest.raises(FilesError, match="MEBUKI_SMTP_PASSWORD_FILE"):
        make_mailer(chosen)


@pytest.mark.parametrize("host", ["mail.example.org", "192.0.2.7", "127.0.0.1.example.org"])
def test_a_plain_line_elsewhere_is_refused(host: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The error says what is allowed."""
    with pytest.raises(FilesError, match="on this machine alone") as caught:
        settings(monkeypatch, host=host, security="plain")
    assert caught.value.faults[0].where == "MEBUKI_SMTP_SECURITY"


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1", "127.9.9.9", "::1"])
def test_a_plain_line_on_this_machine_is_allowed(
    host: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """For a relay that runs beside Mebuki."""
    assert make_mailer(settings(monkeypatch, host=host, security="plain")) is not None


def test_a_password_over_a_plain_line_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """On this machine too; the password is not told."""
    with pytest.raises(FilesError, match="never sent over a plain line") as caught:
        settings(monkeypatch, host="localhost", security="plain", user="ada", password=SECRET)
    assert SECRET not in str(caught.value)


@pytest.mark.parametrize("given", [{"user": "ada"}, {"password": SECRET}])
def test_user_and_password_go_together(
    given: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One without the other is a slip."""
    with pytest.raises(FilesError, match="go together") as caught:
        settings(monkeypatch, host="mail.example.org", **given)
    assert SECRET not in str(caught.value)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("security", "ssl"), ("port", "70000"), ("timeout_seconds", "0"), ("per_minute", "-1"),
        ("connections", "0"), ("host", "smtp://mail.example.org"), ("host", "a b"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_named(name: str, value: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the variable and what was found."""
    with pytest.raises(FilesError) as caught:
        settings(monkeypatch, **{name: value})
    assert caught.value.faults[0].where == f"MEBUKI_SMTP_{name.upper()}"


def test_certificates_of_ones_own_are_read(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A file without any is refused by name."""
    file = tmp_path / "own-ca.pem"
    file.write_text("nothing")
    with pytest.raises(InputError, match=r"own-ca\.pem"):
        make_mailer(settings(monkeypatch, host="mail.example.org", ca_file=str(file)))
