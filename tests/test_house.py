"""The shape of the house: layers are import-linter's, sizes, names and words are held here."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parent.parent
SOURCES = sorted(
    path
    for folder in ("service", "labels", "scenario")
    for path in (ROOT / folder).rglob("*.py")
    if "migrations/versions" not in path.as_posix()
)
LINES_MAX = 380
FUNCTION_LINES_MAX = 60
VAGUE = {"utils", "util", "helpers", "helper", "common", "misc", "manager", "data", "info"}


def _tracked() -> list[str]:
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard"], cwd=ROOT, capture_output=True, text=True
    )
    return listed.stdout.split("\n")[:-1]


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_a_file_says_what_it_is_and_stays_small(path: Path) -> None:
    """A file opens with what it is, is not too long, and bears a name that says something."""
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)

    assert ast.get_docstring(tree) or not text.strip()
    assert text.count("\n") <= LINES_MAX
    assert path.stem not in VAGUE


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_functions_stay_small_and_swallow_nothing(path: Path) -> None:
    """No function is too long, and no broad exception is caught and passed over."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            length = (node.end_lineno or node.lineno) - node.lineno + 1
            assert length <= FUNCTION_LINES_MAX, f"{node.name} has {length} lines"
        if isinstance(node, ast.ExceptHandler):
            passed_over = all(isinstance(s, ast.Pass) for s in node.body)
            assert node.type is not None, f"line {node.lineno} catches everything"
            assert not passed_over, f"line {node.lineno} swallows an exception"


def test_the_pure_folders_hold_no_clock_and_open_no_file() -> None:
    """The rules are handed the time and their data: they call no clock and read no file."""
    banned = re.compile(r"datetime\.now\(|time\.time\(|utcnow\(|\bopen\(|read_text\(|os\.environ")
    for folder in ("custody", "ledger", "access", "treatment", "statistics", "planning"):
        for path in (ROOT / "service" / folder).rglob("*.py"):
            found = banned.search(path.read_text(encoding="utf-8"))
            assert found is None, f"{path.name}: {found and found[0]}"


def test_the_ledger_rests_on_two_third_parties() -> None:
    """Who checks a record offline has the rules, pydantic and cryptography to trust, no more."""
    allowed = {"service.custody", "service.ledger", "pydantic", "cryptography"}
    allowed |= sys.stdlib_module_names
    for path in (ROOT / "service" / "ledger").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            for name in names:
                parts = name.split(".")
                assert {parts[0], ".".join(parts[:2])} & allowed, f"{path.name} imports {name}"


def test_only_the_settings_read_the_environment() -> None:
    """The environment is read in one place."""
    readers = [
        path.relative_to(ROOT).as_posix()
        for path in SOURCES
        if re.search(r"os\.environ|getenv\(|BaseSettings", path.read_text(encoding="utf-8"))
    ]
    assert readers == ["service/settings.py"]


def test_the_top_level_is_the_plan() -> None:
    """Nothing stands at the top level but what the plan of the house names."""
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "service", "labels", "tests"}
    allowed |= {"scenario", "docs", "LICENSE"}
    top = {name.split("/")[0] for name in _tracked()}

    assert {name for name in top if not name.startswith(".")} <= allowed


def _commands(group: Any, before: str) -> Iterator[str]:
    """Every command as it is typed, those of groups behind the group's name."""
    for command in group.registered_commands:
        yield before + (command.name or command.callback.__name__).rstrip("_").replace("_", "-")
    for inner in group.registered_groups:
        yield from _commands(inner.typer_instance, f"{before}{inner.name} ")


def test_every_code_every_kind_and_every_command_is_documented() -> None:
    """The docs name each violation, each kind of event, each regime and each command."""
    from service.cli import app
    from service.custody.events import KINDS
    from service.custody.verdict import Code
    from service.regimes.load import available

    docs = "\n".join(p.read_text(encoding="utf-8") for p in (ROOT / "docs").rglob("*.md"))
    docs += (ROOT / "README.md").read_text(encoding="utf-8")
    commands = list(_commands(app, ""))
    words = [f"`{code.value}`" for code in Code]
    words += [f"`{kind.model_fields['kind'].default}`" for kind in KINDS]
    words += [f"`custody {name}" for name in commands]
    words += [f"`{regime}`" for regime in available()]

    assert [word for word in words if word not in docs] == []
