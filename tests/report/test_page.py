"""The report: complete, self-contained, structured, and safe against what people write."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup
from hypothesis import given, settings

from mebuki.agenda.entry import EntryStatus
from mebuki.domain.advice import CareKind, Days, Urgency
from mebuki.domain.warning import OfficialWarning, Severity
from mebuki.domain.weather import Freshness
from mebuki.report.page import CHAPTERS, write_report
from mebuki.rounds.planned import Plan
from tests.builders import AT, ON, a_garden, a_tree, an_entry
from tests.feeds.strategies import ANY_TEXT
from tests.plans import a_picture, a_plan

TEXT = write_report(a_plan())
PAGE = BeautifulSoup(TEXT, "html.parser")


def page(plan: Plan) -> BeautifulSoup:
    """Return the report of a plan, parsed."""
    return BeautifulSoup(write_report(plan), "html.parser")


def chapter(html: BeautifulSoup, anchor: str) -> str:
    """Return the text of one part, on one line."""
    part = html.find(id=anchor)
    assert part is not None
    return " ".join(part.get_text(" ").split())


def test_every_part_is_there_with_its_heading_and_is_linked() -> None:
    """One h1, an h2 for each part, and a link to each but the first, which is in sight."""
    assert len(PAGE.find_all("h1")) == 1
    shown = [(anchor, words) for anchor, words in CHAPTERS if anchor != "official"]
    assert [head.get_text() for head in PAGE.find_all("h2")] == [words for _, words in shown]
    links = {str(link["href"]) for link in PAGE.find_all("a")}
    assert links == {f"#{anchor}" for anchor, _ in shown}
    ids = [str(part["id"]) for part in PAGE.find_all(id=True)]
    assert len(ids) == len(set(ids))


def test_the_page_needs_nothing_from_elsewhere() -> None:
    """No script, no address of any other file, no style attribute; language and viewport given."""
    bare = re.sub(r'xmlns(:\w+)?="[^"]*"', "", TEXT)
    assert "http" not in bare
    assert not PAGE.find_all(["script", "iframe", "img", "object"])
    assert not PAGE.find_all(style=True)
    assert "url(" not in TEXT
    assert "@import" not in TEXT
    assert PAGE.find("html", lang="en")
    assert PAGE.find("meta", attrs={"name": "viewport"})


def test_headings_do_not_skip_a_level() -> None:
    """A listener walks h1, h2, h3 without a gap."""
    levels = [int(str(head.name)[1]) for head in PAGE.find_all(re.compile("^h[1-6]$"))]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))


def test_the_keyboard_can_skip_to_the_work() -> None:
    """The first link leads to today's work; scrolling tables take the focus and have a name."""
    first = PAGE.find("a")
    assert first is not None
    assert (first["class"], first["href"]) == (["skip"], "#today")
    for region in PAGE.find_all(class_="scroll"):
        assert region["tabindex"] == "0"
        assert region["aria-label"]


def test_every_table_has_a_caption_and_scopes() -> None:
    """Rows and columns are named for those who hear them."""
    tables = PAGE.find_all("table")
    assert len(tables) > 5
    for table in tables:
        assert table.find("caption")
        assert all(head.get("scope") in {"row", "col"} for head in table.find_all("th"))


def test_pictures_are_said_in_words() -> None:
    """Each picture has a text alternative and its numbers near by."""
    pictures = PAGE.find_all(role="img")
    assert len(pictures) == 2
    assert "The coldest is the night from Wed 27 Mar" in str(pictures[0]["aria-label"])
    assert "First: European larch" in str(pictures[1]["aria-label"])
    assert all(len(picture.find_all("svg")) == 2 for picture in pictures)


