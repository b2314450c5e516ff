"""What holds for every test: the packaged time zones, and hypothesis without chance."""

from __future__ import annotations

import zoneinfo
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

zoneinfo.reset_tzpath(())
settings.register_profile(
    "mebuki",
    derandomize=True,
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("mebuki")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the folder of check data that may be used but not redistributed."""
    parser.addoption(
        "--check-data",
        type=Path,
        default=None,
        help="folder with check series whose licence keeps them out of the repository",
    )
