"""The shape of the code: imports run one way, types and style hold, the top level is the agreed one."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
BIN = Path(sys.executable).parent


@pytest.mark.parametrize(
    "command",
    [
        ["lint-imports", "--no-cache"],
        ["ruff", "check", "--no-cache", "."],
        ["ruff", "format", "--no-cache", "--check", "."],
        ["mypy", "--no-error-summary"],
    ],
    ids=lambda command: " ".join(command[:2]),
)
def test_the_tools_find_nothing(command: list[str]):
    result = subprocess.run(
        [BIN / command[0], *command[1:]], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert result.returncode == 0, result.stdout + result.stderr


def test_the_top_level_is_the_agreed_one():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout")
    top = {name.split("/")[0] for name in listed.stdout.splitlines()}
    agreed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "orroom", "tests", "sample_cases"}
    assert {name for name in top if not name.startswith(".")} <= agreed


def test_modules_stay_small_enough_to_hold_in_the_head():
    # events.py is a catalogue: one thing, however many events there are
    lengths = {path: len(path.read_text("utf-8").splitlines()) for path in (ROOT / "orroom").rglob("*.py")}
    assert {
        str(path): length for path, length in lengths.items() if length > 350 and path.name != "events.py"
    } == {}
