"""Where rule files lie: the shipped folder, and a person's own folder laid over it by file name."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import mebuki
from mebuki.errors import Fault, FaultError, FilesError

TAXA = "taxa"


def shipped_config(package: Path | None = None) -> Path:
    """Return the folder of the rule files that came with Mebuki.

    In an installed wheel it is ``_config`` beside the package's files, in a
    checkout ``config`` two levels up.

    Parameters
    ----------
    package
        The folder of the package; this one's unless given.

    Raises
    ------
    FaultError
        If neither is there; both are named.
    """
    here = package or Path(mebuki.__file__).resolve().parent
    places = (here / "_config", here.parents[1] / "config")
    for place in places:
        if (place / TAXA).is_dir():
            return place
    msg = f"the shipped rule files are missing: neither {places[0]} nor {places[1]} holds them"
    raise FaultError(msg)


def own_config(config_dir: Path | None) -> Path | None:
    """Return a person's own folder, if there is one.

    Raises
    ------
    FilesError
        If a folder is named that is not there.
    """
    if config_dir is None or config_dir.is_dir():
        return config_dir
    allowed = "the folder of rule files must exist; leave the setting out to use the shipped ones"
    raise FilesError([Fault(str(config_dir), "", "", allowed)])


def layers(name: str, config_dir: Path | None) -> tuple[Path, ...]:
    """Return the files of one name, the shipped one first, a person's own one last."""
    own = own_config(config_dir)
    folders = (shipped_config(),) if own is None else (shipped_config(), own)
    return tuple(folder / name for folder in folders if (folder / name).exists())


def taxon_files(config_dir: Path | None) -> Mapping[str, Path]:
    """Return the taxon files by taxon id; a person's own file takes the place of a shipped one."""
    own = own_config(config_dir)
    folders = (shipped_config(),) if own is None else (shipped_config(), own)
    found = {
        path.stem: path for folder in folders for path in sorted((folder / TAXA).glob("*.toml"))
    }
    return dict(sorted(found.items()))
