"""Settings from the environment, a file, and secret files; nothing else reads the environment.

Every variable begins with ``MEBUKI_``. A file ``mebuki.env`` in the working
directory is read first, the environment wins over it.
"""

from __future__ import annotations

from pathlib import Path

from pydantic import Field, ValidationError
from pydantic_settings import BaseSettings, SettingsConfigDict

from mebuki.errors import Fault, FilesError


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
    host_name
        The name behind the @ of calendar and mail identities.
    sender
        The From address of mails.
    """

    model_config = SettingsConfigDict(
        env_prefix="MEBUKI_", env_file="mebuki.env", extra="ignore", frozen=True
    )

    garden_file: Path | None = None
    weather_file: Path | None = None
    config_dir: Path | None = None
    out_dir: Path = Path("mebuki-out")
    host_name: str = Field(default="mebuki.invalid", pattern=r"^[A-Za-z0-9.-]+$")
    sender: str = Field(default="mebuki@mebuki.invalid", pattern=r"^[^@\s<>\r\n]+@[^@\s<>\r\n]+$")


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
