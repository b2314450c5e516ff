"""What a status and a content type mean: good, try again, wait, or leave it."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta

from mebuki.weather.answers import ProviderError
from mebuki.weather.asking import Request
from mebuki.weather.conduct import REFUSED_REST
from mebuki.weather.transport import Reply
from mebuki.weather.waits import reason_of, retry_after, wait_by_reason

UNKNOWN_WAIT = timedelta(minutes=10)
"""Rest after a 429 that does not say how long."""

_SERVER_TROUBLE = {408, 500, 502, 503, 504}
_NOT_HERE = {404, 422}
_BUSY, _REFUSED, _DEPRECATED = 429, 403, 203
_GOOD = {200, _DEPRECATED}

log = logging.getLogger(__name__)


class BudgetSpentError(ProviderError):
    """A limit of a provider would be broken by the call; it was not made."""


class RestingError(ProviderError):
    """A provider is left alone for a while; nothing was asked."""


def refuse_status(reply: Reply, request: Request, now: datetime) -> None:
    """Return for an answer that is worth parsing.

    Raises
    ------
    ProviderError
        For any other, with what the status asks of us.
    """
    if reply.status == _DEPRECATED:
        log.warning("%s: this version of the service is being withdrawn (203)", request.provider)
    if reply.status in _GOOD:
        return
    reason = reason_of(reply.content)
    msg = f"{request.provider}: status {reply.status}" + (f" ({reason})" if reason else "")
    asked = retry_after(reply.headers.get("retry-after"), now)
    if reply.status == _BUSY:
        rest = asked or wait_by_reason(reason, now) or UNKNOWN_WAIT
        raise ProviderError(msg, rest=rest)
    if reply.status == _REFUSED:
        raise ProviderError(msg, rest=REFUSED_REST)
    if reply.status in _SERVER_TROUBLE:
        raise ProviderError(msg, again=True, rest=asked)
    raise ProviderError(msg, elsewhere=reply.status in _NOT_HERE, useless=True)


def refuse_type(reply: Reply, request: Request) -> None:
    """Raise `ProviderError` unless the answer has a content type that was asked for."""
    kind = reply.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in request.accept:
        msg = f"{request.provider}: the answer is {kind or 'of no type'}, not {request.accept[0]}"
        raise ProviderError(msg, again=True)
