"""The picture of the coming nights: hours, spread, limits, and which need a hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from mebuki.domain.advice import Urgency
from mebuki.pictures.coming_nights import (
    DRAWN_NIGHTS,
    describe_nights,
    nights_table,
    place_nights,
    place_shown,
    threatened,
)
from mebuki.pictures.nights import nights_chart
from mebuki.pictures.style import ACCENT, INK
from mebuki.rounds.planned import Plan
from tests.builders import a_frost_advice, a_root_night
from tests.plans import LOWS, a_plan


def rows(plan: Plan, field: str, place: str = "bench") -> list[dict[str, Any]]:
    """Return the drawn rows that hold a field, without doubles."""
    spec = nights_chart(plan, plan.garden.place(place))
    found = [row for part in spec["layer"] for row in part["data"]["values"] if field in row]
    return [row for index, row in enumerate(found) if row not in found[:index]]


def test_the_open_place_with_most_trees_is_drawn() -> None:
    """A shed follows the weather too slowly to be the first picture."""
    place = place_shown(a_plan())
    assert place is not None
    assert place.id == "bench"
    assert place_shown(replace(a_plan(), outlooks={})) is None


def test_each_hour_has_its_temperature_and_one_standard_deviation_either_way() -> None:
    """The first night's spread is 1.6 °C at its minimum, later ones wider."""
    plan = a_plan()
    hours = [row for row in rows(plan, "low") if "label" not in row]
    assert len(hours) >= 24 * (DRAWN_NIGHTS - 1)
    at_minimum = next(row for row in hours if row["at"] == "2013-03-28T09:00:00Z")
    assert at_minimum["high"] - at_minimum["low"] == pytest.approx(2 * 1.6, abs=0.02)
    assert hours[-1]["high"] - hours[-1]["low"] > 2 * 1.6


def test_each_night_is_shaded_named_and_numbered() -> None:
    """Five nights, each with the number of its lowest air temperature."""
    plan = a_plan()
    assert len(rows(plan, "middle")) == DRAWN_NIGHTS
    labels = [row["label"] for row in rows(plan, "colour")]
    assert labels == ["−2.1°", "0.4°", "3.2°", "1.1°", "−0.3°"]
    assert len(LOWS) > DRAWN_NIGHTS


def test_only_nights_that_need_a_hand_are_coloured() -> None:
    """The frost advice concerns the first night on the bench alone."""
    plan = a_plan()
    assert [row["colour"] for row in rows(plan, "colour")] == [ACCENT] + [INK] * 4
    assert {row["colour"] for row in rows(plan, "colour", "shed")} == {INK}
    night = place_nights(plan, plan.garden.place("bench"))[0]
    assert threatened(plan, plan.garden.place("bench"), night)
    assert not threatened(replace(plan, advice=()), plan.garden.place("bench"), night)


def test_a_night_days_ahead_is_marked_too_and_told_in_words() -> None:
    """A word to prepare is about a night that is not yet urgent: colour and text name it."""
    plan = a_plan()
    ahead = place_nights(plan, plan.garden.place("bench"))[3]
    tree = next(tree for tree in plan.garden.trees if tree.place == "bench")
    advice = a_frost_advice(tree.id, ahead.evening, urgency=Urgency.FUTURE)
    later = replace(plan, advice=(*plan.advice, advice))
    assert [row["colour"] for row in rows(later, "colour")] == [ACCENT, INK, INK, ACCENT, INK]
    told = describe_nights(later, plan.garden.place("bench"))
    assert told.endswith(" Trees need a hand in the nights from Wednesday and Saturday.")
    calm = replace(plan, advice=(replace(advice, action="frost-watch"),))
    assert "need a hand" not in describe_nights(calm, plan.garden.place("bench"))


def test_the_number_of_the_last_night_stays_clear_of_the_names_beside_it() -> None:
    """It stands left of its night's minimum, the others under theirs."""
    spec = nights_chart(a_plan(), a_plan().garden.place("bench"), 350)
    found = [
        (part["mark"].get("align"), [row["label"] for row in part["data"]["values"]])
        for part in spec["layer"]
        if part["mark"].get("fontWeight") == 600
    ]
    assert (None, ["−2.1°", "0.4°", "3.2°", "1.1°"]) in found
    assert ("right", ["−0.3°"]) in found


def test_freezing_and_the_tenderest_roots_are_labelled_lines() -> None:
    """A limit far below the coldest night is left out, lest it flatten the picture."""
    labels = {row["label"] for row in rows(a_plan(), "until") if "air" in row}
    assert {"freezing", "roots −4°"} <= labels
    plan = a_plan()
    hardy = {
        key: replace(outlook, roots=(a_root_night("2013-03-27", -1, limit=-15),))
        for key, outlook in plan.outlooks.items()
    }
    labels = {row.get("label") for row in rows(replace(plan, outlooks=hardy), "until")}
    assert "roots −15°" not in labels


def test_a_slow_place_has_nights_but_no_hourly_line() -> None:
    """Air in a shed is not the air outside."""
    plan = a_plan()
    assert not [row for row in rows(plan, "low", "shed") if "label" not in row]
    assert len(rows(plan, "colour", "shed")) == DRAWN_NIGHTS


def test_numbers_and_words_stand_beside_the_picture() -> None:
    """The table has every night, in the garden's time; the words name the coldest."""
    plan = a_plan()
    place = plan.garden.place("bench")
    table = nights_table(plan, place)
    assert len(table.rows) == len(LOWS)
    assert table.rows[0] == ("Wed 27 Mar", "−2.1 ± 1.6", "−3.1", "05:00", "clear, calm")
    assert "night from Wed 27 Mar: −2.1 °C, leaves −3.1 °C" in describe_nights(plan, place)


def test_without_a_forecast_the_words_say_so() -> None:
    """Nothing is drawn from nothing."""
    plan = a_plan()
    blind = {key: replace(outlook, nights=()) for key, outlook in plan.outlooks.items()}
    plan = replace(plan, outlooks=blind)
    place = plan.garden.place("bench")
    assert "there is no forecast" in describe_nights(plan, place)
    assert nights_table(plan, place).rows == ()
    assert rows(plan, "colour") == []


def test_a_warm_night_is_said_to_be_one() -> None:
    """No frost is likely when two standard deviations do not reach it."""
    plan = a_plan()
    place = plan.garden.place("bench")
    warm = replace(place_nights(plan, place)[0], air_minimum=9.0, leaf_minimum=8.0, spread=1.6)
    outlooks = {key: replace(one, nights=(warm,)) for key, one in plan.outlooks.items()}
    assert nights_table(replace(plan, outlooks=outlooks), place).rows[0][-1] == "mild"
