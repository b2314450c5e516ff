"""What readers are told when the service itself cannot work on their garden."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from mebuki.agenda.entry import Notice, NoticeStep


def trouble_notice(on: date, at: datetime) -> Notice:
    """Return the word that a garden is not watched today; once a day by its key."""
    return Notice(
        key=f"trouble:{on.isoformat()}:{NoticeStep.BLIND}",
        thread="trouble",
        step=NoticeStep.BLIND,
        kind=None,
        subject="This garden could not be worked on: look at a forecast yourself",
        lead="A fault keeps the service from planning. No warning of frost, heat or drought "
        "will come until it is mended.",
        lines=(),
        facts=(
            ("What to do", "Tell whoever runs this service; the reason stands in its log."),
            ("The calendar", "shows what was known before, and may be out of date."),
        ),
        cautions=(),
        at=at,
        useful_until=at + timedelta(days=1),
    )
