"""Text from people, made fit for any format."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.text import one_line, plain


@pytest.mark.parametrize(
    ("given_text", "wanted"),
    [
        ("a\r\nb\rc\nd", "a\nb\nc\nd"),
        ("a\u2028b\u2029c\x85d", "a\nb\nc\nd"),
        ("a\x00b\x07\x1b[31m", "ab[31m"),
        ("a\tb", "a b"),
        ("\ufeffa", "a"),
        ("\ud800", "\ufffd"),
        ("שלום 🌱 é", "שלום 🌱 é"),
    ],
)
def test_only_line_breaks_and_readable_signs_stay(given_text: str, wanted: str) -> None:
    """Every kind of break becomes one; what cannot be read is dropped."""
    assert plain(given_text) == wanted


@given(st.text(alphabet=st.characters()))
def test_cleaning_twice_is_cleaning_once_and_can_be_encoded(text: str) -> None:
    """The result is stable, and every encoding of Unicode can hold it."""
    once = plain(text)
    assert plain(once) == once
    assert once.encode("utf-8").decode("utf-8") == once
    assert len(one_line(text).splitlines()) <= 1
