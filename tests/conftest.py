"""What all tests share."""

from __future__ import annotations

import importlib
import os
import sys
import tempfile
from pathlib import Path

# The tests start hundreds of processes: each would compile the program anew where no bytecode may be kept.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# What the tests' programs log is no part of this person's log.
os.environ["ORROOM_LOGS"] = str(Path(tempfile.gettempdir(), "orroom-test-logs"))

from collections import Counter
from collections.abc import Iterator
from itertools import count

import fault_table
import pytest
from cases import Record, case_under_way, opened_case
from hypothesis import HealthCheck, settings

# It loads pandas and numpy where they are, for values of theirs: no case file gets any, few tests need them.
with pytest.MonkeyPatch.context() as without:
    for each in ("numpy", "pandas"):
        without.setitem(sys.modules, each, None)
    importlib.import_module("sqlite_utils")

# A busy machine makes a slow example no wrong one. The same examples each time, so that a red run means the
# change; "--hypothesis-profile=wander" looks for new ones.
settings.register_profile(
    "orroom", deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True, database=None
)
settings.register_profile("wander", settings.get_profile("orroom"), derandomize=False)
settings.register_profile("quick", settings.get_profile("orroom"), max_examples=10)
settings.load_profile("orroom")

#: The rooms of ``pytest -m quick``: what is true, what it adds up to and what is recorded, without a screen.
QUICK = ("case", "figures", "record")
#: Left out of them: these solve, draw, simulate many days, ask a library of statistics, wait for other
#: processes or open a screen.
NOT_QUICK = (
    *("case_times", "course", "dividing", "donor", "existing_hair", "finish", "forecast", "mixing"),
    *("flow", "next_zone", "out_by_size_and_zone", "quality", "recount", "replan", "shapes", "shares"),
    *("survival", "work_hours", "write_ahead", "yields"),
)
TESTS = Path(__file__).parent


def pytest_configure(config: pytest.Config) -> None:
    if config.option.markexpr == "quick":
        settings.load_profile("quick")


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """The quick set does not even import what is not of it; ``None`` leaves it to other rules."""
    elsewhere = collection_path.parent == TESTS and collection_path.name not in QUICK
    left_out = elsewhere or collection_path.stem.removeprefix("test_") in NOT_QUICK
    return (config.option.markexpr == "quick" and left_out) or None


@pytest.fixture(scope="session")
def settings_folders(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder for each test: where the factory makes thousands, it looks through all before each."""
    folder = tmp_path_factory.mktemp("settings")
    return (folder / str(number) for number in count())


@pytest.fixture(autouse=True)
def settings_file(settings_folders: Iterator[Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where settings are while a test runs: in no file yet, and never in somebody's own."""
    path = next(settings_folders) / "settings.toml"
    path.parent.mkdir()
    monkeypatch.setenv("ORROOM_SETTINGS", str(path))
    return path


@pytest.fixture
def record() -> Record:
    """A record that holds only its opening."""
    return opened_case()


@pytest.fixture
def under_way() -> Record:
    """A record of a case in which harvest A was harvested an hour ago and 95 grafts wait in dishes."""
    return case_under_way()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files with many tests first, as the processes take them; before all, two tests of a minute of waiting.

    Begun last, they would leave the other processes without work.
    """
    for item in items:
        if item.path.parent.name in QUICK and item.path.stem.removeprefix("test_") not in NOT_QUICK:
            item.add_marker("quick")
    tests = Counter(item.path for item in items)
    items.sort(key=lambda item: (item.path.name != "test_whole_day.py", -tests[item.path]))


# The table of faults. A process that runs a part of the tests hands its own over at its end.


def pytest_sessionfinish(session: pytest.Session) -> None:
    if hasattr(session.config, "workeroutput"):
        table = session.config.stash.get(fault_table.TABLE, {})
        session.config.workeroutput["faults"] = {fault: dict(counts) for fault, counts in table.items()}


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: object) -> None:
    config: pytest.Config = node.config  # type: ignore[attr-defined]
    for fault, counts in getattr(node, "workeroutput", {}).get("faults", {}).items():
        fault_table.noted(config, fault, counts)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if lines := fault_table.told(config):
        terminalreporter.section("faults")
        for each in lines:
            terminalreporter.write_line(each)
