"""What holds for every test: the packaged time zones, and hypothesis without chance."""

from __future__ import annotations

import zoneinfo

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
