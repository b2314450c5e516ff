"""Terms: who is credited, who may use it, and what a thousand gardens weigh."""

from __future__ import annotations

import pytest

from mebuki.weather.open_meteo import weight
from mebuki.weather.terms import (
    HELD_BACK,
    TERMS,
    calls,
    commercial_advice,
    credit_of,
    limits_by_provider,
)


@pytest.mark.parametrize(
    ("variables", "days", "members", "published"),
    [
        (12, 16 + 7, 1, 2.0),
        (12, 16 + 92, 1, 9.3),
        (2, 16, 31, 7.1),
        (2, 15, 51, 10.9),
        (4, 16, 1, 1.0),
        (10, 205, 1, 14.6),
        (5, 30 * 365, 1, 391),
    ],
)
def test_weights_are_those_of_the_service(
    variables: int, days: int, members: int, published: float
) -> None:
    """Worked examples after open-meteo/open-meteo, calculateQueryWeight, to the digit shown."""
    assert weight(variables, days, members) == pytest.approx(published, abs=0.06 + published / 1e3)


def test_every_service_has_a_credit_with_a_link() -> None:
    """What is shown beside weather names the source and leads there."""
    for terms in TERMS.values():
        credit = credit_of(terms.title)
        assert terms.link in credit
        assert terms.link.startswith("https://")
    assert "Copernicus" in credit_of("ERA5 by Open-Meteo")
    assert credit_of("a file") == ""


def test_a_nursery_is_told_what_binds_it() -> None:
    """Without a key one service is closed to it, three are open."""
    said = commercial_advice(TERMS, has_key=False)
    assert "no commercial use without a plan" in said[0]
    assert all("commercial use is allowed" in one for one in said[1:])
    assert "Professional" in commercial_advice(["open-meteo"], has_key=True)[0]


def test_a_thousand_cells_are_told_what_to_do() -> None:
    """Ten cells fit; a thousand weigh 27 000 a day, more than 9 000, and the advice fits."""
    few, many = calls(10), calls(1000)
    assert few.within
    assert few.daily < 300
    assert not many.within
    assert many.daily == pytest.approx(1000 * (24 * weight(8, 19) + 2), rel=1e-9)
    assert "at most" in many.advice
    pulls = int(many.advice.split("look ")[1].split()[0])
    assert calls(1000, pulls).within
    assert not calls(1000, pulls + 1).within


def test_what_is_paid_for_is_not_counted() -> None:
    """A plan or a server of one's own has other limits than the free service."""
    assert limits_by_provider()["open-meteo"].day == 10_000 * HELD_BACK
    assert "open-meteo" not in limits_by_provider(["open-meteo"])
