"""The addresses of a feed as people need them, and how to subscribe in their calendar program."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from urllib.parse import urlsplit

from mebuki.errors import RangeError


@dataclass(frozen=True, slots=True)
class FeedLinks:
    """Both addresses of one feed.

    Parameters
    ----------
    copied
        To be copied into a calendar program: ``https://…``.
    opened
        To be opened: most phones and desktops ask at once whether to subscribe
        (``webcal://…``).
    encrypted
        Whether the address is carried over TLS; without it, programs that take
        ``webcal`` for TLS cannot use the second one.
    """

    copied: str
    opened: str
    encrypted: bool


@dataclass(frozen=True, slots=True)
class Subscribing:
    """How one kind of calendar program subscribes.

    Parameters
    ----------
    program
        As its users call it.
    steps
        What to do, in order.
    note
        What to expect: how often it looks, and what becomes of alarms.
    opens
        Whether the ``webcal`` link is the short way.
    """

    program: str
    steps: tuple[str, ...]
    note: str
    opens: bool


def feed_links(base_url: str, token: str) -> FeedLinks:
    """Return the addresses of the feed behind a secret token.

    Parameters
    ----------
    base_url
        Where the service is reached from outside: ``https://host``, with a port
        and a path if there is one.

    Raises
    ------
    RangeError
        If the address is not of that shape.
    """
    parts = urlsplit(base_url)
    wrong = parts.query or parts.fragment or parts.username or parts.password
    if parts.scheme not in {"http", "https"} or not parts.hostname or wrong:
        msg = "the public address begins with http:// or https:// and has a host, no user or query"
        raise RangeError(msg)
    rest = f"://{parts.netloc}{parts.path.rstrip('/')}/feeds/{token}.ics"
    return FeedLinks(f"{parts.scheme}{rest}", f"webcal{rest}", parts.scheme == "https")


KEEP_SECRET: Final = (
    "Whoever has this address can read the calendar. "  # noqa: S105 - a sentence for people
    "Do not pass it on; "
    "ask for a new one if it got about."
)
PLAN_NOT_ALARM: Final = (
    "The calendar is the plan. Many programs drop its alarms and look only every few hours, "
    "so warnings of a cold night come by mail."
)

WAYS: Final = (
    Subscribing(
        "iPhone, iPad, Mac",
        ("Open the webcal link.", "Say yes to subscribing.", "Leave “Remove alarms” off."),
        "How often it looks is set with the calendar, from every 5 minutes to once a week; "
        "take an hour.",
        opens=True,
    ),
    Subscribing(
        "Google Calendar",
        (
            "On a computer, open the calendar in a browser.",
            "Beside “Other calendars” choose “From URL”.",
            "Paste the https address.",
        ),
        "It looks every few hours, at times once a day, and this cannot be changed. "
        "Alarms are ignored: set notifications for the calendar yourself.",
        opens=False,
    ),
    Subscribing(
        "Outlook on the web, Microsoft 365",
        ("Choose “Add calendar”, then “Subscribe from web”.", "Paste the https address."),
        "It looks about every 3 hours, at times once a day, and ignores alarms. "
        "On a Mac, subscribe on the web: the program itself cannot.",
        opens=False,
    ),
    Subscribing(
        "Thunderbird",
        (
            "Choose “New calendar”, then “On the network”.",
            "Paste the https address; no user name is needed.",
        ),
        "It looks every 30 minutes unless set otherwise, and keeps alarms.",
        opens=True,
    ),
    Subscribing(
        "GNOME Calendar, Evolution",
        ("Choose “Add calendar”, then “From address” or “On the web”.", "Paste the https address."),
        "How often it looks is set with the calendar.",
        opens=True,
    ),
    Subscribing(
        "Android with ICSx⁵",
        ("Press the plus sign.", "Paste the https address.", "Allow alarms if you want them."),
        "How often it looks is set in the program; the entries show in the phone's own calendar.",
        opens=True,
    ),
    Subscribing(
        "Nextcloud",
        ("Choose “New subscription from link”.", "Paste the https address."),
        "Alarms and tasks are left out unless the server is set otherwise.",
        opens=False,
    ),
    Subscribing(
        "Proton Calendar, Fastmail",
        ("Choose to add a calendar by its address.", "Paste the https address."),
        "Fastmail looks every hour, Proton every 4 to 16 hours.",
        opens=False,
    ),
    Subscribing(
        "Any other program",
        (
            "Look for “subscribe”, “internet calendar” or “calendar by URL”, not for “import”.",
            "Paste the https address.",
        ),
        "An import is a copy that never changes again; a subscription follows the trees.",
        opens=False,
    ),
)
"""How to subscribe, commonest first."""
