"""What support gets: what ran and where it failed, never what somebody entered."""

from __future__ import annotations

import re
import stat
from pathlib import Path

import pytest
from click.testing import CliRunner
from textual.app import App

from orroom import support
from orroom.cli import main
from orroom.screens.terminal.app import TerminalApp

PATIENT = "JANEDOE"


@pytest.fixture(autouse=True)
def logs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("ORROOM_LOGS", str(tmp_path / "logs"))
    support.begin(debug=False)
    return tmp_path / "logs"


def written(logs: Path) -> str:
    return "\n".join(each.read_text("utf-8") for each in logs.iterdir())


def test_the_log_has_the_verb_and_the_versions_and_no_word_that_was_typed(logs: Path):
    CliRunner().invoke(main, ["status", f"{PATIENT}.orroom"])
    text = (logs / support.NAME).read_text("utf-8")
    assert re.search(r"INFO begins: status; orroom \S+, Python \S+, SQLite \S+", text)
    assert "INFO refused: CaseFileError" in text
    assert "INFO ends: status" in text
    assert PATIENT not in text


def test_the_log_is_for_its_owner_alone(logs: Path):
    CliRunner().invoke(main, ["schema"])
    assert stat.S_IMODE((logs / support.NAME).stat().st_mode) == 0o600


def test_a_large_log_is_begun_again_and_the_one_before_it_kept(logs: Path, monkeypatch: pytest.MonkeyPatch):
    CliRunner().invoke(main, ["schema"])
    monkeypatch.setattr(support, "LARGEST", 10)
    CliRunner().invoke(main, ["status", "none.orroom"])
    assert "schema" in (logs / f"{support.NAME}.1").read_text("utf-8")
    assert "schema" not in (logs / support.NAME).read_text("utf-8")


@pytest.mark.parametrize("debug", [False, True])
def test_debug_logs_more(debug: bool, logs: Path):
    support.begin(debug=debug)
    support.LOG.debug("looked late")
    assert ("DEBUG looked late" in (logs / support.NAME).read_text("utf-8")) is debug


def test_where_no_log_can_be_written_all_works_without(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("ORROOM_LOGS", str(tmp_path / "file" / "logs"))
    result = CliRunner().invoke(main, ["schema"])
    assert result.exit_code == 0
    assert support.keep_crash(ValueError()) is None
    assert "could not be written" in str(support.Crash(ValueError()))


def test_a_fault_of_a_verb_says_where_what_support_needs_is(logs: Path, monkeypatch: pytest.MonkeyPatch):
    def fail(*_: object, **__: object) -> None:
        raise KeyError(PATIENT)

    monkeypatch.setattr("orroom.record.opening.find", fail)
    result = CliRunner().invoke(main, ["status", f"{PATIENT}.orroom"])
    assert result.exit_code == 1
    [crash] = logs.glob("crash-*.txt")
    assert f"a fault of its own (KeyError). What support needs is in {crash}." in result.output
    assert "Traceback" not in result.output
    assert "test_support.py" in crash.read_text("utf-8")
    assert PATIENT not in written(logs)


def test_a_fault_of_a_verb_is_shown_whole_with_debug(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("orroom.record.opening.find", lambda *_, **__: 1 / 0)
    result = CliRunner().invoke(main, ["--debug", "status", "case.orroom"])
    assert isinstance(result.exception, ZeroDivisionError)


async def test_a_fault_of_a_screen_says_so_and_shows_no_value(logs: Path, capsys: pytest.CaptureFixture[str]):
    class Failing(TerminalApp[None]):
        def on_mount(self) -> None:
            raise ValueError(PATIENT)

    app: App[None] = Failing("dark")
    await app.run_async(headless=True)
    shown = " ".join(capsys.readouterr().err.split())
    assert app.return_code == 1
    assert "a fault of its own (ValueError)" in shown
    assert "open the station again" in shown
    assert PATIENT not in shown + written(logs)
