"""Deliver: letters from the outbox to the mail server, each once as far as SMTP can know.

A letter is claimed, handed over, and noted as sent. A process that dies between
the last two leaves a letter that may or may not have arrived: it is sent again
after its lease, with the same bytes and the same Message-ID, by which mail
programs know it for the same one; the log says so.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from mebuki.clock import Clock
from mebuki.errors import DeliveryError
from mebuki.rounds.ports import Mailer, Posting, PostOffice

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Terms:
    """How patiently letters are delivered.

    Parameters
    ----------
    batch
        How many letters are claimed at a time.
    lease
        For how long; handing over a batch must not take longer.
    first_wait, longest_wait
        Before a second attempt, doubled after each, up to the longest.
    patience
        After which a letter that could not be handed over is given up; RFC 5321,
        section 4.5.4.1, asks for at least 4 to 5 days.
    """

    batch: int = 10
    lease: timedelta = timedelta(minutes=15)
    first_wait: timedelta = timedelta(minutes=1)
    longest_wait: timedelta = timedelta(hours=1)
    patience: timedelta = timedelta(days=5)

    def wait(self, attempts: int) -> timedelta:
        """Return how long to wait after so many attempts (from 1)."""
        doublings = min(attempts - 1, 30)
        return min(self.first_wait * (1 << doublings), self.longest_wait)


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


def deliver(
    post: PostOffice, mailer: Mailer, clock: Clock, terms: Terms | None = None
) -> Delivered:
    """Hand over all letters that are due; stop early if the server cannot be reached."""
    kept = terms or Terms()
    done = Delivered()
    while claimed := post.claim(clock.now(), kept.lease, kept.batch):
        found, reached = _batch(claimed, post, mailer, clock, kept)
        done += found
        if not reached:
            break
    return done


def _batch(
    claimed: Sequence[Posting], post: PostOffice, mailer: Mailer, clock: Clock, terms: Terms
) -> tuple[Delivered, bool]:
    """Return what became of claimed letters, and whether the server could be reached."""
    done = Delivered()
    for place, posting in enumerate(claimed):
        if posting.attempts > 1:
            log.info("%s is tried for the %d. time", posting.letter.message_id, posting.attempts)
        try:
            mailer.send(posting.letter)
        except DeliveryError as error:
            if error.server and not error.permanent:
                for left in claimed[place:]:
                    done += _not_now(left, error, post, clock, terms)
                return done, False
            done += _not_now(posting, error, post, clock, terms)
        else:
            post.sent(posting.number, clock.now())
            done += SENT
    return done, True


def _not_now(
    posting: Posting, error: DeliveryError, post: PostOffice, clock: Clock, terms: Terms
) -> Delivered:
    now, name = clock.now(), posting.letter.message_id
    if error.permanent or now - posting.put_at >= terms.patience:
        log.error("%s is given up: %s", name, error)
        post.give_up(posting.number, now, str(error))
        return GIVEN_UP
    log.warning("%s is put off: %s", name, error)
    post.put_off(posting.number, now + terms.wait(posting.attempts), str(error))
    return PUT_OFF
