"""The screens that README.md shows, painted by the real application from a recorded sample.

``python tests/readme_screens.py`` paints them anew.
"""

from __future__ import annotations

import asyncio
import re
import shutil
import tempfile
from collections.abc import Sequence
from contextlib import ExitStack, chdir
from io import StringIO
from pathlib import Path
from typing import Any, Literal, NamedTuple

from cases import MINUTE_MS, SetClock
from rich.console import Console
from rich.segment import Segment, Segments

from orroom.case.evolve import fold
from orroom.case.terms import Role, Theme
from orroom.desk import Desk
from orroom.formats.narrow import narrowed
from orroom.formats.summary_blocks import blocks_of
from orroom.formats.terminal import OnTerminal
from orroom.record.case_file import CaseFile
from orroom.record.cases import found_cases
from orroom.record.events_file import read_events
from orroom.recording import record_all
from orroom.screens.plan_form.screen import PlanFormScreen, begin
from orroom.screens.replay.screen import ReplayScreen, replay_app
from orroom.screens.start.chosen import Found
from orroom.screens.start.open_menus import Result
from orroom.screens.start.screen import start_app
from orroom.screens.stations.app import OrroomApp
from orroom.screens.stations.station import StationScreen
from orroom.screens.terminal.app import TerminalApp
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.board_screen import BoardScreen
from orroom.summary.summary import summarise

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
SNAPSHOTS = ROOT / "tests" / "snapshots"
SAMPLES = ROOT / "sample_cases"
EVENTS = SAMPLES / "frontal-midscalp" / "events.jsonl"
#: The screens are those of the sample's day at this entry.
ENTRY = 2000
PATIENCE_SECONDS = 60
#: How high the title is that the library puts above a picture, in the picture's units.
BAR = 32
#: What is behind a picture's text where the screen has no colour of its own: the dark theme's.
GROUND = "#101418"


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
    screen: Literal["station", "start", "plan form", "replay", "summary"] = "station"


SHOTS = {
    "cutting": Shot("cutting", "AB", until="run out in"),
    "placing": Shot("placing", "GH", keys=("z", "1", "2")),
    "overview": Shot("overview", "OR", keys=("escape",), until="done ~"),  # a key holds the first page
    "placing-light": Shot("placing", "GH", theme="light", keys=("z", "1", "2")),
    "overview-wall": Shot("overview", "OR", (120, 40), until="probably"),
    "overview-wall-light": Shot("overview", "OR", (120, 40), "light", until="probably"),
    "overview-overdue": Shot("overview", "OR", (120, 40), minutes=25, until="NOBODY PLACING"),
    "cutting-small": Shot("cutting", "AB", (40, 12), until="run out in"),
    "replan": Shot("overview", "RS", keys=("y",), until="→ page"),
    "start": Shot("overview", "", until="two strips", screen="start"),
    "plan-form": Shot("overview", "", keys=("tab",) * 5, screen="plan form"),
    "final-count": Shot("overview", "NP", keys=("k", "1", "2", "enter"), until="FINAL COUNT by AB: 1"),
    "replay": Shot("overview", "", (120, 40), keys=("m",), until="EXPECTED FINISH", screen="replay"),
    "summary": Shot("overview", "", (90, 46), screen="summary"),
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
    if shot.screen == "summary":
        return normalised(in_a_plain_frame(_summary(shot)))
    with tempfile.TemporaryDirectory() as folder, ExitStack() as left:
        app = _app(shot, Path(shutil.copy(case, Path(folder) / case.name)), left)
        async with app.run_test(size=shot.size) as pilot, asyncio.timeout(PATIENCE_SECONDS):
            while isinstance(app.screen, ReplayScreen) and not app.screen.ready:
                await asyncio.sleep(0.05)
            for key in shot.keys:
                await pilot.press(key)
                await asyncio.sleep(0.3)  # a hand's pace: faster is asked about
            while shot.until not in _text(app):
                await asyncio.sleep(0.05)
            await pilot.pause()
            return normalised(in_a_plain_frame(app.export_screenshot()))


def _app(shot: Shot, path: Path, left: ExitStack) -> TerminalApp[Any]:
    """The application of a shot; what it needs is closed with ``left``."""
    match shot.screen:
        case "start":
            for sample in ("hairline", "two-lots"):
                entries = read_events(SAMPLES / sample / "events.jsonl")
                with CaseFile.create(path.with_name(f"{sample}.orroom")) as case_file:
                    record_all(case_file, entries, sample)
            return start_app(
                lambda: Found(found_cases([path.parent]), (), "~/cases"), lambda chosen: Result("")
            )
        case "plan form":
            left.enter_context(chdir(path.parent))  # the form shows where its file is
            shutil.copy(SAMPLES / "frontal-midscalp" / "plan.toml", "plan.toml")
            return BoardApp(PlanFormScreen(*begin(Path("plan.toml"), Path())))
        case "replay":
            return replay_app(left.enter_context(CaseFile.open(path, read_only=True)), shot.role, shot.theme)
    case_file = CaseFile.open(path)
    last_ms = case_file.entries_after(ENTRY - 1)[0].stamp.at_ms
    desk = Desk(case_file, shot.role, shot.who, SetClock(last_ms + round(shot.minutes * MINUTE_MS)))
    left.callback(desk.close)
    return OrroomApp(desk, shot.theme)


def _summary(shot: Shot) -> str:
    """The first lines of the sample's summary, as a terminal shows them."""
    width, height = shot.size
    console = Console(
        width=width, file=StringIO(), record=True, force_terminal=True, color_system="truecolor"
    )
    found = OnTerminal(narrowed(blocks_of(summarise(fold(read_events(EVENTS))))))
    for line in console.render_lines(found, console.options)[:height]:
        console.print(Segments([*line, Segment.line()]), end="")
    return console.export_svg()


def _text(app: TerminalApp[Any]) -> str:
    assert isinstance(app.screen, StationScreen | BoardScreen)
    return app.screen.board.text


def in_a_plain_frame(svg: str) -> str:
    """A picture with a line around it, instead of the library's window with a title and buttons."""
    size = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    assert size, svg[:200]
    width, height = float(size[1]), float(size[2])
    line = f'x="1" y="{BAR + 1}" width="{width - 2:g}" height="{height - BAR - 2:g}"'
    window = r'<rect fill="#292929".*?<g transform="translate\(26,22\)">.*?</g>'
    plain, windows = re.subn(window, f'<rect fill="{GROUND}" stroke="#808080" {line}/>', svg, flags=re.DOTALL)
    assert windows == 1, "the library frames its pictures in another way"
    return plain.replace(size[0], f'viewBox="0 {BAR} {width:g} {height - BAR:g}"')


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
