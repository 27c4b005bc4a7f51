"""Where the system has no Unix locks and terminals: what works there, and what says that it does not.

The modules that such a system lacks are taken away in a process of its own; what else differs there is not
tried.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from stations import new_case

from orroom.cli import GROUPS
from orroom.record.verify import verify

PLAN = Path(__file__).parents[2] / "sample_cases" / "hairline" / "plan.toml"
WITHOUT = """
import json, sys
for missing in ("fcntl", "termios", "tty", "pty", "resource", "pwd", "grp"):
    sys.modules[missing] = None
from click.testing import CliRunner
from orroom.cli import main
said = [CliRunner().invoke(main, each) for each in json.loads(sys.argv[1])]
print(json.dumps([(each.exit_code, each.output) for each in said]))
"""
NOT_HERE = f"orroom: Screens do not work on this system ({sys.platform}). "


def said_without(commands: Sequence[Sequence[str]], folder: Path) -> list[tuple[int, str]]:
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT, json.dumps(commands)],
        check=True,
        capture_output=True,
        text=True,
        cwd=folder,
    )
    found: list[tuple[int, str]] = json.loads(done.stdout)
    return found


def screens(case: str) -> dict[str, list[str]]:
    """How each verb that opens a screen is called."""
    return {
        "demo": [],
        "practice": [],
        "drill": ["cutting", "--who", "AB"],
        "settings": [],
        "plan": ["new.toml"],
        "start": [],
        "open": [case, "--role", "cutting", "--who", "AB"],
        "revise": [case, "--who", "AB"],
        "replay": [case],
    }


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


def test_a_screen_says_in_a_sentence_that_it_does_not_work_there_and_enters_nothing(
    case: Path, tmp_path: Path
):
    before = verify(case).seal
    commands = [[verb, *rest] for verb, rest in screens(str(case)).items()]
    for command, (code, output) in zip(commands, said_without(commands, tmp_path), strict=True):
        assert (code, NOT_HERE in output) == (1, True), (command, output)
    assert verify(case).seal == before
    assert not list(tmp_path.glob("crash-*"))


def test_what_needs_no_screen_works_there(case: Path, tmp_path: Path):
    works = {
        "check": [str(PLAN)],
        "sheets": [str(PLAN), "--output", "sheets.html"],
        "new": [str(PLAN), "--who", "AB"],
        "status": [str(case)],
        "handover": [str(case)],
        "keys": ["--role", "cutting"],
        "flow": [str(case)],
        "summary": [str(case)],
        "verify": [str(case)],
        "backup": [str(case), "copy.orroom"],
        "export": [str(case), "events.jsonl"],
        "guide": ["it"],
        "machine": [],
    }
    commands = [[verb, *rest] for verb, rest in works.items()]
    for command, (code, output) in zip(commands, said_without(commands, tmp_path), strict=True):
        assert "a fault of its own" not in output, (command, output)
        assert code == 0 or (command == ["machine"] and code == 3), (command, output)
    assert not works.keys() & screens("").keys()
    assert works.keys() | screens("").keys() <= {verb for verbs in GROUPS.values() for verb in verbs}
