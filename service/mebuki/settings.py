"""Settings from the environment, a file, and secret files; nothing else reads the environment.

Every variable begins with ``MEBUKI_``. A file ``mebuki.env`` in the working
directory is read first, the environment wins over it.
"""

from __future__ import annotations

from ipaddress import ip_address
from pathlib import Path
from typing import Literal
from urllib.parse import urlsplit

from pydantic import Field, SecretStr, ValidationError, ValidationInfo, field_validator
from pydantic_core import PydanticCustomError
from pydantic_settings import BaseSettings, SettingsConfigDict

from mebuki.errors import Fault, FilesError

_PROVIDER = "(open-meteo|met-norway|nws|bright-sky)"
_URL = r"^(https?://[^\s?#]+[^\s?#/])?$"


class Settings(BaseSettings):
    """Everything an operator can set.

    Parameters
    ----------
    garden_file
        The garden to work on; the invented example garden if unset.
    weather_file
        A measured hourly series (CSV) to replay; the demo year if unset.
    config_dir
        A folder of one's own rule files, laid over the shipped ones by name.
    out_dir
        Where rounds write feed, mails and report.
    database
        Where gardens, records and all that was told are kept: a path, or the
        URL of a PostgreSQL database.
    round_every_hours, cold_round_every_hours
        How often a served garden is looked at, and how often while a cold night
        is ahead; 0 for the digest hours alone.
    workers
        Processes that share the work when many gardens are due; 0 for one each
        processor.
    backup_file
        Where ``mebuki serve`` writes a checked copy of the database once a day,
        older ones beside it; none if unset.
    serve_host, serve_port
        The address that ``mebuki serve`` listens on.
    base_url
        Where the service is reached from outside, for the addresses of feeds and the
        links in mails; ``https://`` behind a proxy. Mails go without links while it is
        an address of this machine alone.
    secret_key, secret_key_file
        Signs the links in mails: 16 signs or more, or the file that holds them. The
        service makes a key of its own and keeps it in the database if unset.
    log_level, log_form
        From which level on ``mebuki serve`` logs, and in which form.
    heartbeat_url
        An address that is fetched every few minutes while all is well, so that
        somebody else notices when it is not.
    host_name
        The name behind the @ of calendar and mail identities.
    sender
        The From address of mails, and the sender on their envelopes.
    smtp_host, smtp_port
        The mail server; letters wait in the outbox while none is named. The port
        is 465, 587 or 25 if left at 0, as ``smtp_security`` has it.
    smtp_security
        ``tls`` from the first byte, ``starttls`` before anything is said, or
        ``plain``, for a server on this machine alone. There is no falling back.
    smtp_user, smtp_password, smtp_password_file
        Who logs in; the password, or the file that holds it.
    smtp_ca_file
        The certificates to trust, in the place of the system's, for a server of
        one's own.
    smtp_timeout_seconds
        How long the mail server may take over each answer [s].
    smtp_per_minute
        How many letters it is given in a minute at most; 0 for no limit.
    smtp_connections
        Over how many lines at a time.
    contact
        The operator's mail or web address, told to the weather services; live
        weather does not start without it.
    weather_providers
        The live weather services, in the order in which they are tried.
    commercial
        Whether this install serves a business: services that do not allow it are refused.
    cache_dir
        Where answers of weather services and the season to date are kept.
    weather_cell
        Width [degrees] of the cells to which coordinates are rounded before they leave.
    open_meteo_key, open_meteo_key_file
        The key of a paid plan, or the file that holds it.
    open_meteo_forecast_url, ...
        Other addresses, for one's own server.
    """

    model_config = SettingsConfigDict(
        env_prefix="MEBUKI_", env_file="mebuki.env", extra="ignore", frozen=True
    )

    garden_file: Path | None = None
    weather_file: Path | None = None
    config_dir: Path | None = None
    out_dir: Path = Path("mebuki-out")
    database: str = Field(default="mebuki.db", min_length=1)
    round_every_hours: int = Field(default=3, ge=0, le=24)
    cold_round_every_hours: int = Field(default=1, ge=0, le=24)
    workers: int = Field(default=0, ge=0, le=64)
    backup_file: Path | None = None
    serve_host: str = "127.0.0.1"
    serve_port: int = Field(default=8765, ge=0, le=65535)
    base_url: str = Field(default="http://127.0.0.1:8765", min_length=1, pattern=_URL)
    secret_key: SecretStr | None = None
    secret_key_file: Path | None = None
    log_level: Literal["debug", "info", "warning", "error"] = "info"
    log_form: Literal["json", "logfmt"] = "logfmt"
    heartbeat_url: str = Field(default="", pattern=r"^(https?://\S+)?$")
    host_name: str = Field(default="mebuki.invalid", pattern=r"^[A-Za-z0-9.-]+$")
    sender: str = Field(default="mebuki@mebuki.invalid", pattern=r"^[^@\s<>\r\n]+@[^@\s<>\r\n]+$")
    smtp_host: str = Field(default="", pattern=r"^[A-Za-z0-9.:-]*$")
    smtp_port: int = Field(default=0, ge=0, le=65535)
    smtp_password: SecretStr | None = None
    smtp_password_file: Path | None = None
    smtp_user: str = Field(default="", validate_default=True)
    smtp_security: Literal["tls", "starttls", "plain"] = "tls"
    smtp_ca_file: Path | None = None
    smtp_timeout_seconds: float = Field(default=120, gt=0, le=600)
    smtp_per_minute: int = Field(default=100, ge=0, le=100_000)
    smtp_connections: int = Field(default=1, ge=1, le=16)
    contact: str = ""
    weather_providers: str = Field(
        default="open-meteo,met-norway,nws,bright-sky",
        pattern=f"^ *{_PROVIDER}( *, *{_PROVIDER})* *$",
    )
    commercial: bool = False
    cache_dir: Path = Path("mebuki-cache")
    weather_cell: float = Field(default=0.05, ge=0.01, le=0.5)
    open_meteo_key: SecretStr | None = None
    open_meteo_key_file: Path | None = None
    open_meteo_forecast_url: str = Field(default="", pattern=_URL)
    open_meteo_history_url: str = Field(default="", pattern=_URL)
    open_meteo_archive_url: str = Field(default="", pattern=_URL)
    open_meteo_ensemble_url: str = Field(default="", pattern=_URL)
    open_meteo_elevation_url: str = Field(default="", pattern=_URL)
    open_meteo_geocoding_url: str = Field(default="", pattern=_URL)
    met_norway_url: str = Field(default="", pattern=_URL)
    nws_url: str = Field(default="", pattern=_URL)
    bright_sky_url: str = Field(default="", pattern=_URL)

    @property
    def open_meteo_secret(self) -> str:
        """The key of the paid plan, from the setting or its file; empty without one.

        Raises
        ------
        FilesError
            If the file that is named cannot be read.
        """
        return _secret("open_meteo_key", self.open_meteo_key, self.open_meteo_key_file)

    @property
    def smtp_secret(self) -> str:
        """The password for the mail server, from the setting or its file; empty without one.

        Raises
        ------
        FilesError
            If the file that is named cannot be read.
        """
        return _secret("smtp_password", self.smtp_password, self.smtp_password_file)

    @property
    def reached_from_outside(self) -> bool:
        """Whether ``base_url`` can mean this service to anybody but this machine itself."""
        host = (urlsplit(self.base_url).hostname or "").rstrip(".")
        return not (_is_this_machine(host) or _is_nowhere(host))

    @property
    def link_secret(self) -> str:
        """The key that signs links, from the setting or its file; empty without one.

        Raises
        ------
        FilesError
            If the file that is named cannot be read.
        """
        return _secret("secret_key", self.secret_key, self.secret_key_file)

    @field_validator("smtp_user")
    @classmethod
    def _user_and_password(cls, user: str, info: ValidationInfo) -> str:
        password = info.data.get("smtp_password") or info.data.get("smtp_password_file")
        if bool(user) != bool(password):
            reason = "user and password go together: set both, or neither"
            raise _refused(reason)
        return user

    @field_validator("smtp_security")
    @classmethod
    def _plain_on_this_machine(cls, security: str, info: ValidationInfo) -> str:
        if security != "plain":
            return security
        if not _is_this_machine(info.data.get("smtp_host", "")):
            reason = "tls or starttls; plain is for a mail server on this machine alone"
            raise _refused(reason)
        if info.data.get("smtp_user"):
            reason = "tls or starttls; a password is never sent over a plain line"
            raise _refused(reason)
        return security


def _refused(reason: str) -> PydanticCustomError:
    return PydanticCustomError("mebuki", "{reason}", {"reason": reason})


def _is_this_machine(host: str) -> bool:
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host in ("", "localhost")


def _is_nowhere(host: str) -> bool:
    """Whether a host is the address that a server listens on for all, or a name for no other."""
    try:
        return ip_address(host).is_unspecified
    except ValueError:
        return host.endswith(".localhost")


def _secret(name: str, value: SecretStr | None, file: Path | None) -> str:
    if value is not None:
        return value.get_secret_value()
    if file is None:
        return ""
    try:
        return file.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        where = f"MEBUKI_{name}_FILE".upper()
        raise FilesError([Fault("settings", where, str(file), "a readable text file")]) from error


def read_settings() -> Settings:
    """Return the settings of this process.

    Raises
    ------
    FilesError
        Naming every variable that cannot be used, and what is allowed.
    """
    try:
        return Settings()
    except ValidationError as error:
        raise FilesError(
            [
                Fault(
                    file="settings",
                    where="MEBUKI_" + ".".join(str(part) for part in fault["loc"]).upper(),
                    value=repr(fault["input"]),
                    allowed=fault["msg"],
                )
                for fault in error.errors()
            ]
        ) from error
