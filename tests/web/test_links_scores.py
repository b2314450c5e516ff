"""The page that shows how warnings turned out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from mebuki.storage.score_tables import frost_calls
from tests.web.link_desks import Linked, keep_a_spell, linked

DAY = timedelta(days=1)


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Linked]:
    """Return a service with one garden and one notice."""
    with linked(tmp_path) as found:
        yield found


def _page(service: Linked) -> str:
    answer = service.client.get(service.link("scores"))
    assert answer.status_code == 200
    return answer.text


def _rows(page: str) -> dict[str, list[str]]:
    """Return the values of the first table by what their row says."""
    found = {}
    for row in re.findall("<tr>(.*?)</tr>", page.partition("</table>")[0], re.DOTALL):
        words, *values = re.findall("<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL)
        found[words] = values
    return found


def test_without_a_judged_night_the_page_says_so(service: Linked) -> None:
    """No table of noughts."""
    page = _page(service)
    assert "No night has been judged yet." in page
    assert "<table" not in page


def test_a_spell_is_told_in_plain_words_and_in_a_table(service: Linked) -> None:
    """Three harmful nights, two of them told; four calls, two in vain: counted by hand."""
    keep_a_spell(service)
    _mailed(service)
    page = _page(service)
    assert "Of 3 nights that would have harmed trees, 2 were told in time." in page
    assert "Of 4 calls, 2 were in vain." in page
    assert _rows(page) == {
        "What": ["cautious", "balanced", "few"],
        "Nights that would have harmed a tree": ["3", "3", "3"],
        "of these told in time": ["0", "2", "0"],
        "Nights with a call": ["0", "4", "0"],
        "of these in vain": ["0", "2", "0"],
        "Trees harmed: told in time (POD)": ["0 %", "67 %", "0 %"],
        "Trees called: in vain (FAR)": ["–", "50 %", "–"],
        "Time to act, median": ["–", "23 h", "–"],
        "Mailed to readers here": ["–", "yes", "–"],
    }
    assert "10 nights judged, 1 not judged" in page


def _mailed(service: Linked) -> None:
    """Note that every call was mailed and taken at once."""
    told = sa.update(frost_calls).values(mailed=True, told_at=frost_calls.c.called_at)
    with service.database.write() as connection:
        connection.execute(told)


def test_what_nobody_was_mailed_is_told_as_what_would_have_been(service: Linked) -> None:
    """The reader came to the level later."""
    keep_a_spell(service)
    page = _page(service)
    assert "Of 3 nights that would have harmed trees, 2 would have been told in time." in page
    assert _rows(page)["Mailed to readers here"] == ["–", "no", "–"]


def test_mails_that_were_not_sent_are_named(service: Linked) -> None:
    """Nobody was told, whatever was called."""
    keep_a_spell(service)
    with service.database.write() as connection:
        connection.execute(sa.update(frost_calls).values(mailed=True))
    page = _page(service)
    assert "0 were told in time" in page
    assert "For 4 nights no mail could be sent; they count as not told." in page


def test_what_cannot_be_judged_is_said(service: Linked) -> None:
    """No thermometer stands in the pots."""
    assert "no thermometer stands in the pots" in _page(service)


def test_the_page_can_only_be_read(service: Linked) -> None:
    """A form is refused and changes nothing."""
    before = service.rows()
    answer = service.client.post(service.link("scores"), data={"a": "b"})
    assert (answer.status_code, answer.headers["allow"]) == (405, "GET")
    assert service.rows() == before


def test_the_page_of_a_notice_leads_there(service: Linked) -> None:
    """By a link of the same reader, that holds as long as the notice's own."""
    page = service.client.get(service.link("see")).text
    (path,) = re.findall(r'href="\.\.(/scores/[^"]+)"', page)
    assert service.client.get(f"/m{path}").status_code == 200
    service.clock.moment += 61 * DAY
    assert service.client.get(f"/m{path}").status_code == 410
