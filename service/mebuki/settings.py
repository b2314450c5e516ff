"""Settings from the environment, a file, and secret files; nothing else reads the environment.

Every variable begins with ``MEBUKI_``. A file ``mebuki.env`` in the working
directory is read first, the environment wins over it.
"""

from __future__ import annotations

from pathlib import Path

from pydantic import Field, SecretStr, ValidationError
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
    host_name
        The name behind the @ of calendar and mail identities.
    sender
        The From address of mails.
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
    host_name: str = Field(default="mebuki.invalid", pattern=r"^[A-Za-z0-9.-]+$")
    sender: str = Field(default="mebuki@mebuki.invalid", pattern=r"^[^@\s<>\r\n]+@[^@\s<>\r\n]+$")
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
        if self.open_meteo_key is not None:
            return self.open_meteo_key.get_secret_value()
        if self.open_meteo_key_file is None:
            return ""
        try:
            return self.open_meteo_key_file.read_text("utf-8").strip()
        except (OSError, UnicodeDecodeError) as error:
            named = str(self.open_meteo_key_file)
            raise FilesError(
                [Fault("settings", "MEBUKI_OPEN_METEO_KEY_FILE", named, "a readable text file")]
            ) from error


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
