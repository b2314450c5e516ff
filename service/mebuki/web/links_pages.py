"""One page for each purpose of a link: what a visit shows, and what a form does."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from mebuki.agenda.entry import Notice, NoticeStep
from mebuki.domain.advice import CareKind
from mebuki.domain.text import one_line
from mebuki.domain.wording import dated
from mebuki.mail.links import Purpose
from mebuki.mail.notice_page import Reading, notice_page, teller
from mebuki.mail.phrases import phrases
from mebuki.storage.acknowledgements import Seen
from mebuki.web.links_desk import DEEDS, LONGEST_AGO, DeedError, LinkDesk, Visit
from mebuki.web.links_forms import Form
from mebuki.web.links_render import Page, plain_page
from mebuki.web.links_scores import scores

Answer = Callable[[LinkDesk, Visit, Form | None], Page]
"""What a purpose answers to a visit, without a form (looking) or with one (acting)."""

DANGERS: Final = frozenset(
    {CareKind.FROST, CareKind.WINTER, CareKind.HEAT, CareKind.WIND, CareKind.WATER}
)
"""Kinds of which a mail may be the only warning."""


def see(desk: LinkDesk, visit: Visit, form: Form | None) -> Page:
    """Show a notice; there is nothing to send here."""
    if form is not None:
        return plain_page(405, "Nothing to send here", "This page can only be read.", allow="GET")
    shown = desk.shown(visit)
    notice = shown.notice
    if notice is None:
        text = "The words of this mail are not kept any more. The mail itself says all of it."
        return plain_page(410, "Not kept any more", text)
    values = notice_page(visit.garden, notice, _reading(visit))
    picture = desk.picture(visit, notice)
    values |= {
        "picture": picture
        and {
            "address": f"data:image/png;base64,{b64encode(picture.png).decode()}",
            "text": picture.text,
        },
        "seen": _seen(visit, shown.seen),
        "acknowledge": _acknowledge(desk, visit, notice, shown.seen),
        "record": desk.token(visit, Purpose.RECORD, notice) if notice.lines else None,
        "scores": desk.token(visit, Purpose.SCORES, notice),
    }
    return Page("see", values)


def acknowledge(desk: LinkDesk, visit: Visit, form: Form | None) -> Page:
    """Ask whether a notice was seen, or note that it was."""
    if form is not None:
        desk.acknowledge(visit)
    shown = desk.shown(visit)
    notice = shown.notice
    subject, record = "", None
    if notice is not None:
        told = teller(visit.garden, notice, visit.reader.units)
        subject = one_line(told(notice.subject))
        record = desk.token(visit, Purpose.RECORD, notice) if notice.lines else None
    return Page(
        "acknowledge",
        {
            "garden": visit.garden.name,
            "done": form is not None,
            "alone": len(visit.garden.subscribers) == 1,
            "subject": subject,
            "seen": _seen(visit, shown.seen),
            "record": record,
        },
    )


def record(desk: LinkDesk, visit: Visit, form: Form | None) -> Page:
    """Ask what was done, or record it."""
    if form is None:
        trees = desk.trees(visit)
        chosen = {tree.id for tree in trees} if len(trees) < len(visit.garden.trees) else set()
        return _record_page(desk, visit, Form({"tree": tuple(chosen)}))
    try:
        entered = desk.record(visit, form)
    except DeedError as error:
        return _record_page(desk, visit, form, fault=str(error))
    deed = entered.deed
    places = {place.id: place.name for place in visit.garden.places}
    return Page(
        "recorded",
        {
            "garden": visit.garden.name,
            "new": entered.new,
            "words": DEEDS[deed.kind],
            "place": places.get(deed.place or "", ""),
            "day": dated(deed.on),
            "names": entered.names,
        },
    )


def leave(desk: LinkDesk, visit: Visit, form: Form | None) -> Page:
    """Show how to stop mails, or stop them; a mailer's one click stops what the link is about."""
    kind = visit.ticket.about
    if form is not None:
        _choose(desk, visit, form)
    consent = desk.consent(visit)
    left_all, left_kind = consent.left_at is not None, kind in consent.left_kinds
    heading = "Stop mails of this garden"
    if left_all or (kind and left_kind):
        heading = "Mails are stopped"
    elif form is not None and form.one("choice").startswith("rejoin"):
        heading = "Mails come again"
    return Page(
        "leave",
        {
            "garden": visit.garden.name,
            "heading": heading,
            "left": left_all,
            "left_kind": left_kind,
            "topic": phrases(visit.reader.language).topics.get(kind, kind),
            "warns": kind in DANGERS or kind == NoticeStep.BLIND,
        },
    )


def confirm(desk: LinkDesk, visit: Visit, form: Form | None) -> Page:
    """Ask whether mails are wanted, or note that they are."""
    if form is not None:
        desk.confirm(visit)
    consent = desk.consent(visit)
    state, heading = "asked", "Do you want the mails of this garden?"
    if consent.left_at is not None:
        state, heading = "left", "Mails are stopped"
    elif consent.confirmed_at is not None:
        state, heading = "confirmed", "Thank you"
    return Page("confirm", {"garden": visit.garden.name, "heading": heading, "state": state})


PAGES: Final[Mapping[Purpose, Answer]] = {
    Purpose.SEE: see,
    Purpose.ACKNOWLEDGE: acknowledge,
    Purpose.RECORD: record,
    Purpose.LEAVE: leave,
    Purpose.CONFIRM: confirm,
    Purpose.SCORES: scores,
}


def _choose(desk: LinkDesk, visit: Visit, form: Form) -> None:
    kind, choice = visit.ticket.about, form.one("choice")
    if form.one_click or choice == "kind":
        desk.leave(visit, kind)
    elif choice == "all":
        desk.leave(visit, "")
    elif choice == "rejoin":
        desk.rejoin(visit, "")
    elif choice == "rejoin-kind" and kind:
        desk.rejoin(visit, kind)


def _record_page(desk: LinkDesk, visit: Visit, form: Form, fault: str = "") -> Page:
    today = visit.today
    values = {
        "garden": visit.garden.name,
        "fault": fault,
        "deeds": list(DEEDS.items()),
        "kind": form.one("kind"),
        "places": [(place.id, one_line(place.name)) for place in visit.garden.places],
        "place": form.one("place"),
        "day": form.one("day") or today.isoformat(),
        "first": (today - LONGEST_AGO).isoformat(),
        "last": today.isoformat(),
        "trees": desk.trees(visit),
        "chosen": form.all("tree"),
    }
    return Page("record", values, 422 if fault else 200)


def _reading(visit: Visit) -> Reading:
    return Reading(visit.reader.units, phrases(visit.reader.language))


def _seen(visit: Visit, seen: Sequence[Seen]) -> list[dict[str, str]]:
    zone = visit.garden.site.zone
    told = [(each.name, each.at.astimezone(zone)) for each in seen]
    return [{"name": one_line(name), "at": f"{dated(at.date())}, {at:%H:%M}"} for name, at in told]


def _acknowledge(desk: LinkDesk, visit: Visit, notice: Notice, seen: Sequence[Seen]) -> str | None:
    """Return the token to say that a notice was seen; none where that was said already."""
    if any(each.by(visit.reader) for each in seen):
        return None
    return desk.token(visit, Purpose.ACKNOWLEDGE, notice)