def test_todays_work_comes_first_and_urgent_work_before_the_rest() -> None:
    """The frost of tonight is marked; the wire check of April is not for today."""
    last = an_entry("last", title="Last day: repot the elm", span=Days(date(2013, 3, 9), ON))
    plan = a_plan()
    html = page(replace(plan, entries=(last, *plan.entries)))
    today = html.find(id="today")
    assert today is not None
    titles = [head.get_text() for head in today.find_all("h3")]
    assert titles == [
        "Frost −2 °C tonight: bring in 2 trees with fresh roots",
        "Last day: repot the elm",
    ]
    assert "Open besides, without haste: 1 entry" in chapter(html, "today")
    assert [item.h3.get_text() for item in today.find_all(class_="urgent") if item.h3] == titles[:1]
    assert "Check the wire on 2 trees" in chapter(html, "soon")
    assert "Lower bench" in chapter(html, "today")
    assert "Wed 27 Mar 16:00 to Thu 28 Mar 08:00" in chapter(html, "today")


def test_what_is_cancelled_or_far_is_not_for_today() -> None:
    """Only entries that hold, are near in urgency, and cover the day."""
    plan = a_plan()
    kept = (
        an_entry("a", title="Gone", status=EntryStatus.CANCELLED),
        an_entry("b", title="Later", urgency=Urgency.FUTURE, kind=CareKind.WIRE),
    )
    html = page(replace(plan, entries=kept))
    assert "Nothing needs a hand today." in chapter(html, "today")
    assert "Gone" not in html.get_text()
    assert "Later" in chapter(html, "wire")


def test_each_window_says_how_it_stands_today() -> None:
    """Open with days left, opening later, or waiting with the reason."""
    plan = a_plan(each=1)
    waiting = replace(plan.advice[-1], blocked="the tree is weak")
    table = chapter(page(replace(plan, advice=(*plan.advice[:-1], waiting))), "repot")
    assert "European larch 1, European larch 16 Mar to 6 Apr" in table
    assert "open, 10 days left" in table
    assert "opens in 9 days" in table
    assert "wait: the tree is weak" in table


def test_what_was_put_off_says_why() -> None:
    """The tree, the work, the reason."""
    text = chapter(PAGE, "waiting")
    assert "Wire: check the wire" in text
    assert "wait until 20 Sep: the roots were cut six days ago" in text
    assert "Japanese maple 2" in text


def test_each_tree_has_its_numbers_and_their_sources() -> None:
    """Fifteen trees, each with stages, findings, rule and sources."""
    trees = PAGE.find_all("details", class_="tree")
    assert len(trees) == 15
    text = " ".join(trees[0].get_text(" ").split())
    assert "Buds open (BBCH 07)" in text
    assert "Fu et al. 2012" in text
    assert "rule: repot R20" in text
    assert "likely, about 60 in 100" in text


def test_the_weather_says_from_whom_how_old_and_what_was_not_believed() -> None:
    """Provenance, age, remarks, the rejected spike with its rule, and the credit."""
    text = chapter(PAGE, "weather")
    assert "Measured until 27 Mar, 07:00: less than an hour old, fresh." in text
    assert "Only 3 climate years are known" in text
    assert "−10.5 °C" in text
    assert "step between hours" in text
    assert "NOAA Integrated Surface Database, public domain" in text


@pytest.mark.parametrize(
    ("hours", "freshness", "words"),
    [(7, Freshness.STALE, "7 hours old, stale"), (30, Freshness.BLIND, "cannot be judged")],
)
def test_old_weather_is_said_at_the_top(hours: int, freshness: Freshness, words: str) -> None:
    """A reader must not trust a night that was not seen."""
    picture = a_picture(measured_until=AT - timedelta(hours=hours))
    assert picture.freshness is freshness
    header = page(replace(a_plan(), picture=picture)).find("header")
    assert header is not None
    assert words in header.get_text()


def test_without_weather_the_report_still_stands() -> None:
    """No nights, no season, no measured hour: each part says so in words."""
    plan = a_plan()
    bare = replace(
        plan, outlooks={}, advice=(), entries=(), notices=(),
        picture=a_picture(measured_until=None, provenance=(), rejected=(), remarks=()),
    )  # fmt: skip
    html = page(bare)
    assert "There is no measured weather." in html.get_text()
    assert "The coming nights cannot be seen" in chapter(html, "nights")
    assert "No bud swell can be foreseen" in chapter(html, "season")
    assert "No value was rejected." in chapter(html, "weather")


