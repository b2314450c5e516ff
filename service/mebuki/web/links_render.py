"""Pages behind the links in mails, as HTML without script, and the headers they go with."""

from __future__ import annotations

import hashlib
from base64 import b64encode
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.responses import Response

from mebuki.web.app import PAGE_TYPE

STYLE: Final = """
:root { color-scheme: light dark; --paper: #faf8f3; --ink: #22211e; --soft: #5d594f;
  --line: #cfc8b8; --edge: #8a8272; --accent: #9a3b1a; }
@media (prefers-color-scheme: dark) {
  :root { --paper: #1a1917; --ink: #e9e5dc; --soft: #b9b3a6; --line: #4a463f;
    --edge: #8a8475; --accent: #e88f63; }
}
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; text-size-adjust: 100%; }
body { margin: 0; background: var(--paper); color: var(--ink); overflow-wrap: anywhere;
  font: 1.0625rem/1.6 system-ui, -apple-system, "Segoe UI", Roboto, Helvetica, Arial, sans-serif; }
main { max-width: 38rem; margin: 0 auto; padding: 1.5rem 1.125rem 3rem; }
h1 { margin: 0 0 .75rem; font-size: 1.5rem; line-height: 1.25; font-weight: 600; }
h2 { margin: 1.5rem 0 .25rem; font-size: 1.125rem; line-height: 1.3; font-weight: 600; }
section h2 { margin-top: 0; }
p { margin: 0 0 .75rem; }
.lead { white-space: pre-line; }
.soft, footer { color: var(--soft); }
.accent { color: var(--accent); font-weight: 600; }
section { margin: 0 0 1.25rem; padding: .1rem 0 .1rem .9rem; border-left: 3px solid var(--line); }
section.edge { border-color: var(--accent); }
ul { margin: 0 0 .75rem; padding: 0 0 0 1.25rem; }
dl { margin: 0; }
dt { color: var(--soft); font-size: .9375rem; }
dd { margin: 0 0 .5rem; white-space: pre-line; }
table { width: 100%; margin: 0 0 1rem; border-collapse: collapse; font-size: .9375rem; }
caption { padding: 0 0 .4rem; text-align: left; color: var(--soft); }
th, td { padding: .4rem .5rem .4rem 0; border-top: 1px solid var(--line); text-align: left;
  vertical-align: top; font-weight: 400; font-variant-numeric: tabular-nums; }
thead th { border-top: 0; font-weight: 600; overflow-wrap: normal; }
img { display: block; width: 100%; height: auto; background: #faf8f3; }
a { color: var(--accent); text-underline-offset: .2em; }
:focus-visible { outline: 3px solid var(--accent); outline-offset: 2px; }
fieldset { margin: 0 0 1.25rem; padding: .75rem 1rem; border: 1px solid var(--line); min-width: 0; }
legend { padding: 0 .4rem; font-weight: 600; }
label { display: inline-block; padding: .5rem 0; }
.choice { display: flex; gap: .75rem; align-items: center; margin: 0; min-height: 2.75rem; }
.choice label { flex: 1; }
input[type="radio"], input[type="checkbox"] { flex: none; width: 1.35rem; height: 1.35rem;
  margin: 0; accent-color: var(--accent); }
select, input[type="date"] { display: block; width: 100%; min-height: 2.75rem; padding: .5rem;
  font: inherit; color: inherit; background: var(--paper); border: 1px solid var(--edge); }
button { width: 100%; min-height: 3rem; padding: .6rem 1rem; font: inherit; font-weight: 600;
  color: var(--paper); background: var(--accent); border: 1px solid var(--accent);
  cursor: pointer; }
button.quiet { color: var(--accent); background: transparent; }
footer { margin-top: 2rem; padding-top: .75rem; border-top: 1px solid var(--line);
  font-size: .9375rem; }
"""

_HASH: Final = b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()

HEADERS: Final[Mapping[str, str]] = {
    "cache-control": "no-store",
    "referrer-policy": "no-referrer",
    "content-security-policy": (
        f"default-src 'none'; style-src 'sha256-{_HASH}'; img-src data:; base-uri 'none'; "
        "form-action 'self'; frame-ancestors 'none'"
    ),
}
"""Of every page here: its own style, pictures inside it, forms to ourselves, nothing else."""


@dataclass(frozen=True, slots=True)
class Page:
    """A page to be answered with.

    Parameters
    ----------
    template
        Its name without the endings.
    values
        What the template shows; all of it is escaped there.
    """

    template: str
    values: Mapping[str, object]
    status: int = 200
    headers: Mapping[str, str] = field(default_factory=dict)


def response(page: Page) -> Response:
    """Return the answer of a page."""
    template = _environment().get_template(f"{page.template}.html.j2")
    content = template.render({"garden": "", "style": STYLE, **page.values})
    return Response(content, page.status, {**HEADERS, **page.headers}, PAGE_TYPE)


def plain_page(status: int, heading: str, text: str, **headers: str) -> Page:
    """Return a page of a heading and a sentence."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return Page("plain", {"heading": heading, "text": text}, status, named)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("mebuki.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
