"""The shape of the house: sizes, layers, the wheel, and what a start loads."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "service" / "mebuki"
MODULES = sorted(PACKAGE.rglob("*.py"))
MODULE_LINES = 300
FUNCTION_LINES = 60
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml",
    "service", "tests", "config", "deploy",
}  # fmt: skip
GRAB_BAGS = {"utils", "helpers", "common", "misc", "base", "manager", "managers", "models", "core"}


def _tracked() -> list[str]:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode != 0:
        pytest.skip("not a git checkout: the tracked files cannot be listed")
    return listed.stdout.splitlines()


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_module_is_short_and_named_after_a_thing(module: Path) -> None:
    """No module is longer than 300 lines or named as a grab-bag."""
    assert len(module.read_text("utf-8").splitlines()) <= MODULE_LINES
    assert module.stem not in GRAB_BAGS


def _functions(tree: ast.AST) -> list[ast.FunctionDef | ast.AsyncFunctionDef]:
    return [
        node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]


def test_functions_are_short() -> None:
    """No function body, without its docstring, is longer than 60 lines."""
    long = []
    for module in MODULES:
        for function in _functions(ast.parse(module.read_text("utf-8"))):
            body = function.body[1:] if ast.get_docstring(function) else function.body
            if body and (body[-1].end_lineno or 0) - body[0].lineno + 1 > FUNCTION_LINES:
                long.append(f"{module.name}:{function.name}")
    assert long == []


def test_the_layers_hold() -> None:
    """The import contracts of pyproject.toml are kept."""
    done = subprocess.run(
        [str(Path(sys.executable).with_name("lint-imports")), "--no-cache"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout


def test_the_top_level_holds_what_was_agreed_and_no_more() -> None:
    """Top-level names are the agreed ones and dotfiles."""
    tops = {name.split("/")[0] for name in _tracked()}
    assert {name for name in tops if not name.startswith(".")} == TOP_LEVEL


def test_the_help_loads_no_pandas() -> None:
    """The command line starts without the slow libraries."""
    code = (
        "import sys; from mebuki.cli.main import main\n"
        "sys.argv = ['mebuki', '--help']\n"
        "try: main()\nexcept SystemExit: pass\n"
        "heavy = {'pandas', 'icalendar', 'vl_convert', 'starlette', 'uvicorn', 'apscheduler'}\n"
        "found = heavy & set(sys.modules)\n"
        "sys.exit(f'loaded: {found}' if found else 0)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "demo" in done.stdout


def test_the_wheel_carries_the_rule_files(tmp_path: Path) -> None:
    """A built wheel holds exactly the tracked files of config/ as mebuki/_config."""
    tracked = {name.removeprefix("config/") for name in _tracked() if name.startswith("config/")}
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=ROOT, capture_output=True, check=True,
    )  # fmt: skip
    (wheel,) = tmp_path.glob("*.whl")
    names = zipfile.ZipFile(wheel).namelist()
    carried = {name.removeprefix("mebuki/_config/") for name in names if "/_config/" in name}
    assert carried == tracked
    assert not [name for name in names if name.startswith("tests/")]


def test_the_version_is_the_top_entry_of_the_changelog() -> None:
    """The package's version and the newest changelog heading agree."""
    version = re.search(r'__version__ = "(.+)"', (PACKAGE / "__init__.py").read_text("utf-8"))
    heading = re.search(r"^## (\S+)", (ROOT / "CHANGELOG.md").read_text("utf-8"), re.MULTILINE)
    assert version is not None
    assert heading is not None
    assert version[1] == heading[1]


def test_no_file_tells_an_address_of_a_registry_or_a_path_of_one_machine() -> None:
    """Constraints and scripts hold versions only."""
    for name in _tracked():
        if name.startswith(("deploy/", ".ci/")) or name == "pyproject.toml":
            text = (ROOT / name).read_text("utf-8")
            assert not re.search(r"index-url|find-links|/simple/|/root/|/home/", text), name


@pytest.mark.parametrize(
    "module", sorted((PACKAGE / "season").glob("[a-z]*.py")), ids=lambda p: p.stem
)
def test_the_science_names_its_sources(module: Path) -> None:
    """Each season module names the publications (or says default) it rests on."""
    text = module.read_text("utf-8")
    assert re.search(r"References\n\s*-{3,}|\(\d{4}\)|\b(19|20)\d\d\b|default", text)