def test_an_empty_garden_has_a_report() -> None:
    """A garden before its first tree."""
    plan = a_plan()
    garden = a_garden([], name="New")
    empty = replace(plan, garden=garden, outlooks={}, advice=(), entries=())
    assert "0 trees" in page(empty).get_text()


def test_cautions_are_those_that_the_advice_names_with_their_authority() -> None:
    """One safety text, who stands behind it, and none that no advice calls for."""
    assert chapter(PAGE, "cautions") == "Take care Mind sharp-tools. (an authority)"


def test_it_is_advice_and_the_garden_is_said_to_be_invented() -> None:
    """The last words and the first."""
    footer = PAGE.find("footer")
    assert footer is not None
    assert "advice, not a promise" in footer.get_text()
    assert "An invented garden, shown as an example." in PAGE.get_text()
    real = replace(a_plan(), garden=a_garden(a_plan().garden.trees, a_plan().garden.places))
    assert "invented" not in page(real).get_text()


def test_the_same_plan_gives_the_same_page() -> None:
    """Nothing comes from the clock or from chance."""
    assert write_report(a_plan()) == TEXT


@settings(max_examples=15)
@given(ANY_TEXT)
def test_no_text_becomes_markup(text: str) -> None:
    """Names and bodies are shown as they are, never obeyed."""
    evil = f"<script>x</script>{text}"
    plan = a_plan(each=1)
    named = a_tree("ok", note="n").model_copy(update={"name": evil})
    garden = plan.garden.model_copy(update={"trees": (named, *plan.garden.trees)})
    entry = an_entry(title=evil, body=evil, place=evil, trees=("ok",), urgency=Urgency.IMMEDIATE)
    html = page(replace(plan, garden=garden, entries=(entry,)))
    assert not html.find_all("script")
    assert "<script>x</script>" in chapter(html, "today")


COLOURS = re.compile(r"--(paper|ink|soft|line|accent): (#[0-9a-f]{3,6})")


def _luminance(colour: str) -> float:
    """Return the relative luminance of WCAG 2.2."""
    full = colour if len(colour) == 7 else "#" + "".join(sign * 2 for sign in colour[1:])
    parts = [int(full[index : index + 2], 16) / 255 for index in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_text_is_legible_in_light_dark_and_print() -> None:
    """Contrast of at least 4.5 (WCAG 2.2, success criterion 1.4.3) in each set of colours."""
    sets = [dict(COLOURS.findall(block)) for block in re.findall(r":root \{[^}]*\}", TEXT)]
    assert len(sets) == 3
    for colours in sets:
        for name in ("ink", "soft", "accent"):
            dark, light = sorted((_luminance(colours[name]), _luminance(colours["paper"])))
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (name, colours)


def _a_warning(**changes: Any) -> OfficialWarning:
    given: dict[str, Any] = {
        "key": "KOKX.FZ.W.0003.2013", "issuer": "NWS New York NY", "event": "Freeze Warning",
        "headline": "Freeze Warning <tonight>", "description": "Lows of 27.\n\nCover plants.",
        "instruction": "", "area": "Queens", "severity": Severity.MODERATE, "urgency": "Expected",
        "certainty": "Likely", "sent": AT, "onset": AT, "ends": AT + timedelta(hours=20),
        "expires": None, "link": "https://alerts.weather.gov/",
    }  # fmt: skip
    return OfficialWarning(**{**given, **changes})


def test_an_official_warning_is_shown_verbatim_with_issuer_and_link() -> None:
    """Its own words, escaped as markup, beside our advice; one that is over is not shown."""
    over = _a_warning(headline="Old Watch", ends=AT - timedelta(hours=1))
    text = write_report(a_plan(picture=a_picture(warnings=(_a_warning(), over))))
    assert "Freeze Warning &lt;tonight&gt;" in text
    assert "NWS New York NY" in text
    assert 'href="https://alerts.weather.gov/"' in text
    assert "Lows of 27." in text
    assert "Old Watch" not in text


def test_without_official_warnings_there_is_no_such_chapter() -> None:
    """Neither heading nor link to it."""
    assert "Official warnings" not in TEXT
