"""Asking providers with manners: from our own snapshots first, rarely, and never in a hurry.

In this order: the snapshot if it still holds; nothing at all while a circuit
is open or a budget is spent; a conditional request with retries; the body
stored only after its parser accepted it; the last good snapshot, with the
reason, if anything of that fails.
"""

from __future__ import annotations

import logging
import re
import threading
import zlib
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Generic, TypeVar, cast

import stamina

from mebuki import __version__
from mebuki.clock import Clock
from mebuki.errors import InputError
from mebuki.weather.answers import ProviderError
from mebuki.weather.asking import Request
from mebuki.weather.conduct import FAILURES_UNTIL_OPEN, Conduct, Limits, conduct_from
from mebuki.weather.snapshots import Snapshot, SnapshotStore, keep
from mebuki.weather.transport import Reply, Transport
from mebuki.weather.verdicts import (
    BudgetSpentError,
    RestingError,
    refuse_status,
    refuse_type,
)
from mebuki.weather.waits import holds_until

ATTEMPTS = 3
SHORT_WAIT = timedelta(seconds=10)
"""A longer wait is not slept through: the next round asks again."""

SHORTEST_WAIT = 0.5
REMEMBER_REFUSAL = timedelta(hours=6)
MOST_PARSED = 64
JITTER = 300
"""Seconds over which installs and questions spread after an expiry."""

_CONTACT = re.compile(r"[^@\s<>()]+@[^@\s<>()]+\.[^@\s<>()]+|https?://[^\s<>()]+")
_UNCHANGED = 304

log = logging.getLogger(__name__)
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Got(Generic[T]):
    """A parsed answer, the snapshot it comes from, and why it is old, if it is."""

    value: T
    snapshot: Snapshot
    problem: str = ""


def user_agent(contact: str) -> str:
    """Return who asks, with the operator's address.

    Raises
    ------
    InputError
        If the contact is neither a mail address nor a web address.
    """
    if not _CONTACT.fullmatch(contact.strip()) or not contact.isascii():
        msg = (
            "live weather needs an address under which the weather services can reach you: "
            "set MEBUKI_CONTACT to your mail or web address"
        )
        raise InputError(msg)
    return f"mebuki/{__version__} ({contact.strip()})"


