"""What is found of this machine."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from orroom.cli import main
from orroom.record import machine
from orroom.record.machine import disk_kind, examined

MOUNTS = (
    "/dev/sda1 / ext4 rw 0 0\nserver:/x /mnt/theatre nfs4 rw 0 0\n//s/y /mnt/with\\040space cifs rw 0 0\n"
)


def test_the_longest_mount_that_holds_the_folder_is_its_disk():
    assert disk_kind(Path("/home/cases"), MOUNTS) == "ext4"
    assert disk_kind(Path("/mnt/theatre/today"), MOUNTS) == "nfs4"
    assert disk_kind(Path("/mnt/theatre2"), MOUNTS) == "ext4"
    assert disk_kind(Path("/mnt/with space"), MOUNTS) == "cifs"
    assert disk_kind(Path("/"), "") == "unknown"


def test_every_line_is_found_or_advised(tmp_path: Path):
    found = {each.what: each for each in examined(tmp_path, {"TERM": "xterm-256color"})}
    looked_at = "database, disk, disk sync, free space, privacy, clock, terminal, colours, keyboard, NumLock"
    assert set(found) == {*looked_at.split(", "), "log"}
    assert found["colours"].found == "256"
    assert found["disk sync"].found.endswith("ms")
    assert found["terminal"].advice


def test_a_folder_that_is_not_there_is_refused_line_by_line(tmp_path: Path):
    result = CliRunner().invoke(main, ["machine", str(tmp_path / "gone")])
    assert result.exit_code == 3
    assert "Keep no case in" in result.output
    assert "Choose a folder" in result.output
    assert "could not be tried: No such file or directory" in " ".join(result.output.split())
    assert "knows no file locks" not in result.output
    assert list(tmp_path.iterdir()) == []


def test_a_folder_fit_for_cases_passes(tmp_path: Path):
    result = CliRunner().invoke(main, ["machine", str(tmp_path)])
    assert result.exit_code == 0
    assert "Keep no case" not in result.output


@pytest.mark.parametrize("kind", ["nfs4", "tmpfs"])
def test_a_disk_that_may_lose_a_case_is_unfit(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(machine, "disk_kind", lambda folder, mounts: kind)
    result = CliRunner().invoke(main, ["machine", str(tmp_path)])
    assert result.exit_code == 3
    assert f"Keep no case in {tmp_path}: disk." in " ".join(result.output.split())


def test_little_room_fails_the_gate(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(machine, "LITTLE_ROOM", 10**18)
    assert [each.what for each in examined(tmp_path, {}) if each.unfit] == ["free space"]
