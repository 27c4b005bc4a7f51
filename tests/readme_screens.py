"""The screens that README.md shows, painted by the real application from a recorded sample.

``python tests/readme_screens.py`` paints them anew.
"""

from __future__ import annotations

import asyncio
import re
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from cases import MINUTE_MS, SetClock

from orroom.case.terms import Role, Theme
from orroom.desk import Desk
from orroom.record.case_file import CaseFile
from orroom.record.events_file import read_events
from orroom.recording import record_all
from orroom.screens.stations.app import OrroomApp
from orroom.screens.stations.station import StationScreen

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
SNAPSHOTS = ROOT / "tests" / "snapshots"
EVENTS = ROOT / "sample_cases" / "frontal-midscalp" / "events.jsonl"
#: The screens are those of the sample's day at this entry.
ENTRY = 2000
PATIENCE_SECONDS = 60


class Shot(NamedTuple):
    """A screen to paint: whose, how large, in which theme, after which keys, so many minutes later.

    It is painted once ``until`` stands on it: what is foretold is worked out beside the screen.
    """

    role: Role
    who: str
    size: tuple[int, int] = (80, 24)
    theme: Theme = "dark"
    keys: Sequence[str] = ()
    minutes: float = 0
    until: str = ""


SHOTS = {
    "cutting": Shot("cutting", "AB"),
    "placing": Shot("placing", "GH", keys=("z", "1", "2")),
    "overview": Shot("overview", "OR", keys=("escape",), until="one more at"),  # a key holds the first page
    "placing-light": Shot("placing", "GH", theme="light", keys=("z", "1", "2")),
    "overview-wall": Shot("overview", "OR", (120, 40), until="on course"),
    "overview-wall-light": Shot("overview", "OR", (120, 40), "light", until="on course"),
    "overview-overdue": Shot("overview", "OR", (120, 40), minutes=25, until="on course"),
    "cutting-small": Shot("cutting", "AB", (40, 12)),
    "replan": Shot("overview", "RS", keys=("y",), until="Space page"),
    "help": Shot("cutting", "ZZ", keys=("u", "f1"), until="was refused"),
}


def sample_case(folder: Path) -> Path:
    """The sample's day up to ``ENTRY`` as a case file in ``folder``."""
    path = folder / "sample.orroom"
    with CaseFile.create(path) as case_file:
        record_all(case_file, read_events(EVENTS)[:ENTRY], str(EVENTS))
    return path


async def painted(shot: Shot, case: Path) -> str:
    """A screen as SVG, painted over a copy of ``case``, which must not be open."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(shutil.copy(case, Path(folder) / case.name))
        case_file = CaseFile.open(path)
        last_ms = case_file.entries_after(ENTRY - 1)[0].stamp.at_ms
        desk = Desk(case_file, shot.role, shot.who, SetClock(last_ms + round(shot.minutes * MINUTE_MS)))
        try:
            app = OrroomApp(desk, shot.theme)
            async with app.run_test(size=shot.size) as pilot:
                for key in shot.keys:
                    await pilot.press(key)
                    await asyncio.sleep(0.3)  # a hand's pace: faster is asked about
                async with asyncio.timeout(PATIENCE_SECONDS):
                    while shot.until not in _text(app):
                        await asyncio.sleep(0.05)
                await pilot.pause()
                return normalised(app.export_screenshot())
        finally:
            desk.close()


def _text(app: OrroomApp) -> str:
    assert isinstance(app.screen, StationScreen)
    return app.screen.board.text


def normalised(svg: str) -> str:
    """An SVG without what differs from one run to the next, or is fetched from elsewhere."""
    svg = re.sub(r"@font-face \{.*?\}\s*", "", svg, flags=re.DOTALL)
    svg = re.sub(r"terminal-\d+", "screen", svg)
    svg = svg.replace("<svg ", '<svg xml:space="preserve" ', 1)  # some viewers drop blanks before a text
    svg = re.sub(r"<!--.*?-->\s*", "", svg, flags=re.DOTALL)
    return "".join(f"{row.rstrip()}\n" for row in svg.splitlines() if row.strip())


def snapshot(name: str) -> Path:
    """Where a picture stands."""
    return SNAPSHOTS / f"{name}.svg"


async def paint_all() -> None:
    """Paint every picture anew."""
    SNAPSHOTS.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        case = sample_case(Path(folder))
        for name, shot in SHOTS.items():
            snapshot(name).write_text(await painted(shot, case), "utf-8")


if __name__ == "__main__":
    asyncio.run(paint_all())
