"""How figures become reasons: with the range of what is usual or published, where there is one."""

from __future__ import annotations

import pytest

from mebuki.rules.risk import share_reason, span_reason
from tests.builders import a_figure


@pytest.mark.parametrize(
    ("ends", "told"),
    [({}, "33 %"), ({"low": 0.2, "high": 0.5}, "33 % (usually 20 % to 50 %)"),
     ({"low": 0.33, "high": 0.33}, "33 %")],
)  # fmt: skip
def test_a_share_is_told_with_its_range(ends: dict[str, float], told: str) -> None:
    """In per cent, with both ends where they differ, and the source beside it."""
    reason = share_reason("roots removed at most", a_figure(0.33, "a manual", **ends))
    assert (reason.value, reason.source) == (told, "a manual")


def test_a_number_is_told_with_its_range_and_unit() -> None:
    """One has no plural; ends that are the same are no range."""
    assert span_reason("wait", a_figure(1), "weeks").value == "1 week"
    ranged = a_figure(-2, low=-5, high=-1)
    assert span_reason("limit", ranged, "°C").value == "−2 °C (usually −5 to −1)"
