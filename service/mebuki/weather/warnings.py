"""Official warnings as they come: read whole, worded as issued, and followed to their end.

Two families: the Common Alerting Protocol, in which an update or a
cancellation names the messages it follows (`references`), and the event codes
of the US service (VTEC), which name office, phenomenon, significance and
number, and say in a word whether the event is new, goes on, or is cancelled.
A message of type *Update* may carry a cancellation.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from xml.etree import ElementTree as ET

from mebuki.domain.warning import OfficialWarning, Severity
from mebuki.weather.answers import ProviderError, mapping, moment, read_json, sequence, text

MOST_WARNINGS = 500
MOST_XML = 1_000_000
"""Bytes of a message in XML, at most."""

_VTEC = re.compile(
    r"/([OTEX])\.([A-Z]{3})\.([A-Z]{4})\.([A-Z]{2})\.([A-Z])\.(\d{4})\."
    r"(\d{2})\d{4}T\d{4}Z-(\d{6}T\d{4}Z)/",
    re.ASCII,
)
_OVER = {"CAN", "EXP"}
"""Words for an event that is off. A watch that was upgraded (UPG) stays beside the warning
until it runs out: rather one line too many than a warning lost."""

_CAP = "{urn:oasis:names:tc:emergency:cap:1.2}"


@dataclass(frozen=True, slots=True)
class Message:
    """One message about an event, before it is known which message is the last word.

    ``keys`` are the events it speaks of, ``ids`` its own names, ``replaces``
    the names of messages it follows; ``ended`` says that the event is off.
    """

    ids: frozenset[str]
    keys: tuple[str, ...]
    replaces: frozenset[str]
    ended: bool
    actual: bool
    warning: OfficialWarning


def standing(messages: Iterable[Message], at: datetime) -> tuple[OfficialWarning, ...]:
    """Return the last word on each event that is still to come or in force, soonest first.

    Tests and exercises are left out. A later message on the same event, or one
    that refers to it, takes the place of an earlier one; cancelled events go.
    """
    actual = sorted((one for one in messages if one.actual), key=lambda one: one.warning.sent)
    replaced = frozenset().union(*(one.replaces for one in actual))
    last: dict[str, Message] = {}
    for message in actual:
        for key in message.keys:
            last[key] = message
    current = {id(one): one for one in last.values() if not one.ended and not one.ids & replaced}
    found = [one.warning for one in current.values() if not one.warning.over(at)]
    return tuple(sorted(found, key=lambda one: (one.onset or one.sent, one.event, one.key)))


def parse_nws(content: bytes) -> tuple[Message, ...]:
    """Return the messages of a US answer (GeoJSON with the fields of the protocol).

    Raises
    ------
    ProviderError
        If it is no such answer; one unreadable message refuses it whole, since
        a lost warning would look like calm.
    """
    who = "NWS"
    found = mapping(read_json(content, who), who, "the alerts")
    features = sequence(found.get("features"), who, "features")[:MOST_WARNINGS]
    return tuple(_nws(mapping(one, who, "an alert")) for one in features)


def _nws(feature: Mapping[str, object]) -> Message:
    who = "NWS"
    field = mapping(feature.get("properties"), who, "an alert")
    parameters = field.get("parameters")
    codes = parameters.get("VTEC") if isinstance(parameters, dict) else None
    events = [
        match for code in (codes if isinstance(codes, list) else [])
        if (match := _VTEC.search(text(code)))
    ]  # fmt: skip
    keys = tuple(dict.fromkeys(_event_key(one) for one in events))
    identifier = text(field.get("id"))
    follows = field.get("references")
    replaces = frozenset(
        text(one.get("identifier"))
        for one in (follows if isinstance(follows, list) else [])
        if isinstance(one, dict)
    )
    # Several codes in one message: it is over only if each of its events is.
    over = bool(events) and all(one[2] in _OVER for one in events)
    going_on = [_event_key(one) for one in events if one[2] not in _OVER]
    name = (*going_on, *keys, identifier)[0]
    return Message(
        ids=frozenset({identifier} - {""}),
        keys=keys or (identifier or text(field.get("headline")),),
        replaces=replaces - {""},
        ended=over or field.get("messageType") == "Cancel",
        actual=field.get("status") == "Actual",
        warning=_warning(
            field,
            name,
            who,
            link=text(field.get("@id")) or text(feature.get("id")),
        ),
    )  # fmt: skip


def _event_key(code: re.Match[str]) -> str:
    """Return office, phenomenon, significance and number, with the year the event ends.

    Event numbers start anew each year; a time that is open or past reads 000000.
    """
    year = code[8][:2] if code[8][:2] != "00" else code[7]
    return f"{code[3]}.{code[4]}.{code[5]}.{code[6]}.20{year}"


def parse_bright_sky(content: bytes, link: str) -> tuple[Message, ...]:
    """Return the messages of the German service as Bright Sky hands them on.

    The list holds what is in force; events that ended are no longer in it.

    Raises
    ------
    ProviderError
        If it is no such answer.
    """
    who = "Bright Sky"
    found = mapping(read_json(content, who), who, "the alerts")
    messages = []
    for one in sequence(found.get("alerts"), who, "alerts")[:MOST_WARNINGS]:
        field = dict(mapping(one, who, "an alert"))
        field |= {
            "event": field.get("event_en") or field.get("event_de"),
            "headline": field.get("headline_en") or field.get("headline_de"),
            "description": field.get("description_en") or field.get("description_de"),
            "instruction": field.get("instruction_en") or field.get("instruction_de"),
            "sent": field.get("effective"),
            "senderName": "Deutscher Wetterdienst, by way of Bright Sky",
            "areaDesc": _area(found.get("location")),
        }
        key = text(field.get("alert_id"))
        actual = text(field.get("status")).lower() == "actual"
        warning = _warning(field, key, who, link=link)
        messages.append(
            Message(frozenset({key} - {""}), (key,), frozenset(), False, actual, warning)
        )
    return tuple(messages)


def _area(value: object) -> str:
    return text(value.get("name")) if isinstance(value, dict) else ""


def parse_cap(content: bytes) -> Message:
    """Return the message in a CAP 1.2 document: its first English, else its first, information.

    Raises
    ------
    ProviderError
        If it is no such document. Documents with entities are refused unread.
    """
    who = "CAP"
    if len(content) > MOST_XML or b"<!DOCTYPE" in content or b"<!ENTITY" in content:
        msg = f"{who}: the document is too long or declares entities"
        raise ProviderError(msg)
    try:
        root = ET.fromstring(content)  # noqa: S314 (no entities, short: checked above)
    except (ET.ParseError, ValueError, LookupError, RecursionError) as error:
        msg = f"{who}: the document is no XML"
        raise ProviderError(msg) from error
    if root.tag != f"{_CAP}alert":
        msg = f"{who}: the document is no alert of version 1.2"
        raise ProviderError(msg)
    parts = root.findall(f"{_CAP}info")
    english = [one for one in parts if _word(one, "language").lower().startswith("en")]
    info = (english or parts or [root])[0]
    names = ("event", "headline", "description", "instruction", "severity", "urgency",
             "certainty", "onset", "expires", "senderName")  # fmt: skip
    field: dict[str, object] = {name: _word(info, name) for name in names}
    sender, identifier, sent = (_word(root, one) for one in ("sender", "identifier", "sent"))
    areas = (_word(one, "areaDesc") for one in info.findall(f"{_CAP}area"))
    field |= {"sent": sent, "areaDesc": "; ".join(areas)}
    field["senderName"] = field["senderName"] or sender
    replaces = frozenset(",".join(one.split(",")[:2]) for one in _word(root, "references").split())
    name = f"{sender},{identifier}"
    return Message(
        ids=frozenset({name}),
        keys=(name,),
        replaces=replaces,
        ended=_word(root, "msgType") == "Cancel",
        actual=_word(root, "status") == "Actual",
        warning=_warning(field, name, who, link=_word(info, "web")),
    )


def _word(element: ET.Element, name: str) -> str:
    return (element.findtext(f"{_CAP}{name}") or "").strip()


def _warning(field: Mapping[str, object], key: str, who: str, link: str) -> OfficialWarning:
    sent = moment(field.get("sent"))
    event = text(field.get("event")) or text(field.get("headline"))
    if sent is None or not event or not key:
        msg = f"{who}: a warning without event, time or name"
        raise ProviderError(msg)
    severity = text(field.get("severity")).capitalize()
    return OfficialWarning(
        key=key,
        issuer=text(field.get("senderName")) or who,
        event=event,
        headline=text(field.get("headline")),
        description=text(field.get("description")),
        instruction=text(field.get("instruction")),
        area=text(field.get("areaDesc")),
        severity=Severity(severity) if severity in set(Severity) else Severity.UNKNOWN,
        urgency=text(field.get("urgency")).capitalize(),
        certainty=text(field.get("certainty")).capitalize(),
        sent=sent,
        onset=moment(field.get("onset")),
        ends=moment(field.get("ends")),
        expires=moment(field.get("expires")),
        link=link if link.startswith("https://") else "",
    )
