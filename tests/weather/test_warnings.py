"""Official warnings: verbatim, followed through updates and cancellations to their end."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from mebuki.domain.warning import OfficialWarning, Severity
from mebuki.weather.answers import ProviderError
from mebuki.weather.warnings import Message, parse_bright_sky, parse_cap, parse_nws, standing
from tests.weather.provider_samples import changed, sample
from tests.weather.series import utc

ALERTS = "nws_alerts.json"
CAP = "cap_1_2_freeze_warning.xml"
NOW = utc(2026, 3, 24, 20)


def vtec(index: int, code: str) -> tuple[tuple[str | int, ...], object]:
    """Return the step that gives an alert of the sample another event code."""
    return ("features", index, "properties", "parameters", "VTEC"), [code]


def test_of_three_messages_the_two_that_stand_are_left() -> None:
    """A warning that was updated and an advisory stand; the watch was cancelled."""
    found = standing(parse_nws(sample(ALERTS)), NOW)
    assert [one.event for one in found] == ["Freeze Warning", "Frost Advisory"]
    freeze = found[0]
    assert freeze.issuer == "NWS Mount Holly NJ"
    assert freeze.sent == utc(2026, 3, 24, 18).replace(minute=2)
    assert (freeze.onset, freeze.ends) == (utc(2026, 3, 25, 4), utc(2026, 3, 25, 13))
    assert freeze.key == "KPHI.FZ.W.0003.2026"
    assert freeze.severity is Severity.MODERATE
    assert freeze.link.startswith("https://api.weather.gov/alerts/")


def test_the_words_are_those_of_the_issuer() -> None:
    """No text is shortened, joined or translated."""
    properties = json.loads(sample(ALERTS))["features"][0]["properties"]
    (freeze,) = (one for one in standing(parse_nws(sample(ALERTS)), NOW) if "Freeze" in one.event)
    assert freeze.headline == properties["headline"]
    assert freeze.description == properties["description"]
    assert freeze.instruction == properties["instruction"]
    assert freeze.area == properties["areaDesc"]


def test_an_update_may_carry_a_cancellation() -> None:
    """A message of type Update whose event code says CAN ends the event."""
    code = "/O.CAN.KPHI.FZ.W.0003.260325T0400Z-260325T1300Z/"
    found = standing(parse_nws(changed(ALERTS, vtec(0, code))), NOW)
    assert [one.event for one in found] == ["Frost Advisory"]


def test_an_update_that_ends_a_watch_and_begins_a_warning_stands() -> None:
    """With several codes the message is over only when each of them is."""
    path = ("features", 0, "properties", "parameters", "VTEC")
    codes = [
        "/O.CAN.KPHI.FZ.A.0003.260325T0400Z-260325T1300Z/",
        "/O.NEW.KPHI.FZ.W.0007.260325T0400Z-260325T1300Z/",
    ]
    found = standing(parse_nws(changed(ALERTS, (path, codes))), NOW)
    assert found[0].key == "KPHI.FZ.W.0007.2026"


def test_the_same_event_under_a_new_message_is_one_warning() -> None:
    """Office, phenomenon, significance, number and year name the event; the later one counts."""
    found = json.loads(sample(ALERTS))
    later = json.loads(json.dumps(found["features"][0]))
    later["properties"] |= {
        "id": "urn:oid:later", "references": [], "sent": "2026-03-24T15:00:00-04:00",
        "headline": "Extended",
    }  # fmt: skip
    later["properties"]["parameters"]["VTEC"] = ["/O.EXT.KPHI.FZ.W.0003.000000T0000Z-260325T1500Z/"]
    found["features"].append(later)
    texts = [one.headline for one in standing(parse_nws(json.dumps(found).encode()), NOW)]
    assert "Extended" in texts
    assert len(texts) == 2


def test_tests_and_exercises_are_no_warnings() -> None:
    """Only the status Actual counts."""
    content = changed(ALERTS, (("features", 0, "properties", "status"), "Test"))
    assert [one.event for one in standing(parse_nws(content), NOW)] == ["Frost Advisory"]


def test_an_event_is_over_at_its_end_not_when_the_message_expires() -> None:
    """The message of the freeze runs out at 02:15 UTC, the freeze at 13 UTC."""
    messages = parse_nws(sample(ALERTS))
    at_night = [one.event for one in standing(messages, utc(2026, 3, 25, 8))]
    after = [one.event for one in standing(messages, utc(2026, 3, 25, 13))]
    assert at_night == ["Freeze Warning", "Frost Advisory"]
    assert after == ["Frost Advisory"]


def test_an_unreadable_warning_refuses_the_answer() -> None:
    """Left out, it would look like calm."""
    with pytest.raises(ProviderError, match="without event, time or name"):
        parse_nws(changed(ALERTS, (("features", 1, "properties", "sent"), "soon")))


def test_german_warnings_are_read_and_linked() -> None:
    """A frost warning with its times; the link leads to the official page."""
    messages = parse_bright_sky(sample("brightsky_alerts.json"), "https://www.dwd.de/warnungen")
    (frost,) = standing(messages, utc(2026, 3, 24, 18))
    assert (frost.event, frost.headline) == ("frost", "Official WARNING of FROST")
    assert frost.issuer.startswith("Deutscher Wetterdienst")
    assert (frost.onset, frost.expires) == (utc(2026, 3, 24, 20), utc(2026, 3, 25, 8))
    assert (frost.severity, frost.area) == (Severity.MINOR, "Stadt Münster")
    assert frost.link == "https://www.dwd.de/warnungen"
    assert standing(messages, utc(2026, 3, 25, 8)) == ()


def test_a_message_in_xml_is_read() -> None:
    """A CAP 1.2 document with one information and one area."""
    message = parse_cap(sample(CAP))
    assert message.warning.event == "Freeze Warning"
    assert message.warning.issuer == "Example Weather Service"
    assert message.warning.area == "Example county"
    assert message.warning.onset == utc(2026, 3, 25, 4)
    assert message.ids == {"example@example.org,EXAMPLE-2026-0001"}
    assert standing([message], NOW) == (message.warning,)


@pytest.mark.parametrize("kind", ["Update", "Cancel"])
def test_a_message_in_xml_takes_the_place_of_those_it_refers_to(kind: str) -> None:
    """An update is the last word; after a cancellation nothing is left."""
    first = sample(CAP)
    refers = (
        b"<references>example@example.org,EXAMPLE-2026-0001,2026-03-24T14:02:00-04:00</references>"
    )
    then = (
        first.replace(b"EXAMPLE-2026-0001", b"EXAMPLE-2026-0002")
        .replace(b"14:02:00-04:00</sent>", b"16:00:00-04:00</sent>")
        .replace(b"<msgType>Alert", b"<msgType>" + kind.encode())
        .replace(b"<scope>Public</scope>", b"<scope>Public</scope>" + refers)
    )
    found = standing([parse_cap(first), parse_cap(then)], NOW)
    assert [one.key for one in found] == (
        ["example@example.org,EXAMPLE-2026-0002"] if kind == "Update" else []
    )


def test_a_document_with_entities_is_refused_unread() -> None:
    """A few bytes of entities could grow to gigabytes."""
    bomb = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>'
    with pytest.raises(ProviderError, match="declares entities"):
        parse_cap(bomb)


def test_a_link_that_is_not_https_is_not_shown() -> None:
    """Foreign text never becomes a link of another kind."""
    steps = ((("features", 0, "properties", "@id"), "javascript:alert(1)"),)
    found = parse_nws(changed(ALERTS, *steps))
    assert found[0].warning.link == ""


def a_message(key: str, sent: datetime, *, ended: bool = False) -> Message:
    """Return a message about one event."""
    warning = OfficialWarning(
        key=key, issuer="office", event="Freeze", headline="", description="", instruction="",
        area="", severity=Severity.MINOR, urgency="", certainty="", sent=sent, onset=None,
        ends=sent + timedelta(days=1), expires=None, link="",
    )  # fmt: skip
    return Message(frozenset({f"{key}@{sent}"}), (key,), frozenset(), ended, True, warning)


def test_messages_out_of_order_give_the_same() -> None:
    """The time a message was sent decides, not its place in the list."""
    first, then = a_message("k", NOW), a_message("k", NOW + timedelta(minutes=5), ended=True)
    assert standing([then, first], NOW) == ()
    newer = replace(first, warning=replace(first.warning, sent=NOW + timedelta(minutes=9)))
    assert standing([newer, then], NOW) == (newer.warning,)
