"""The HTML of mails as a validator, an accessibility checker and a browser see it."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from base64 import b64encode
from html import escape, unescape
from pathlib import Path
from typing import Any

import pytest

from tests.builders import a_subscriber
from tests.mail.letters import a_letter, a_picture, notices, text_of

MODULES = Path(sys.prefix) / "js" / "node_modules"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("chrome")
WIDTHS = (360, 800)
LEAST_TARGET = 44
"""Height of a link that a finger meets [px] (WCAG 2.2, 2.5.5)."""
READERS = {
    "metric": a_subscriber(),
    "us": a_subscriber(units="us"),
}

RULES = {
    "extends": ["html-validate:recommended"],
    "rules": {
        "no-inline-style": "off",  # many mail programs read no other
        "void-style": "off",
    },
}

PROBE = """
<script>
addEventListener("load", async () => {
  const found = await axe.run(document, {
    resultTypes: ["violations", "incomplete"],
    rules: {"color-contrast-enhanced": {enabled: false}},
  });
  const told = (list) => list.flatMap((one) => one.nodes.map((node) => one.id + " " + node.html));
  parent.postMessage(JSON.stringify({
    violations: told(found.violations),
    passes: found.passes.map((one) => one.id),
    wide: document.documentElement.scrollWidth - document.documentElement.clientWidth,
    dark: matchMedia("(prefers-color-scheme: dark)").matches,
    paper: getComputedStyle(document.body).backgroundColor,
    links: [...document.links].map((one) => one.getBoundingClientRect().height),
  }), "*");
});
</script>
"""

STAGE = """<!DOCTYPE html><html lang="en"><head><title>stage</title></head><body>
{frames}
<pre id="told"></pre>
<script>
const told = [];
addEventListener("message", (event) => {{
  told.push(JSON.parse(event.data));
  if (told.length === {count}) document.getElementById("told").textContent = JSON.stringify(told);
}});
</script></body></html>"""


def _html(name: str, units: str) -> str:
    return text_of(a_letter(notices()[name], READERS[units]), "html")


def _shown(html: str) -> str:
    """Return HTML with its picture inside, as a mail program shows it."""
    data = b64encode(a_picture().png).decode()
    return re.sub('cid:[^"]+', f"data:image/png;base64,{data}", html)


@pytest.mark.skipif(
    not ((MODULES / "html-validate").is_dir() and shutil.which("node")),
    reason="html-validate is not installed (npm): the HTML of mails was NOT validated",
)
def test_the_html_of_every_mail_is_valid(tmp_path: Path) -> None:
    """No error and no warning of html-validate's recommended rules, inline styles apart."""
    (tmp_path / ".htmlvalidate.json").write_text(json.dumps({"root": True, **RULES}))
    for name in notices():
        for units in READERS:
            (tmp_path / f"{name}-{units}.html").write_text(_html(name, units))
    done = subprocess.run(
        ["node", str(MODULES / "html-validate" / "bin" / "html-validate.mjs"), "-f", "json",
         *sorted(map(str, tmp_path.glob("*.html")))],
        capture_output=True, text=True, check=False, cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode in (0, 1), done.stderr
    found = json.loads(done.stdout)
    told = [
        f"{Path(file['filePath']).name}:{each['line']} {each['ruleId']}: {each['message']}"
        for file in found
        for each in file["messages"]
    ]
    assert not told
    assert done.returncode == 0, done.stdout


@pytest.mark.skipif(
    not ((MODULES / "axe-core").is_dir() and CHROMIUM),
    reason="axe-core (npm) or chromium is not installed: accessibility of mails was NOT checked",
)
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_every_mail_is_accessible_and_fits_a_phone(dark: bool, tmp_path: Path) -> None:
    """No violation of axe at 360 and 800 px, and nothing to scroll sideways."""
    axe = (MODULES / "axe-core" / "axe.min.js").read_text().replace("</script", "<\\/script")
    (tmp_path / "axe.js").write_text(axe)
    frames, names = [], []
    for name in notices():
        for width in WIDTHS:
            page = _shown(_html(name, "metric"))
            page = page.replace("</head>", f'<script src="axe.js"></script>{PROBE}</head>')
            (tmp_path / f"{name}.html").write_text(page)
            title = escape(f"{name} at {width}")
            frames.append(
                f'<iframe title="{title}" src="{name}.html" width="{width}" height="900" '
                'style="border:0"></iframe>'
            )
            names.append(title)
    stage = tmp_path / "stage.html"
    stage.write_text(STAGE.format(frames="\n".join(frames), count=len(frames)))
    told = _browse(stage, dark=dark)
    assert len(told) == len(names)
    for one in told:
        assert one["dark"] is dark
        assert one["paper"] == ("rgb(26, 25, 23)" if dark else "rgb(250, 248, 243)")
        assert one["violations"] == []
        assert one["wide"] <= 0
        assert "color-contrast" in one["passes"]
        assert min(one["links"]) >= LEAST_TARGET


def _browse(page: Path, *, dark: bool) -> list[dict[str, Any]]:
    scheme = 0 if dark else 1
    done = subprocess.run(
        [str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
         "--allow-file-access-from-files", f"--user-data-dir={page.parent / 'profile'}",
         f"--blink-settings=preferredColorScheme={scheme}", "--window-size=1000,1200",
         "--virtual-time-budget=60000", "--dump-dom", page.as_uri()],
        capture_output=True, text=True, check=False, timeout=180,
    )  # fmt: skip
    found = re.search('<pre id="told">(.*?)</pre>', done.stdout, re.DOTALL)
    assert found, done.stderr[-2000:]
    assert found[1], done.stderr[-2000:]
    told: list[dict[str, Any]] = json.loads(unescape(found[1]))
    return told
