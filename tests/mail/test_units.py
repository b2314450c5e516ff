"""Every number of a mail in the reader's units: none missed, none converted in the wrong way."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.agenda.entry import Notice, NoticeLine, Published
from mebuki.bootstrap import demo_inputs
from mebuki.bootstrap.folder import plan_day
from mebuki.domain.customs import as_read
from mebuki.domain.quantity import in_units
from mebuki.domain.wording import temperature_text
from mebuki.mail.notice_page import OFFICIAL
from tests.builders import a_garden, a_subscriber, a_tree
from tests.mail.letters import a_letter, notices, text_of
from tests.plans import a_notice

METRIC = re.compile(r"°C|(?<=\d )(?:mm|cm|L|mL|kg|m/s|m s-1)\b")
DAYS = (
    date(2013, 1, 22), date(2013, 3, 27), date(2013, 4, 2), date(2013, 5, 14), date(2013, 7, 18),
    date(2013, 10, 24), date(2013, 11, 23),
)  # fmt: skip
US = re.compile(r"°F|(?<=\d )(?:in|gal|fl oz|lb|mph|ft)\b(?! \d| the| a )")


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    [
        ("−40 °C", "−40 °F"), ("0 °C", "32 °F"), ("37.0 °C", "98.6 °F"), ("100 °C", "212 °F"),
        ("−17.8 °C", "0.0 °F"), ("−0.1 °C", "31.8 °F"), ("20.0 °C", "68.0 °F"),
    ],
)  # fmt: skip
def test_temperatures_at_published_points(celsius: str, fahrenheit: str) -> None:
    """Fixed points of both scales; −40 is the same on both (NIST SP 811, appendix B.9)."""
    assert in_units(celsius, "us") == fahrenheit


@pytest.mark.parametrize(
    ("metric", "us"),
    [
        ("±1.6 °C", "±2.9 °F"),
        ("0.0 °C ± 1.6", "32.0 °F ± 2.9"),
        ("0.0 °C ± 1.6.", "32.0 °F ± 2.9."),
        ("0.0 °C give or take 1.6, or less", "32.0 °F give or take 2.9, or less"),
        ("−2.1 °C, give or take 1.6 °C", "28.2 °F, give or take 2.9 °F"),
        ("differ by 1.6 °C over", "differ by 2.9 °F over"),
        ("1.6 °C too warm", "2.9 °F too warm"),
        ("5.0 °C give or take 2.5", "41.0 °F give or take 4.5"),
        (
            "7.7 °C give or take 2.2, 5.5 °C give or take 2.8",
            "45.9 °F give or take 4.0, 41.9 °F give or take 5.0",
        ),
        ("Harm below the limit by\x1f2 °C", "Harm below the limit by\x1f3.6 °F"),
        ("Spread of tonight's low\x1f1.6 °C", "Spread of tonight's low\x1f2.9 °F"),
    ],
)
def test_differences_have_no_offset(metric: str, us: str) -> None:
    """1.6 °C of difference are 2.9 °F, whichever way a text says that it is one."""
    assert in_units(metric, "us") == us


@pytest.mark.parametrize(
    ("metric", "us"),
    [
        ("3 to 5 °C", "37 to 41 °F"),
        ("38 °C (usually 35 to 40)", "100 °F (usually 95 to 104)"),
        ("41 °C to 46 °C", "106 °F to 115 °F"),
        ("100 °C d", "180 °F d"),
        ("degree days above 10 °C", "degree days above 50 °F"),
        ("20 m/s", "45 mph"), ("10 m s-1", "22 mph"),
        ("25.4 mm", "1.0 in"), ("3 mm", "0.12 in"), ("30 cm", "11.8 in"),
        ("23 kg", "51 lb"), ("4.5 kg", "9.9 lb"),
        ("1.00 L", "34 fl oz"), ("150 mL", "5.1 fl oz"), ("3.79 L", "1.00 gal"),
        ("0.50 to 4.00 L", "0.13 to 1.06 gal"),
        ("about 3.0 m of 2 mm", "about 9.8 ft of 0.08 in"),
    ],
)  # fmt: skip
def test_other_quantities_by_published_factors(metric: str, us: str) -> None:
    """Factors of NIST SP 811: 25.4 mm an inch, 3.785 L a gallon, 0.4536 kg, 0.447 m/s."""
    assert in_units(metric, "us") == us


@pytest.mark.parametrize(
    "text",
    ["1.5 kPa", "30 mA", "12 trees", "5 Larches", "17 %", "BBCH 09", "rule R20", "wire 3", "2 kgs",
     "0 °F", "m of 5", "10 mm²"],
)  # fmt: skip
def test_what_is_no_quantity_of_ours_stays(text: str) -> None:
    """Counts, shares, codes and units without a customary form."""
    assert in_units(text, "us") == text


@given(st.floats(-60, 60), st.integers(0, 2))
def test_every_temperature_converts_to_its_own_rounding(celsius: float, digits: int) -> None:
    """Text and number agree to half of the last digit shown, plus what the text had rounded."""
    told = in_units(temperature_text(celsius, digits), "us")
    number, unit = told.replace("−", "-").split()
    assert unit == "°F"
    assert abs(float(number) - (celsius * 1.8 + 32)) <= (0.5 + 0.9) * 10**-digits + 1e-9
    assert told == in_units(told, "us")


@given(st.floats(-60, 60))
def test_a_known_value_is_rounded_once(celsius: float) -> None:
    """The subject's whole degrees come from the night's own value, not from whole °C."""
    told = in_units(f"Frost {temperature_text(celsius, 0)}", "us", exact=(celsius,))
    assert abs(float(told.split()[1].replace("−", "-")) - (celsius * 1.8 + 32)) <= 0.5 + 1e-9


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        ("about 05:00", "about 5:00 am"), ("00:15 and 12:00", "12:15 am and 12:00 pm"),
        ("23:59", "11:59 pm"), ("27 Mar", "Mar 27"), ("Wed 27 Mar 2013", "Wed, Mar 27, 2013"),
        ("14–28 Mar", "Mar 14–28"), ("28 Mar – 4 Apr", "Mar 28 – Apr 4"),
        ("10:30:15", "10:30:15"),
        ("2013-10-26 00:00 to 2013-10-26 04:00 UTC", "2013-10-26 00:00 to 2013-10-26 04:00 UTC"),
        ("12 Marches", "12 Marches"),
    ],
)  # fmt: skip
def test_days_and_times_follow_the_custom(ours: str, theirs: str) -> None:
    """Month before day and a clock of twelve hours for US readers; others read ours."""
    assert as_read(ours, "us") == theirs
    assert as_read(ours, "metric") == ours


@pytest.mark.parametrize("kind", notices())
def test_no_mail_mixes_units(kind: str) -> None:
    """Of all that is ours; an official warning keeps the words of its issuer."""
    notice = notices()[kind]
    ours = replace(notice, facts=tuple(each for each in notice.facts if each[0] != OFFICIAL))
    for part in ("plain", "html"):
        assert not METRIC.search(
            text_of(a_letter(ours, a_subscriber(units="us"), picture=False), part)
        )
        assert not US.search(text_of(a_letter(ours, picture=False), part))


def test_official_warnings_stay_word_for_word() -> None:
    """Their units are those of the office that issued them, for every reader."""
    for units in ("metric", "us"):
        letter = a_letter(notices()["act"], a_subscriber(units=units))
        assert "Freeze Warning from 2 AM to 8 AM, 28 °F (NWS Upton NY)" in text_of(letter, "plain")


def test_names_of_people_stay_as_they_are() -> None:
    """A tree named like a quantity or a day is a name, wherever it stands."""
    names = ("Elm 30 mm", "Frost −5 °C", "Born 4 Jul", "Pot 2 L")
    garden = a_garden([a_tree(name) for name in names], name="Site at 10 °C")
    notice = a_notice(
        subject="Frost −5 °C: −2 °C tonight", lead="Elm 30 mm and Pot 2 L: 30 mm of rain, 2 L",
        lines=(NoticeLine("Bench", "Bring in Born 4 Jul by 4 Jul.", names),), facts=(),
    )  # fmt: skip
    letter = a_letter(notice, a_subscriber(units="us"), garden)
    text = text_of(letter, "plain")
    assert "Elm 30 mm and Pot 2 L: 1.2 in of rain, 68 fl oz" in text
    assert "Bring in Born 4 Jul by Jul 4." in text
    assert "Mebuki for Site at 10 °C," in text
    for name in names:
        assert f"  - {name}\n" in text
    assert "Frost −5 °C: 28 °F tonight" in text_of(letter, "html")


def test_the_letter_itself_stays_metric_for_the_digest() -> None:
    """What could not be sent is told to readers of any units, so its subject is kept as made."""
    letter = a_letter(a_notice(), a_subscriber(units="us"))
    assert letter.subject == a_notice().subject


@pytest.fixture(scope="module")
def told() -> list[Notice]:
    """Return what the demo garden is told on days of every season, as if nothing had been told."""
    inputs = demo_inputs()
    found: list[Notice] = []
    for day in DAYS:
        at = datetime.combine(day, time(11), UTC)
        found += plan_day(inputs, day, at, Published.nothing()).notices
    return found


def test_nothing_that_the_rules_say_escapes(told: list[Notice]) -> None:
    """Real notices of all seasons: no unit of the other kind in any mail of any step."""
    garden = demo_inputs().garden
    assert {str(notice.step) for notice in told} >= {"act", "digest"}
    for notice in told:
        for part in ("plain", "html"):
            us = text_of(a_letter(notice, a_subscriber(units="us"), garden, picture=False), part)
            found = METRIC.search(us)
            assert not found, us[max(0, found.start() - 80) : found.end() + 20]
            assert not US.search(text_of(a_letter(notice, None, garden, picture=False), part))


def test_no_converted_temperature_is_beyond_belief(told: list[Notice]) -> None:
    """A difference taken for a temperature, or the reverse, would leave these bounds."""
    garden = demo_inputs().garden
    for notice in told:
        plain = text_of(a_letter(notice, a_subscriber(units="us"), garden, picture=False), "plain")
        for spread in re.findall(r"± (\d+\.\d)", plain):
            assert float(spread) < 15
