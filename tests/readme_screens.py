"""The screens that README.md shows, painted from a recorded sample.

``python tests/readme_screens.py`` writes them anew.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from orroom.case.evolve import fold
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.figures.foretold import foretold
from orroom.record.events_file import read_events
from orroom.screens.views.cutting import cutting_lines
from orroom.screens.views.frame import Glance
from orroom.screens.views.overview import overview_lines
from orroom.screens.views.painting import Line, text_of
from orroom.screens.views.placing import placing_lines

Painter = Callable[[CaseState, int, Glance], list[Line]]

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
EVENTS = ROOT / "sample_cases" / "frontal-midscalp" / "events.jsonl"
ENTRY = 2000

PAINTERS: dict[Role, tuple[Painter, str]] = {
    "cutting": (cutting_lines, "AB"),
    "placing": (placing_lines, "GH"),
    "overview": (overview_lines, "OR"),
}
_BLOCK = re.compile(r"(<!-- screen: (\w+) -->\n```\n)(.*?)(```\n)", re.DOTALL)


def painted(role: Role) -> str:
    """A role's screen at 80×24 as it was at entry ``ENTRY``, as text."""
    state = fold(read_events(EVENTS)[:ENTRY])
    now_ms = state.log[-1].stamp.at_ms
    paint, who = PAINTERS[role]
    known = foretold(state, now_ms) if role == "overview" else None
    glance = Glance(role=role, who=who, zone=5, size=1, foretold=known)
    return "".join(f"{text_of(each).rstrip()}\n" for each in paint(state, now_ms, glance))


def screens() -> dict[str, str]:
    """Every screen that README.md shows."""
    return {role: painted(role) for role in PAINTERS}


def shown(text: str) -> dict[str, str]:
    """The screens that a README's text shows."""
    return {role: block for _, role, block, _ in _BLOCK.findall(text)}


if __name__ == "__main__":
    anew = screens()
    old = README.read_text("utf-8")
    README.write_text(_BLOCK.sub(lambda m: m[1] + anew[m[2]] + m[4], old), "utf-8")
