"""Deliver: letters from the outbox to the mail server, each once as far as SMTP can know.

A letter is claimed, handed over, and noted as sent before anything else is done.
A process that dies between the last two leaves a letter that may or may not have
arrived: it is sent again after its lease, with the same bytes and the same
Message-ID, by which mail programs know it for the same one; the log says so. The
same holds for a line that breaks after the text was handed over.

A letter that has outlived its use is given up: no frost mail after dawn.

The outbox is asked from threads, the mail server from the event loop. A delivery
that is cancelled finishes the letters in hand, or leaves them to their lease.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from mebuki.clock import Clock, stopwatch
from mebuki.errors import DeliveryError
from mebuki.rounds.ports import Bounces, Mailer, Posting, PostOffice

log = logging.getLogger(__name__)

TOO_LATE: Final = "too late to be of use"
"""Why a letter is given up whose time has passed."""

NOT_TRIED: Final = "the delivery ended before it was tried"


@dataclass(frozen=True, slots=True)
class Terms:
    """How patiently letters are delivered.

    Parameters
    ----------
    batch
        How many letters are claimed at a time for each hand.
    lease
        For how long they are claimed. After a third of it no further letter of
        a batch is begun, so that a slow server cannot outlast it.
    first_wait, longest_wait
        Before a second attempt, doubled after each, up to the longest.
    patience
        After which a letter that could not be handed over is given up; RFC 5321,
        section 4.5.4.1, asks for at least 4 to 5 days.
    hands
        How many letters are handed over at the same time, each over a line of its own.
    breaks
        After so many broken lines in a row the server is let alone for now.
    grace
        How long a cancelled delivery waits for the letters in hand.
    """

    batch: int = 10
    lease: timedelta = timedelta(minutes=15)
    first_wait: timedelta = timedelta(minutes=1)
    longest_wait: timedelta = timedelta(hours=1)
    patience: timedelta = timedelta(days=5)
    hands: int = 1
    breaks: int = 3
    grace: timedelta = timedelta(seconds=3)

    def wait(self, attempts: int, left: timedelta | None = None) -> timedelta:
        """Return how long to wait after so many attempts (from 1).

        Where a letter is of use for a while only, it is tried more often as the
        end of that comes near: after an eighth of what is ``left``.
        """
        doublings = min(attempts - 1, 30)
        wait = min(self.first_wait * (1 << doublings), self.longest_wait)
        return wait if left is None else min(wait, max(left / 8, self.first_wait))


@dataclass(frozen=True, slots=True)
class Delivered:
    """What became of the letters of a round."""

    sent: int = 0
    put_off: int = 0
    given_up: int = 0

    def __add__(self, other: Delivered) -> Delivered:
        return Delivered(
            self.sent + other.sent, self.put_off + other.put_off, self.given_up + other.given_up
        )


SENT, PUT_OFF, GIVEN_UP = Delivered(sent=1), Delivered(put_off=1), Delivered(given_up=1)


async def deliver(
    post: PostOffice,
    mailer: Mailer,
    clock: Clock,
    terms: Terms | None = None,
    *,
    bounces: Bounces | None = None,
    stopping: Callable[[], bool] = lambda: False,
) -> Delivered:
    """Hand over all letters that are due; stop early if the server cannot be reached.

    Parameters
    ----------
    bounces
        Is told of addresses that a server refuses for good.
    stopping
        Asked before each letter; once it says yes, none is begun.

    Raises
    ------
    mebuki.errors.FaultError
        If the outbox cannot be read or written.
    """
    kept = terms or Terms()
    round_ = _Delivery(post, mailer, clock, kept, bounces, stopping)
    try:
        while round_.goes_on and (claimed := await round_.claim()):
            await round_.batch(claimed)
    finally:
        await mailer.close()
    return round_.done


class _Delivery:
    """One delivery under way."""

    def __init__(
        self, post: PostOffice, mailer: Mailer, clock: Clock, terms: Terms,
        bounces: Bounces | None, stopping: Callable[[], bool],
    ) -> None:  # fmt: skip
        self.done = Delivered()
        self._post = post
        self._mailer = mailer
        self._clock = clock
        self._terms = terms
        self._bounces = bounces
        self._stopping = stopping
        self._away: DeliveryError | None = None
        self._failed = False
        self._breaks = 0

    @property
    def goes_on(self) -> bool:
        """Whether a further letter may be begun."""
        return self._away is None and not self._failed and not self._stopping()

    async def claim(self) -> Sequence[Posting]:
        """Claim letters; those claimed while the delivery is cancelled are given back."""
        terms = self._terms
        work = asyncio.ensure_future(
            asyncio.to_thread(
                self._post.claim, self._clock.now(), terms.lease, terms.batch * terms.hands
            )
        )
        try:
            return await asyncio.shield(work)
        except asyncio.CancelledError:
            await self._give_back(await work)
            raise

    async def batch(self, claimed: Sequence[Posting]) -> None:
        """See to claimed letters: handed over, put off, given up, or given back untried."""
        waiting = deque(claimed)
        until = stopwatch() + self._terms.lease.total_seconds() / 3
        hands = [self._hand(waiting, until) for _ in range(min(self._terms.hands, len(claimed)))]
        try:
            ends = await asyncio.gather(*hands, return_exceptions=True)
        except asyncio.CancelledError:
            await self._give_back(waiting)
            raise
        for end in ends:
            if isinstance(end, BaseException):
                raise end
        if self._away is not None:
            for posting in waiting:
                await self._not_now(posting, self._away)
        else:
            await self._give_back(waiting)

    async def _hand(self, waiting: deque[Posting], until: float) -> None:
        """Hand over one letter after the other while there are any and time for them."""
        while waiting and self.goes_on and stopwatch() < until:
            work = asyncio.ensure_future(self._one(waiting.popleft()))
            try:
                await asyncio.shield(work)
            except asyncio.CancelledError:
                await self._let_finish(work)
                raise
            except BaseException:
                self._failed = True
                raise

    async def _let_finish(self, work: asyncio.Future[None]) -> None:
        """Wait a little for the letter in hand; then leave it to its lease."""
        _, unfinished = await asyncio.wait({work}, timeout=self._terms.grace.total_seconds())
        for each in unfinished:
            each.cancel()
        await asyncio.wait({work})
        if not work.cancelled() and (error := work.exception()) is not None:
            log.error("a letter was left to its lease: %s", error)

    async def _one(self, posting: Posting) -> None:
        letter, now = posting.letter, self._clock.now()
        if letter.useful_until is not None and now >= letter.useful_until:
            await self._give_up(posting, now, TOO_LATE)
            return
        if posting.attempts > 1:
            log.info("%s is tried for the %d. time", letter.message_id, posting.attempts)
        try:
            await self._mailer.send(letter)
        except DeliveryError as error:
            await self._refused(posting, error)
        except Exception as error:
            log.exception("%s met a fault of the program", letter.message_id)
            reason = f"a fault of the program: {type(error).__name__}"
            await self._refused(posting, DeliveryError(reason, broken=True))
        else:
            await asyncio.to_thread(self._post.sent, posting.number, self._clock.now())
            self._breaks = 0
            self.done += SENT

    async def _refused(self, posting: Posting, error: DeliveryError) -> None:
        self._breaks = self._breaks + 1 if error.broken else 0
        if (error.server and not error.permanent) or self._breaks >= self._terms.breaks:
            self._away = error
        if error.bounce and self._bounces is not None:
            recipient, now = posting.letter.recipient, self._clock.now()
            await asyncio.to_thread(self._bounces.bounced, recipient, now, error.bounce)
        await self._not_now(posting, error)

    async def _not_now(self, posting: Posting, error: DeliveryError) -> None:
        now, letter = self._clock.now(), posting.letter
        if error.permanent or now - posting.put_at >= self._terms.patience:
            await self._give_up(posting, now, str(error))
            return
        left = None if letter.useful_until is None else letter.useful_until - now
        until = now + self._terms.wait(posting.attempts, left)
        log.warning("%s is put off: %s", letter.message_id, error)
        await asyncio.to_thread(self._post.put_off, posting.number, until, str(error))
        self.done += PUT_OFF

    async def _give_up(self, posting: Posting, now: datetime, reason: str) -> None:
        log.error("%s is given up: %s", posting.letter.message_id, reason)
        await asyncio.to_thread(self._post.give_up, posting.number, now, reason)
        self.done += GIVEN_UP

    async def _give_back(self, postings: Sequence[Posting]) -> None:
        """Leave letters that were not tried to the next delivery, without their lease."""
        for posting in tuple(postings):
            now = self._clock.now()
            await asyncio.to_thread(self._post.put_off, posting.number, now, NOT_TRIED)