class WeatherClient:
    """Asks, remembers, waits.

    Parameters
    ----------
    contact
        Mail or web address of the operator, sent with each request.
    limits
        Weights allowed per provider; others are unlimited.
    at_once
        Requests that may run at the same time per host.

    Raises
    ------
    InputError
        If there is no usable contact.
    """

    def __init__(
        self,
        contact: str,
        snapshots: SnapshotStore,
        clock: Clock,
        limits: Mapping[str, Limits] | None = None,
        at_once: int = 1,
    ) -> None:
        self._contact = contact
        self._transport = Transport(user_agent(contact))
        self._snapshots = snapshots
        self._clock = clock
        self._limits = dict(limits or {})
        self._at_once = at_once
        self._lock = threading.RLock()
        self._hosts: dict[str, threading.Semaphore] = {}
        self._questions: dict[str, threading.Lock] = {}
        self._refused: dict[str, tuple[datetime, ProviderError]] = {}
        self._parsed: OrderedDict[str, tuple[datetime, object]] = OrderedDict()

    def get(self, request: Request, parse: Callable[[bytes], T]) -> Got[T]:
        """Return a valid answer, as new as manners allow.

        Parameters
        ----------
        parse
            Turns the body into a value or raises `ProviderError`. It must give
            the same for the same bytes: its result is remembered.

        Raises
        ------
        ProviderError
            If there is neither a good answer nor a good snapshot.
        """
        with self._lock:
            one_at_a_time = self._questions.setdefault(request.key, threading.Lock())
        with one_at_a_time:
            return self._get(request, parse)

    def _get(self, request: Request, parse: Callable[[bytes], T]) -> Got[T]:
        last = self._last_good(request, parse)
        if last is not None and self._clock.now() < last.snapshot.expires:
            return last
        try:
            return self._ask(request, parse, last)
        except ProviderError as error:
            if last is None or error.elsewhere:
                raise
            level = logging.DEBUG if isinstance(error, RestingError) else logging.WARNING
            log.log(level, "%s; the answer of %s is used", error, last.snapshot.checked)
            return replace(last, problem=str(error))

    def _last_good(self, request: Request, parse: Callable[[bytes], T]) -> Got[T] | None:
        snapshot = self._snapshots.load(request.key) if request.stored else None
        if snapshot is None or not snapshot.validated:
            return None
        with self._lock:
            known = self._parsed.get(request.key)
        if known is not None and known[0] == snapshot.fetched:
            return Got(cast("T", known[1]), snapshot)
        try:
            value = parse(snapshot.content)
        except ProviderError:
            return None
        self._remember(snapshot, value)
        return Got(value, snapshot)

    def _remember(self, snapshot: Snapshot, value: object) -> None:
        with self._lock:
            self._parsed[snapshot.key] = (snapshot.fetched, value)
            self._parsed.move_to_end(snapshot.key)
            while len(self._parsed) > MOST_PARSED:
                self._parsed.popitem(last=False)

    def _ask(self, request: Request, parse: Callable[[bytes], T], last: Got[T] | None) -> Got[T]:
        now = self._clock.now()
        until, refusal = self._refused.get(request.key, (now, None))
        if refusal is not None and until > now:
            raise refusal
        resting = self._conduct(request.provider).resting(now)
        if resting:
            msg = f"{request.provider}: {resting}"
            raise RestingError(msg)
        try:
            got = self._with_retries(request, parse, last)
        except ProviderError as error:
            self._note_failure(request, error)
            raise
        self._change(request.provider, Conduct.succeeded)
        return got

    def _note_failure(self, request: Request, error: ProviderError) -> None:
        now = self._clock.now()
        if error.useless:
            self._refused[request.key] = (now + REMEMBER_REFUSAL, error)
        elif not isinstance(error, BudgetSpentError):
            reason = str(error).removeprefix(f"{request.provider}: ")
            self._change(request.provider, lambda one: one.failed(reason, now, error.rest))

    def _with_retries(
        self, request: Request, parse: Callable[[bytes], T], last: Got[T] | None
    ) -> Got[T]:
        def again(error: Exception) -> bool | float:
            if not isinstance(error, ProviderError):
                return False
            if error.rest is None:
                return error.again
            patient = request.may_wait and error.rest <= SHORT_WAIT
            return max(error.rest.total_seconds(), SHORTEST_WAIT) if patient else False

        # A provider that keeps failing is tried once, not three times, at each probe.
        failing = self._conduct(request.provider).failures >= FAILURES_UNTIL_OPEN
        attempts = 1 if failing else ATTEMPTS
        for attempt in stamina.retry_context(
            on=again, attempts=attempts, timeout=None, wait_initial=1, wait_max=8, wait_jitter=2
        ):
            with attempt:
                return self._once(request, parse, last)
        raise AssertionError

    def _once(self, request: Request, parse: Callable[[bytes], T], last: Got[T] | None) -> Got[T]:
        self._spend(request)
        with self._lock:
            turn = self._hosts.setdefault(request.host, threading.Semaphore(self._at_once))
        with turn:
            reply = self._transport.send(request, _validators(last))
        now = self._clock.now()
        if reply.status == _UNCHANGED and last is not None:
            snapshot = replace(
                last.snapshot, checked=now, expires=self._expiry(request, reply, now),
                etag=reply.headers.get("etag", last.snapshot.etag),
            )  # fmt: skip
            return Got(last.value, snapshot, keep(self._snapshots, snapshot))
        refuse_status(reply, request, now)
        refuse_type(reply, request)
        value = parse(reply.content)
        snapshot = Snapshot(
            key=request.key, content=reply.content, fetched=now, checked=now,
            expires=self._expiry(request, reply, now), etag=reply.headers.get("etag", ""),
            last_modified=reply.headers.get("last-modified", ""), validated=True,
        )  # fmt: skip
        if not request.stored:
            return Got(value, snapshot)
        trouble = keep(self._snapshots, snapshot)
        self._remember(snapshot, value)
        return Got(value, snapshot, trouble)

    def _expiry(self, request: Request, reply: Reply, now: datetime) -> datetime:
        spread = zlib.crc32(f"{self._contact} {request.key}".encode()) % JITTER
        return holds_until(reply.headers, now, request.keep) + timedelta(seconds=spread)

    def _spend(self, request: Request) -> None:
        now = self._clock.now()
        limits = self._limits.get(request.provider, Limits())
        with self._lock:
            over = self._conduct(request.provider).exceeding(request.weight, limits, now)
            if over:
                msg = f"{request.provider}: {over}"
                raise BudgetSpentError(msg)
            self._change(request.provider, lambda one: one.spending(request.weight, now))

    def spent_today(self, provider: str) -> float:
        """Return the weight spent with a provider in this UTC day."""
        return self._conduct(provider).turned(self._clock.now()).day

    def resting(self, provider: str) -> str:
        """Return why a provider is not asked now, or nothing."""
        return self._conduct(provider).resting(self._clock.now())

    def _conduct(self, provider: str) -> Conduct:
        kept = self._snapshots.load(f"conduct:{provider}")
        return Conduct() if kept is None else conduct_from(kept.content)

    def _change(self, provider: str, how: Callable[[Conduct], Conduct]) -> None:
        now = self._clock.now()
        with self._lock:
            before = self._conduct(provider)
            after = how(before)
            if after != before:
                key, content = f"conduct:{provider}", after.as_bytes()
                keep(self._snapshots, Snapshot(key, content, now, now, now, validated=True))


def _validators(last: Got[T] | None) -> dict[str, str]:
    if last is None:
        return {}
    names = {"If-None-Match": last.snapshot.etag, "If-Modified-Since": last.snapshot.last_modified}
    return {name: value for name, value in names.items() if value}
