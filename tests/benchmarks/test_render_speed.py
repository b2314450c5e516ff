"""Speed of writing mails: one core, parts shared by the readers of a garden written once."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest

from mebuki.domain.garden import Garden, Subscriber
from mebuki.mail.compose import MailWriter
from mebuki.pictures.for_mail import MailPictures
from tests.builders import a_garden, a_subscriber
from tests.mail.letters import HOST, SENDER, FakeLinks, notices
from tests.plans import a_notice, a_plan, some_trees

GARDENS, READERS = 300, 10
LEAST_A_SECOND = 300
"""Mails a second that a frost night of 10,000 readers needs, with room to send them."""


def _gardens() -> list[tuple[Garden, list[Subscriber]]]:
    trees = some_trees(10)
    return [
        (
            a_garden(trees, id=f"garden-{number}", name=f"Garden no. {number}"),
            [
                a_subscriber(
                    name=f"Reader {reader}", email=f"reader{reader}@garden{number}.example",
                    units="us" if reader % 2 else "metric",
                )
                for reader in range(READERS)
            ],
        )
        for number in range(GARDENS)
    ]  # fmt: skip


@pytest.mark.benchmark
def test_mails_are_written_fast_enough() -> None:
    """Ten readers a garden in two systems of units, with links and the picture of the night."""
    pictures, plan = MailPictures(), a_plan()
    begun = time.perf_counter()
    drawn = {
        units: pictures.draw(plan, a_notice(chart="nights"), units) for units in ("metric", "us")
    }
    drawing = (time.perf_counter() - begun) / len(drawn)
    writer, notice = MailWriter(SENDER, HOST, FakeLinks()), notices()["act"]
    gardens = _gardens()
    begun = time.perf_counter()
    size = 0
    for number, (garden, readers) in enumerate(gardens):
        of_garden = replace(notice, subject=f"{notice.subject} ({number})")
        for reader in readers:
            letter = writer.write(garden, of_garden, reader, drawn[reader.units])
            size += len(letter.content)
    took = time.perf_counter() - begun
    speed = GARDENS * READERS / took
    print(  # noqa: T201 - the figure of a benchmark
        f"\n{speed:.0f} mails/s of {size / GARDENS / READERS / 1000:.0f} kB; "
        f"{1000 * drawing:.0f} ms a picture"
    )
    assert speed > LEAST_A_SECOND
