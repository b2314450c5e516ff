"""The page that shows a reader how warnings of frost turned out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Final

from mebuki.agenda.scored import Account, LevelRecord, level_records
from mebuki.domain.garden import Caution
from mebuki.domain.wording import count_text, dated
from mebuki.web.links_desk import LinkDesk, Visit
from mebuki.web.links_forms import Form
from mebuki.web.links_render import Page, plain_page

SEASONS: Final = ("This season", "Last season")

OPEN_NIGHTS: Final = timedelta(days=1)
"""The newest night is not measured to its end before the next morning."""


def scores(desk: LinkDesk, visit: Visit, form: Form | None) -> Page:
    """Show how warnings turned out; there is nothing to send here."""
    if form is not None:
        return plain_page(405, "Nothing to send here", "This page can only be read.", allow="GET")
    accounts = zip(SEASONS, desk.scores(visit), strict=True)
    level = visit.reader.notice_level
    shown = [
        _season(f"{name}, from {dated(first)}", account, level, visit.today)
        for name, (first, account) in accounts
    ]
    return Page("scores", {"garden": visit.garden.name, "level": level, "seasons": shown})


def _season(heading: str, account: Account, level: Caution, today: date) -> dict[str, object]:
    records = level_records(account)
    mine = next(each for each in records if each.level == level)
    return {
        "heading": heading,
        "judged": len(account.judged),
        "unjudged": account.unjudged(today - OPEN_NIGHTS),
        "sentences": _sentences(mine) if account.judged else [],
        "levels": [each.level for each in records],
        "rows": _rows(records),
    }


def _rows(records: Sequence[LevelRecord]) -> list[tuple[str, list[str]]]:
    """Return the rows of the table, each with a value for every level."""
    return [
        ("Nights that would have harmed a tree", [str(each.harmful) for each in records]),
        ("of these told in time", [str(each.warned) for each in records]),
        ("Nights with a call", [str(each.calls) for each in records]),
        ("of these in vain", [str(each.vain) for each in records]),
        ("Trees harmed: told in time (POD)", [_share(each.table.pod) for each in records]),
        ("Trees called: in vain (FAR)", [_share(each.table.far) for each in records]),
        ("Time to act, median", [_hours(each.lead_hours) for each in records]),
        ("Mailed to readers here", [_mailed(each) for each in records]),
    ]


def _sentences(mine: LevelRecord) -> Sequence[str]:
    """Return in plain words how a reader's own level did."""
    untold = mine.calls and not mine.mailed
    told = "would have been told" if untold else "were told" if mine.warned != 1 else "was told"
    found = ["No night would have harmed a tree left where it stood."]
    if mine.harmful:
        nights = count_text(mine.harmful, "night")
        found = [f"Of {nights} that would have harmed trees, {mine.warned} {told} in time."]
    if mine.calls:
        calls = "1 call" if mine.calls == 1 else f"{mine.calls} calls"
        found.append(f"Of {calls}, {mine.vain} {'was' if mine.vain == 1 else 'were'} in vain.")
    if mine.unsent:
        nights = count_text(mine.unsent, "night")
        found.append(f"For {nights} no mail could be sent; they count as not told.")
    return found


def _share(value: float) -> str:
    return "–" if math.isnan(value) else f"{100 * value:.0f} %"


def _hours(value: float | None) -> str:
    return "–" if value is None else f"{value:.0f} h"


def _mailed(record: LevelRecord) -> str:
    if not record.calls and not record.mailed:
        return "–"
    if not record.mailed:
        return "no"
    return "yes" if record.mailed >= record.calls else f"{record.mailed} of {record.calls} nights"
