"""The links in mails over HTTP: a look changes nothing, a form does what its link allows.

Programs that check mails fetch every link in them, so GET and HEAD only ever show. Who
sends a form proves with the link itself that it may be sent: there are no cookies, and
so nothing that another site could make a browser send along.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from typing import Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from mebuki.clock import stopwatch
from mebuki.errors import FaultError
from mebuki.mail.links import PREFIX, LinkError, Purpose, Ticket
from mebuki.web.links_desk import LinkDesk
from mebuki.web.links_forms import Form, FormError, read_form
from mebuki.web.links_pace import Pace
from mebuki.web.links_pages import PAGES
from mebuki.web.links_render import Page, plain_page, response

log = logging.getLogger(__name__)

FORMS_PER_MINUTE: Final = 30
"""Forms that one reader may send in a minute (design default)."""

LOOKS_PER_MINUTE: Final = 240
"""Pages that one reader, or the programs that check the reader's mails, may open in a minute."""

GUESSES_PER_MINUTE: Final = 60
"""Links that are not ours and that one address may try in a minute (design default)."""

RETRY_SECONDS: Final = "60"

UNKNOWN: Final = plain_page(
    404, "This link does not work", "Please open it from the mail once more, as it stands there."
)
TOO_OLD: Final = plain_page(
    410, "This link is too old", "A newer mail has links that work. Nothing was changed."
)
ASKED_LONG_AGO: Final = plain_page(
    410,
    "This link is too old",
    "Nothing was changed, and no mails are sent for it. If you want them, tell whoever looks "
    "after the garden: they can have you asked again.",
)
GONE: Final = plain_page(
    410,
    "This link leads nowhere any more",
    "The garden is not kept here any more, or your address is not on its list. "
    "Nothing was changed, and no mails come from it.",
)
TOO_OFTEN: Final = plain_page(
    429, "A little slower", "Please try again in a minute.", retry_after=RETRY_SECONDS
)
NOT_NOW: Final = plain_page(
    503,
    "Not at the moment",
    "Nothing was changed. Please try again in a minute.",
    retry_after=RETRY_SECONDS,
)
NO_MORE_MAIL: Final = plain_page(200, "Mails are stopped", "No mails are sent to this address.")
NOT_READ: Final = plain_page(400, "The form did not arrive whole", "Please send it once more.")


def link_routes(desk: LinkDesk, ticks: Callable[[], float] = stopwatch) -> list[Route]:
    """Return the routes of the links in mails.

    Parameters
    ----------
    ticks
        Seconds since some moment, for the pace of forms and guesses.
    """
    pages = _LinkPages(desk, ticks)
    path = f"{PREFIX}{{purpose}}/{{token}}"
    return [Route(path, pages.answer, methods=["GET", "HEAD", "POST"])]


class _LinkPages:
    def __init__(self, desk: LinkDesk, ticks: Callable[[], float]) -> None:
        self._desk = desk
        self._forms = Pace(FORMS_PER_MINUTE, ticks)
        self._looks = Pace(LOOKS_PER_MINUTE, ticks)
        self._guesses = Pace(GUESSES_PER_MINUTE, ticks)

    async def answer(self, request: Request) -> Response:
        """Answer one request."""
        purpose = request.path_params["purpose"]
        try:
            ticket = self._desk.ticket(Purpose(purpose), request.path_params["token"])
        except LinkError as error:
            if error.expired:
                return response(ASKED_LONG_AGO if purpose == Purpose.CONFIRM else TOO_OLD)
            return response(self._guessed(request))
        except ValueError:
            return response(self._guessed(request))
        try:
            form = await self._form(request, ticket)
            page = await asyncio.to_thread(self._page, ticket, form)
        except FormError as error:
            page = TOO_OFTEN if error.status == TOO_OFTEN.status else _not_read(error.status)
        except FaultError:
            log.exception("a page behind a link in a mail cannot be shown")
            page = NOT_NOW
        return response(page)

    def _guessed(self, request: Request) -> Page:
        """Return the page for a link that is not ours; who guesses on and on is slowed down."""
        asker = request.client.host if request.client else ""
        return UNKNOWN if self._guesses.allows(asker) else TOO_OFTEN

    async def _form(self, request: Request, ticket: Ticket) -> Form | None:
        pace = self._forms if request.method == "POST" else self._looks
        if not pace.allows(f"{ticket.garden}/{ticket.reader}"):
            raise FormError(TOO_OFTEN.status)
        return await read_form(request) if request.method == "POST" else None

    def _page(self, ticket: Ticket, form: Form | None) -> Page:
        try:
            visit = self._desk.visit(ticket)
        except LinkError:
            gone = form is not None and form.one_click and ticket.purpose is Purpose.LEAVE
            return NO_MORE_MAIL if gone else GONE
        return PAGES[ticket.purpose](self._desk, visit, form)


def _not_read(status: int) -> Page:
    return Page(NOT_READ.template, NOT_READ.values, status)
