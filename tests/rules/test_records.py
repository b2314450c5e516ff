"""Contradictory records as advice."""

from __future__ import annotations

from mebuki.rules import records
from tests.builders import a_case


def test_records_in_doubt_are_named_to_be_mended() -> None:
    """Each with its day and what is wrong; once a month."""
    (advice,) = records.advise(a_case(doubts=["fed on 1 Apr 2012: the tree came to you later"]))
    assert (advice.action, advice.cycle) == ("mend-records", "2013-03")
    assert "fed on 1 Apr 2012" in advice.fact
    assert "not used" in advice.deed
    assert len(advice.reasons) == 1


def test_a_sound_history_asks_for_nothing() -> None:
    """No doubt, no advice."""
    assert records.advise(a_case()) == ()
