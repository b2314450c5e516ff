"""What the templates show of a notice: every text cleaned, in the reader's units and words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby
from textwrap import fill
from typing import Final

from babel.dates import format_datetime

from mebuki.agenda.entry import Notice, NoticeLine, NoticeStep
from mebuki.domain.customs import as_read, reads_like_ours
from mebuki.domain.garden import Garden
from mebuki.domain.quantity import SEPARATOR, Units
from mebuki.domain.text import one_line, plain
from mebuki.mail.phrases import Phrases

CREDIT, OFFICIAL = "Credit", "Official warning"
"""Labels of facts that are told apart from the numbers, word for word."""

LISTED: Final = 12
"""Names up to which each has a line of its own; more follow one another."""

WIDE, INDENT = 72, "    "
"""Signs of a line of names that follow one another in plain text, and what stands before it."""

ASKING: Final = (NoticeStep.PREPARE, NoticeStep.ACT)


@dataclass(frozen=True, slots=True)
class Reading:
    """How a reader's mails are written."""

    units: Units
    say: Phrases


def notice_page(garden: Garden, notice: Notice, reading: Reading) -> dict[str, object]:
    """Return what the templates show."""
    told = teller(garden, notice, reading.units)
    say = reading.say
    harm = say.harms.get(notice.kind) if notice.kind and notice.step in ASKING else None
    return {
        "say": say,
        "garden": one_line(garden.name),
        "invented": garden.invented,
        "step": say.steps[notice.step],
        "act": notice.step is NoticeStep.ACT,
        "digest": notice.step is NoticeStep.DIGEST,
        "subject": one_line(told(notice.subject)),
        "lead": plain(told(notice.lead)),
        "groups": [
            (one_line(told(heading)), [_item(line, told) for line in lines])
            for heading, lines in groupby(notice.lines, key=lambda line: line.heading)
        ],
        "asked": say.asked_then if notice.step is NoticeStep.PREPARE and notice.lines else "",
        "harm": harm,
        "facts": _facts(notice, told),
        "official": [_warning(value) for label, value in notice.facts if label == OFFICIAL],
        "cautions": [plain(told(caution)) for caution in notice.cautions],
        "credits": [_credit(value, say) for label, value in notice.facts if label == CREDIT],
        "moment": _moment(garden, notice, reading),
    }


def teller(garden: Garden, notice: Notice, units: Units) -> Callable[[str], str]:
    """Return what puts the texts of a notice into a reader's units, names left as they are."""
    given = (garden.name, *(each.name for each in garden.places), *_trees(garden))
    names = tuple(name for name in given if reads_like_ours(name))
    return lambda text: as_read(text, units, notice.exact, names)


def _trees(garden: Garden) -> Sequence[str]:
    return [tree.name for tree in garden.trees]


def _item(line: NoticeLine, told: Callable[[str], str]) -> dict[str, object]:
    trees = [one_line(tree) for tree in line.trees]
    return {
        "deed": plain(told(line.deed)),
        "trees": trees,
        "run": _run(trees),
    }


def _run(names: Sequence[str]) -> str:
    """Return names one after another on lines of plain text, none of them broken in two."""
    whole = ", ".join(name.replace(" ", "\xa0") for name in names)
    told = fill(whole, WIDE, initial_indent=INDENT, subsequent_indent=INDENT,
                break_long_words=False, break_on_hyphens=False)  # fmt: skip
    return told.replace("\xa0", " ")


def _facts(notice: Notice, told: Callable[[str], str]) -> list[tuple[str, str]]:
    """Return labels and values; a label takes part, since it may say what the number is."""
    found = []
    for label, value in notice.facts:
        if label not in (CREDIT, OFFICIAL):
            one, _, other = told(f"{label}{SEPARATOR}{value}").partition(SEPARATOR)
            found.append((_begun(one_line(one)), plain(other)))
    return found


def _begun(label: str) -> str:
    """Return a label with a capital letter at its beginning."""
    return label[:1].upper() + label[1:]


def _warning(text: str) -> tuple[str, str]:
    """Return an official warning word for word, and its address apart."""
    told = one_line(text)
    words, _, last = told.rpartition(" ")
    return (words, last) if last.startswith(("https://", "http://")) else (told, "")


def _credit(text: str, say: Phrases) -> str:
    """Return to whom weather is owed, word for word; named as weather where it does not say so."""
    told = one_line(text)
    named = told.lower().startswith(say.credits_.lower())
    return told if named else f"{say.credits_}: {told}"


def _moment(garden: Garden, notice: Notice, reading: Reading) -> str:
    say = reading.say
    pattern, locale = (say.moment, say.language)
    if reading.units == "us":
        pattern, locale = say.moment_us, f"{say.language}_US"
    told = format_datetime(notice.at, pattern, tzinfo=garden.site.zone, locale=locale)
    return one_line(as_read(told, reading.units))
