"""A case in a folder that a group shares: each of the group's accounts may write to it, nobody else may."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from stations import entered, new_case, read_case, station

from orroom.case import commands as c
from orroom.cli import main
from orroom.files.rights import is_shared
from orroom.record.machine import examined
from orroom.record.rescue import write_rescue
from orroom.record.verify import verify

PLAN = Path(__file__).parents[2] / "sample_cases" / "hairline" / "plan.toml"
#: Accounts and a group that need not have a name.
FIRST, SECOND, OUTSIDER, GROUP = 64_101, 64_102, 64_103, 64_100


@pytest.fixture(params=[0o077, 0o022, 0o002], ids=lambda mask: f"umask {mask:03o}")
def any_umask(request: pytest.FixtureRequest) -> Iterator[None]:
    """Whatever an account sets: what a folder has counts."""
    before = os.umask(request.param)
    yield
    os.umask(before)


def shared(folder: Path) -> Path:
    folder.mkdir()
    folder.chmod(0o2770)
    return folder


def modes(folder: Path) -> dict[str, int]:
    return {each.name: stat.S_IMODE(each.stat().st_mode) for each in sorted(folder.iterdir())}


def run(*arguments: object) -> None:
    done = CliRunner().invoke(main, list(map(str, arguments)))
    assert done.exit_code == 0, done.output


@pytest.mark.usefixtures("any_umask")
@pytest.mark.parametrize("by_group", [True, False])
def test_all_of_a_case_is_its_owners_or_its_groups(
    by_group: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    room = tmp_path / "room"
    room.mkdir(mode=0o700)
    if by_group:
        room.chmod(0o2770)
    monkeypatch.chdir(room)
    run("new", PLAN, "--who", "AB")
    folder = room / "DEMO-0112"
    case = folder / "DEMO-0112.orroom"
    file = 0o660 if by_group else 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == (0o2770 if by_group else 0o700)
    with station(case) as desk:
        entered(desk, c.CutGrafts(harvest="A", size="2"))
        for ending in ("", "-wal", "-shm", ".turn", ".seal"):
            assert stat.S_IMODE(case.with_name(f"{case.name}{ending}").stat().st_mode) == file, ending
    run("summary", case, "--format", "html", "--output", room / "summary.html")
    run("backup", case, room / "copy.orroom")
    write_rescue(room / "copy.orroom", "DEMO-0112", [])
    assert {mode for name, mode in modes(room).items() if "." in name} == {file}
    run(
        "sign-off", case, "--who", "AB", "--second", "CD", "--open-because", "not counted", "--informed", "RS"
    )
    (locked,) = (mode for name, mode in modes(folder).items() if "sealed" in name and name.endswith("orroom"))
    assert locked == file & 0o440


def test_a_folder_is_shared_only_where_its_group_keeps_what_is_made_in_it(tmp_path: Path):
    for mode in (0o700, 0o770, 0o777, 0o2750, 0o1777):
        tmp_path.chmod(mode)
        assert not is_shared(tmp_path)
    tmp_path.chmod(0o2770)
    assert is_shared(tmp_path)
    assert not is_shared(tmp_path / "none")


@pytest.mark.parametrize(
    ("mode", "words"),
    [
        (0o700, "only its owner can look"),
        (0o2770, "a group shares this folder and its cases; others cannot"),
        (0o2775, "other users can look"),
        (0o770, "other users can look"),
    ],
)
def test_the_machines_check_says_who_can_look_into_a_folder(mode: int, words: str, tmp_path: Path):
    tmp_path.chmod(mode)
    (privacy,) = (each for each in examined(tmp_path, {}) if each.what == "privacy")
    assert privacy.found.startswith(words)


#: Enters a graft as another account. All that it needs is loaded first: the account may not look where it is.
AS_ANOTHER: str = """
import os, sys
from pathlib import Path
from stations import entered, read_case, station
from orroom.case import commands as c
from orroom.errors import OrroomError
def enter(case):
    with station(case) as desk:
        entered(desk, c.CutGrafts(harvest="A", size="2"))
        return desk.state.tally.held("cut", "2")
rehearsal, case, account, group = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4])
enter(rehearsal)
os.umask(0o077)
os.setgroups([group] if group else [])
os.setgid(account)
os.setuid(account)
try:
    print(enter(case))
except OrroomError as refused:
    print(refused)
"""


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only the superuser can act as two accounts"
)
def test_two_accounts_of_a_group_write_to_one_case_and_a_third_does_not():
    top = Path(tempfile.mkdtemp())  # pytest's own folders are closed to others
    try:
        top.chmod(0o755)
        room = shared(top / "room")
        os.chown(room, FIRST, GROUP)
        room.chmod(0o2770)
        case = new_case(room / "case.orroom")
        os.chown(case, FIRST, GROUP)
        rehearsal = new_case(top / "rehearsal.orroom")

        def said_by(account: int, group: int) -> str:
            code = [sys.executable, "-c", AS_ANOTHER, rehearsal, case, account, group]
            paths = os.pathsep.join(each for each in sys.path if each)
            done = subprocess.run(
                list(map(str, code)),
                check=False,
                capture_output=True,
                text=True,
                env={**os.environ, "PYTHONPATH": paths},
            )
            assert done.returncode == 0, done.stderr
            return done.stdout.strip()

        with station(case) as desk:  # the files next to the case are there already, and somebody else's
            entered(desk, c.CutGrafts(harvest="A", size="2"))
            assert said_by(FIRST, GROUP) == "2"
        assert said_by(SECOND, GROUP) == "3"
        assert said_by(FIRST, GROUP) == "4"
        assert "cannot be read" in said_by(OUTSIDER, 0)
        assert verify(case).intact
        assert read_case(case).tally.held("cut", "2") == 4
    finally:
        shutil.rmtree(top)
