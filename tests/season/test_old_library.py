"""Thermal time and the alternating model give the days of an independent library."""

from __future__ import annotations

from datetime import date

from mebuki.domain.taxon import AlternativeClock
from mebuki.season.alternatives import Setting, bud_break_margin
from mebuki.season.crossing import event_days
from tests.season.clock_tables import PUBLISHED, rows_of
from tests.season.test_accuracy_harvard import springs


def _clock(row: dict[str, str]) -> AlternativeClock:
    plain = {"start_day": float(row["start_day"]), "base": 0.0}
    amount = float(row["requirement_or_a"])
    if row["model"] == "thermal-time":
        parameters = plain | {"requirement": amount}
    else:
        more = {"chill_below": -0.005, "a": amount, "b": float(row["b"]), "r": float(row["r"])}
        parameters = plain | more
    return AlternativeClock.model_validate(
        {"model": row["model"], "parameters": parameters, "source": "pyPhenology 0.7.1"}
    )


def test_days_agree_with_pyphenology_on_nine_springs() -> None:
    """All 63 days of pyPhenology 0.7.1 at threshold 0 are met exactly.

    Days before New Year are made warm, for the library counts chill from there;
    and it counts days below the threshold, not at it (the table has two decimals).
    """
    rows = rows_of(PUBLISHED / "pyphenology_thermal_time.csv")
    for row in rows:
        spring = springs()[int(row["year"])]
        new_year = date(spring.season, 1, 1).toordinal() - spring.start
        mean = spring.members.mean[0].copy()
        mean[:new_year] = 20.0
        where = Setting(spring.start, spring.season, spring.latitude)
        (found,) = event_days(bud_break_margin(_clock(row), mean, where), [0.0])
        assert int(found) - new_year + 1 == int(row["day"])
    assert len(rows) == 63
