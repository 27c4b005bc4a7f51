"""The shape of the code: imports run one way, types and style hold, the top level is the agreed one."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import subprocess
import sys
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

import orroom

ROOT = Path(__file__).parent.parent
BIN = Path(sys.executable).parent
#: What every model of a summary rests on, as it rests on the library's.
FOUNDATIONS = {"Part"}


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
    # events.py and commands.py are catalogues: one thing, however many there are of it
    lengths = {path: len(path.read_text("utf-8").splitlines()) for path in (ROOT / "orroom").rglob("*.py")}
    assert {
        str(path): length
        for path, length in lengths.items()
        if length > 350 and path.name not in {"events.py", "commands.py"}
    } == {}


def test_no_modules_import_each_other_in_a_circle():
    """Imports inside functions and for types count too: they only hide a circle. Names in strings do not."""
    paths = {_module_of(path): path for path in (ROOT / "orroom").rglob("*.py")}
    imports = {name: _imports(path, set(paths)) - {name} for name, path in paths.items()}
    try:
        TopologicalSorter(imports).prepare()
    except CycleError as circle:
        pytest.fail(" → ".join(circle.args[1]))


def _module_of(path: Path) -> str:
    *folders, name = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(folders if name == "__init__" else [*folders, name])


def _imports(path: Path, modules: set[str]) -> set[str]:
    named = set[str]()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            named |= {each.name for each in node.names}
        elif isinstance(node, ast.ImportFrom):
            inside = {f"{node.module}.{each.name}" for each in node.names}
            named |= inside & modules or {str(node.module)}
    return named & modules


def test_no_class_has_more_than_two_of_ours_above_it():
    tall = {}
    for module in pkgutil.walk_packages(orroom.__path__, "orroom."):
        if module.name.endswith("__main__"):
            continue
        for _, kind in inspect.getmembers(importlib.import_module(module.name), inspect.isclass):
            above = [each.__name__ for each in kind.__mro__[1:] if each.__module__.startswith("orroom")]
            if kind.__module__ == module.name and len(set(above) - FOUNDATIONS) > 2:
                tall[kind.__qualname__] = above
    assert tall == {}


def test_a_station_loads_what_lies_over_its_screen_when_that_is_first_opened():
    loads = "import sys, orroom.screens.stations.app, orroom.screens.stations.overview; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", loads], capture_output=True, text=True, check=True).stdout
    over = {each for each in loaded.split() if each.startswith("orroom.screens.stations.over.")}
    assert {each.rpartition(".")[2] for each in over} == {"overlay", "opened_by", "asking"}
    assert "orroom.figures.pace.rest_of_day" not in loaded.split()
