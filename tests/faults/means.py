"""Means to harm a running station: strace, a small disk, another clock. A machine without them skips."""

from __future__ import annotations

import multiprocessing
import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from multiprocessing.context import ForkServerProcess
from pathlib import Path

import pytest
from faults.tapper import Orders, tap

_FAKETIME = next(
    (
        found
        for pattern in ("lib*/*/faketime", "lib*/faketime", "local/lib/faketime")
        for found in Path("/usr").glob(f"{pattern}/libfaketimeMT.so.1")
    ),
    None,
)

needs_strace = pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")
needs_root = pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk")
needs_faketime = pytest.mark.skipif(_FAKETIME is None, reason="libfaketime is not installed")

PATIENCE = 60.0
#: What Python says where another thread that started a process read the exit code, which can be read once.
EXIT_CODE_LOST = 255

#: New processes are forked from one that has the program loaded, so that a try takes no start-up.
START = multiprocessing.get_context("forkserver")
START.set_forkserver_preload(["__main__", "faults.tapper", "orroom.desk", "orroom.record.case_file"])


@contextmanager
def tapping(orders: Orders, *strace: str) -> Iterator[ForkServerProcess]:
    """A process that taps, under ``strace`` with these options if any are given; it ends with the block."""
    begin = START.Event()
    process = START.Process(target=tap, args=(orders, begin))
    process.start()
    with ExitStack() as ending:
        ending.callback(process.join)
        ending.callback(process.kill)
        if strace:
            ending.enter_context(_watched(process.pid, *strace))
            ending.callback(process.kill)  # strace ends when nobody is left to watch
        begin.set()
        yield process


@contextmanager
def _watched(pid: int, *options: str) -> Iterator[None]:
    command = ["strace", "-f", "-p", str(pid), *options]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as watcher:
        said = watcher.stderr.readline()
        if "attached" not in said:
            watcher.kill()
            pytest.skip(f"strace may not watch a process here: {said.strip()}")
        yield


def finished(process: ForkServerProcess) -> None:
    """Wait until a process has done all that it was ordered to do; its test looks at what it did."""
    process.join(PATIENCE)
    assert process.exitcode in {0, EXIT_CODE_LOST}, process.exitcode


@contextmanager
def small_disk(folder: Path, size: str = "1m") -> Iterator[Path]:
    """A disk of this size at ``folder``."""
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", folder],
        check=False,
        capture_output=True,
        text=True,
    )
    if mounted.returncode:
        pytest.skip(f"a small disk cannot be mounted here: {mounted.stderr.splitlines()[0]}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", folder], check=True)


def under_another_clock(offset: Path) -> dict[str, str]:
    """The environment of a process whose wall clock is off by what the file ``offset`` says."""
    return {
        **os.environ,
        "LD_PRELOAD": str(_FAKETIME),
        "FAKETIME_TIMESTAMP_FILE": str(offset),
        "FAKETIME_NO_CACHE": "1",
        "DONT_FAKE_MONOTONIC": "1",
    }


def set_clock(offset: Path, hours: int) -> None:
    """Set the wall clock of processes under ``offset``, in one step."""
    new = offset.with_suffix(".new")
    new.write_text(f"{hours:+d}h\n")
    new.replace(offset)
