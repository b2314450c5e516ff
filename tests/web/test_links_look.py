"""The pages behind links as a validator, an accessibility checker and a browser see them."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import subprocess
from base64 import b64encode
from html import escape
from pathlib import Path

import pytest

from tests.builders import AT, a_garden, a_subscriber, a_tree
from tests.mail.test_look import CHROMIUM, MODULES, PROBE, STAGE, WIDTHS, _browse
from tests.web.link_desks import Linked, keep_a_spell, linked

SHARED = ["radio", "button", "reset", "submit", "checkbox"]  # boxes of one list share a name
RULES = {
    "extends": ["html-validate:recommended"],
    "rules": {"void-style": "off", "form-dup-name": ["error", {"shared": SHARED}]},
}
LONG = "Trident maple from the old nursery behind the railway station, second row"


def _pages(folder: Path) -> dict[str, str]:
    """Return every page in every state, with long and right-to-left names."""
    ada = a_subscriber(name="Ada", email="ada@example.org")
    garden = a_garden(
        [a_tree(LONG, id="maple"), a_tree("צנובר", id="pine"), a_tree("Elm")], subscribers=(ada,)
    )
    with linked(folder, garden) as service:
        return _shown(service)


def _shown(service: Linked) -> dict[str, str]:
    client, ada = service.client, service.garden.subscribers[0]
    paths = {name: service.link(name, ada) for name in ("see", "acknowledge", "record", "confirm")}
    kind, every = service.link("leave", ada, "frost"), service.link("leave", ada)
    deed = {"kind": "moved", "day": AT.date().isoformat(), "tree": "maple", "place": "shed"}
    found = {name: client.get(path).text for name, path in paths.items()}
    found |= {"leave-kind": client.get(kind).text, "leave-all": client.get(every).text}
    found["fault"] = client.post(paths["record"], data={"kind": "fed"}).text
    found["recorded"] = client.post(paths["record"], data=deed).text
    found["again"] = client.post(paths["record"], data=deed).text
    found["noted"] = client.post(paths["acknowledge"]).text
    found["seen"] = client.get(paths["see"]).text
    found["confirmed"] = client.post(paths["confirm"]).text
    found["left-kind"] = client.post(kind, data={"choice": "kind"}).text
    found["left-all"] = client.post(kind, data={"choice": "all"}).text
    found["stopped"] = client.get(paths["confirm"]).text
    found["scores-none"] = client.get(service.link("scores", ada)).text
    keep_a_spell(service)
    found["scores"] = client.get(service.link("scores", ada)).text
    found["unknown"] = client.get("/m/see/none").text
    return found


def test_the_style_of_a_page_is_the_one_its_policy_names(tmp_path: Path) -> None:
    """A browser computes the same SHA-256 over the style element (Content Security Policy 3)."""
    with linked(tmp_path) as service:
        answer = service.client.get(service.link("see"))
    style = re.findall("<style>(.*?)</style>", answer.text, re.DOTALL)
    digest = b64encode(hashlib.sha256(style[0].encode()).digest()).decode()
    assert len(style) == 1
    assert f"style-src 'sha256-{digest}'" in answer.headers["content-security-policy"]
    assert " style=" not in answer.text


@pytest.mark.skipif(
    not ((MODULES / "html-validate").is_dir() and shutil.which("node")),
    reason="html-validate is not installed (npm): the pages behind links were NOT validated",
)
def test_every_page_is_valid_html(tmp_path: Path) -> None:
    """No error and no warning of html-validate's recommended rules."""
    (tmp_path / ".htmlvalidate.json").write_text(json.dumps({"root": True, **RULES}))
    for name, page in _pages(tmp_path).items():
        (tmp_path / f"{name}.html").write_text(page)
    done = subprocess.run(
        ["node", str(MODULES / "html-validate" / "bin" / "html-validate.mjs"), "-f", "json",
         *sorted(map(str, tmp_path.glob("*.html")))],
        capture_output=True, text=True, check=False, cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode in (0, 1), done.stderr
    assert [
        f"{Path(file['filePath']).name}:{each['line']} {each['ruleId']}: {each['message']}"
        for file in json.loads(done.stdout)
        for each in file["messages"]
    ] == []


@pytest.mark.skipif(
    not ((MODULES / "axe-core").is_dir() and CHROMIUM),
    reason="axe-core (npm) or chromium is not installed: pages behind links were NOT checked",
)
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_every_page_is_accessible_and_fits_a_phone(dark: bool, tmp_path: Path) -> None:
    """No violation of axe at 360 and 800 px, and nothing to scroll sideways."""
    axe = (MODULES / "axe-core" / "axe.min.js").read_text().replace("</script", "<\\/script")
    (tmp_path / "axe.js").write_text(axe)
    frames = []
    for name, page in _pages(tmp_path).items():
        told = page.replace("</head>", f'<script src="axe.js"></script>{PROBE}</head>')
        (tmp_path / f"{name}.html").write_text(told)
        frames += [
            f'<iframe title="{escape(f"{name} at {width}")}" src="{name}.html" width="{width}" '
            'height="900" style="border:0"></iframe>'
            for width in WIDTHS
        ]
    stage = tmp_path / "stage.html"
    stage.write_text(STAGE.format(frames="\n".join(frames), count=len(frames)))
    told_by = _browse(stage, dark=dark)
    assert len(told_by) == len(frames)
    for one in told_by:
        assert one["dark"] is dark
        assert one["violations"] == []
        assert one["wide"] <= 0
        assert "color-contrast" in one["passes"]
