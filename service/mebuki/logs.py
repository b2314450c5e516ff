"""Log lines for machines and people: one line each, and no secrets in them.

Addresses of feeds and of links in mails are keys to somebody's garden. They are
never logged on purpose; what gets into a line by way of an error's text or a
traceback is made unreadable here, after everything else was put together.
"""

from __future__ import annotations

import json
import logging
import re
import sys
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Final, Literal, TextIO

from mebuki.errors import InputError

Form = Literal["json", "logfmt"]
LEVELS: Final = ("debug", "info", "warning", "error")

DOTS: Final = "…"
SHORTEST_SECRET: Final = 4
"""A shorter secret is not looked for: it would blot out ordinary words."""

_TALKATIVE: Final = ("httpx", "httpcore", "apscheduler", "uvicorn.access")
_OWN: Final = frozenset(vars(logging.makeLogRecord({}))) | {
    "message",
    "asctime",
    "taskName",
    "color_message",
}

_PATH = re.compile(r"(/(?:feeds|m)/)[^\s\"'<>)]+")
_IN_ADDRESS = re.compile(r"(\w{1,12}://)[^/\s@\"']+@")
_NAMED = re.compile(
    r"(?i)\b([\w-]{0,40}(?:password|passwd|secret|token|api[_-]?key|apikey)[\"']?\s*[=:]\s*)"
    r"(?:\"[^\"]*\"|'[^']*'|[^\s,;&\"')}\]]+)"
)
_AUTHORIZATION = re.compile(r"(?i)(authorization[\"']?\s*[=:]\s*[\"']?)(?:\w+\s+)?[^\s\"',;]+")
_MAIL = re.compile(
    r"([\w!#$%&*+/=?^`{|}~.-])[\w!#$%&*+/=?^`{|}~.-]{0,80}@(?=[\w.-]*[A-Za-z])[\w-]+(?:\.[\w-]+)*"
)
_RUN = re.compile(r"[A-Za-z0-9_-]{22,}")
_LOWER_RUN = re.compile(r"[a-z0-9]{26,}")
_DATE = re.compile(r"\d{4}-\d\d-\d\d")

_PIECE: Final = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+")
_SHORTEST_PIECE: Final = 4.5
"""Words in a name of a class are longer than this on average, chance runs shorter."""

_MOST_UPPER_IN_A_WORD: Final = 0.3
_FEWEST_DIGITS: Final = 4


def redact(text: str, secrets: Iterable[str] = ()) -> str:
    """Return a text without what must not be read in a log.

    Taken out are the given secrets, the paths of feeds and of links in mails,
    the user part of addresses of servers, values that are named as a password,
    token or key, and runs of characters that look like a token of 128 bits or
    more. Of a mail address the first letter is left.
    """
    for secret in secrets:
        text = text.replace(secret, DOTS)
    text = _PATH.sub(rf"\1{DOTS}", text)
    text = _IN_ADDRESS.sub(rf"\1{DOTS}@", text)
    text = _AUTHORIZATION.sub(rf"\1{DOTS}", text)
    text = _NAMED.sub(rf"\1{DOTS}", text)
    text = _MAIL.sub(rf"\1{DOTS}@{DOTS}", text)
    text = _RUN.sub(_unless_words, text)
    return _LOWER_RUN.sub(_unless_a_word, text)


def _unless_words(run: re.Match[str]) -> str:
    """Keep names of functions, classes and files; dot out mixed cases with digits."""
    text = run[0]
    upper = sum(letter.isupper() for letter in text)
    mixed = upper > 0 and any(letter.islower() for letter in text)
    digits = any(letter.isdigit() for letter in text)
    pieces = _PIECE.findall(text)
    short = sum(map(len, pieces)) < _SHORTEST_PIECE * len(pieces)
    random = mixed and (digits or short or upper > _MOST_UPPER_IN_A_WORD * len(text))
    return DOTS if random and not _DATE.search(text) else text


def _unless_a_word(run: re.Match[str]) -> str:
    """Keep long words; dot out hexadecimal and base-32 runs."""
    digits = sum(letter.isdigit() for letter in run[0])
    return DOTS if digits >= _FEWEST_DIGITS else run[0]


class LineFormatter(logging.Formatter):
    """Writes a record as one line of JSON or logfmt: time, level, logger, message, fields.

    Fields are what a call names in ``extra``. A traceback becomes the field
    ``error``; line breaks are escaped in both forms.

    Parameters
    ----------
    secrets
        Texts that no line may hold, such as the password of the mail server.
    """

    def __init__(self, form: Form = "json", secrets: Iterable[str] = ()) -> None:
        super().__init__()
        self._form = form
        self._secrets = tuple(
            sorted((text for text in secrets if len(text) >= SHORTEST_SECRET), key=len)[::-1]
        )

    def format(self, record: logging.LogRecord) -> str:
        """Return the line of a record."""
        moment = datetime.fromtimestamp(record.created, UTC)
        fields = {
            "time": moment.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": self._message(record),
        }
        for name, value in vars(record).items():
            if name not in _OWN and name not in fields and not name.startswith("_"):
                fields[name] = str(value)
        if record.exc_info and record.exc_info[0] is not None:
            fields["error"] = self.formatException(record.exc_info)
        clean = {name: self._clean(name, value) for name, value in fields.items()}
        if self._form == "json":
            line = json.dumps(clean, ensure_ascii=False)
        else:
            line = " ".join(f"{name}={_quoted(value)}" for name, value in clean.items())
        return line.encode("utf-8", "backslashreplace").decode("utf-8")

    def _message(self, record: logging.LogRecord) -> str:
        try:
            return record.getMessage()
        except Exception:  # a wrong log call must not stop what it reports
            return f"{record.msg} {record.args}"

    def _clean(self, name: str, value: str) -> str:
        # A value under a name such as "token" is judged together with its name.
        if name in {"time", "level", "logger"}:
            return value
        if name in {"message", "error"}:
            return redact(value, self._secrets)
        return redact(f"{name}={value}", self._secrets).removeprefix(f"{name}=")


def _quoted(value: str) -> str:
    plain = value.isprintable() and value and not set(value) & set(' "=')
    return value if plain else json.dumps(value, ensure_ascii=False)


def set_up_logs(
    level: str = "info",
    form: Form = "json",
    secrets: Iterable[str] = (),
    stream: TextIO | None = None,
) -> None:
    """Send every log line of the process, redacted, to one stream and nowhere else.

    Parameters
    ----------
    level
        ``debug``, ``info``, ``warning`` or ``error``. Libraries that write a
        line for every request stay at warning.
    secrets
        Texts that no line may hold.
    stream
        Standard error if not given.

    Raises
    ------
    InputError
        If the level or the form is none of these.
    """
    if level not in LEVELS or form not in {"json", "logfmt"}:
        msg = f"logs: the level is one of {', '.join(LEVELS)}, the form json or logfmt"
        raise InputError(msg)
    handler = logging.StreamHandler(stream or sys.stderr)
    handler.setFormatter(LineFormatter(form, secrets))
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(level.upper())
    for name in _TALKATIVE:
        logging.getLogger(name).setLevel(logging.WARNING)
    logging.captureWarnings(capture=True)
